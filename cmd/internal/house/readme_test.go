package house

import (
	"go/ast"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/notice"
	"mashward/profile"
	"mashward/profile/strict"
	"mashward/sim/fault"
)

// block is one fenced block of a page: ```language name
type block struct{ language, name, text string }

var fence = regexp.MustCompile("(?ms)^```([a-z]+) ?(\\S*)\\n(.*?)^```$")

func blocks(t *testing.T, page string) []block {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(top, page))
	if err != nil {
		t.Fatal(err)
	}
	var all []block
	for _, m := range fence.FindAllStringSubmatch(string(text), -1) {
		all = append(all, block{m[1], m[2], m[3]})
	}
	return all
}

func TestTheSamplesOfTheReadmeAreGood(t *testing.T) {
	parsed := 0
	for _, b := range blocks(t, "README.md") {
		if b.language != "yaml" {
			continue
		}
		var faults []strict.Fault
		switch strings.Fields(b.text)[0] {
		case "profile:":
			_, faults = profile.Parse(b.name, []byte(b.text))
			if lines := strings.Count(b.text, "\n"); lines > 10 {
				t.Errorf("the first profile has %d lines, not ten", lines)
			}
		case "rig:":
			_, faults = config.ParseRig(b.name, []byte(b.text))
		case "faults:":
			_, faults = fault.Parse(b.name, []byte(b.text))
		case "notify:":
			_, faults = notice.Parse(b.name, []byte(b.text))
		default:
			t.Errorf("what is this?\n%s", b.text)
		}
		for _, f := range faults {
			t.Error(f)
		}
		parsed++
	}
	if parsed != 4 {
		t.Errorf("%d samples were parsed; a profile, a rig, a notify file and a fault script are there", parsed)
	}
}

// The commands of the README, in their order, in a folder with its samples.
func TestScenarioTheCommandsOfTheReadmeWork(t *testing.T) {
	p := build(t)
	whole, err := filepath.Abs(filepath.Join(top, "testdata"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(whole, filepath.Join(p.folder, "testdata")); err != nil {
		t.Fatal(err)
	}
	ran := 0
	for _, b := range blocks(t, "README.md") {
		if b.language == "yaml" {
			p.write(b.name, b.text)
			continue
		}
		for line := range strings.Lines(b.text) {
			line = strings.TrimSpace(line)
			words, ours := strings.CutPrefix(line, "go run ./cmd/mashward ")
			switch {
			case ours && words == "demo":
				p.must(0, "demo", "--speed", "0") // the same day, only nobody watches
			case ours && strings.HasPrefix(words, "serve "):
				p.serving(append(strings.Fields(words), "--listen", "127.0.0.1:0"), whatServes(t))
			case ours:
				a := p.must(0, strings.Fields(words)...)
				// An export tells there how it went, a bundle what to read before it is given away.
				if a.err != "" && !strings.Contains(words, "--export") && !strings.HasPrefix(words, "record bundle ") {
					t.Errorf("%s says\n%s", line, a.err)
				}
			case line == "bash deploy/check.sh":
				if _, err := os.Stat(filepath.Join(top, "deploy/check.sh")); err != nil {
					t.Error(err)
				}
			case strings.HasPrefix(line, "go build "):
				p.make(line)
			default:
				t.Errorf("nobody tests the command %q", line)
			}
			ran++
		}
	}
	if ran < 18 {
		t.Errorf("only %d commands found in README.md", ran)
	}
}

func TestTheFirstTwoCommandsAreTheJobAndTheTests(t *testing.T) {
	var commands []string
	for _, b := range blocks(t, "README.md") {
		if b.language == "sh" {
			commands = append(commands, strings.TrimSpace(b.text))
		}
	}
	if len(commands) < 2 || commands[0] != "go run ./cmd/mashward demo" || commands[1] != "bash deploy/check.sh" {
		t.Errorf("the README begins with %q", commands)
	}
}

func TestDevelopersKnowsEveryPackageAndDependency(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(top, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range policy {
		if !r.coming && !strings.Contains(string(text), "`"+r.path+"`") {
			t.Errorf("DEVELOPERS.md does not name %s", r.path)
		}
	}
	mod, err := os.ReadFile(filepath.Join(top, "go.mod"))
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range regexp.MustCompile(`(?m)^(?:require )?\s*(\S+\.\S+/?\S*) v\S+$`).FindAllStringSubmatch(string(mod), -1) {
		if !strings.Contains(string(text), "`"+m[1]+"`") {
			t.Errorf("DEVELOPERS.md gives no reason for %s", m[1])
		}
	}
}

func TestLinksBetweenPagesLeadSomewhere(t *testing.T) {
	link := regexp.MustCompile(`\]\(([^)#]+)[^)]*\)`)
	for _, page := range []string{"README.md", "DEVELOPERS.md", "SAFETY.md"} {
		text, err := os.ReadFile(filepath.Join(top, page))
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range link.FindAllStringSubmatch(string(text), -1) {
			if strings.Contains(m[1], ":") {
				continue // an address outside
			}
			if _, err := os.Stat(filepath.Join(top, m[1])); err != nil {
				t.Errorf("%s links to %s: %v", page, m[1], err)
			}
		}
	}
}

// The commands that write golden files anew must find their test.
func TestTheUpdateCommandsFindTheirTest(t *testing.T) {
	command := regexp.MustCompile(`^go test \./(\S+) -run (\S+) -update$`)
	found := 0
	for _, b := range blocks(t, "DEVELOPERS.md") {
		for line := range strings.Lines(b.text) {
			m := command.FindStringSubmatch(strings.TrimSpace(line))
			if m == nil {
				continue
			}
			found++
			if !hasTest(house(t), m[1], m[2]) {
				t.Errorf("%s: there is no such test", m[0])
			}
		}
	}
	if found < 3 {
		t.Errorf("only %d commands found", found)
	}
}

func hasTest(all []*source, dir, part string) bool {
	for _, s := range all {
		for _, d := range s.file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if ok && s.test && s.dir == dir && strings.HasPrefix(f.Name.Name, "Test") && strings.Contains(f.Name.Name, part) {
				return true
			}
		}
	}
	return false
}
