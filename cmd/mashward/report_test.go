package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestDryrunWritesAReportBesideWhatItPrints(t *testing.T) {
	path := filepath.Join(t.TempDir(), "day.html")
	with, without := mashward("dryrun", "--rig", yard, "--report", path, brew), mashward("dryrun", "--rig", yard, brew)
	if with.code != 0 || with != without {
		t.Errorf("with a report: %+v", with)
	}
	page, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"<title>SIMULATED: Rye, four rests</title>", "Profile: rye-four-rests.yaml", "Rig: yard-kettle.yaml",
		"Seed of chance: 1", "Program: mashward", "# strike temperature is computed", "Finished after",
		"How the forecasts did", " for the finish; it was ",
	} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the report lacks %q", want)
		}
	}
	if strings.Contains(string(page), "testdata") {
		t.Error("the report tells where the files lie on this machine")
	}
}

func TestDryrunReportsAFaultyDayAndStillEndsWithOne(t *testing.T) {
	path := filepath.Join(t.TempDir(), "day.html")
	got := mashward("dryrun", "--rig", yard, "--faults", samples+"faults/example.yaml", "--person-delay", "5 min", "--report", path, brew)
	if got.code != 1 {
		t.Errorf("exit code %d", got.code)
	}
	page, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Not finished", "Faults put in on purpose: example.yaml", "Each prompt was answered after 5 min."} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the report lacks %q", want)
		}
	}
}

func TestDryrunSaysWhenTheReportCannotBeWritten(t *testing.T) {
	got := mashward("dryrun", "--rig", yard, "--report", filepath.Join(t.TempDir(), "nowhere", "day.html"), brew)
	if got.code == 0 || !strings.Contains(got.err, "the report cannot be written") {
		t.Errorf("%+v", got)
	}
}
