package bundle

import (
	"bytes"
	"context"
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"

	"mashward/cmd/internal/account"
	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/controller/record"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sim"
)

// What nobody but its owner should read stands in both files and in a note.
const (
	private = `# Ottilie's brown, ottilie@example.org
profile: Brown for ottilie@example.org
water: 20 L
steps:
  - {rest: 40 °C, for: 3 min, name: see https://brown.example/notes}   # as at 192.168.7.20
  - {rest: 45 °C, for: 1 min, name: /home/ottilie/brown}
`
	rig = `rig: Ottilie's kettle   # on cellar-board.local
kettle: {capacity: 50 L, element_covered_at: 12 L, vessel: 4.1 kJ/K, loss: 7 W/K, diameter: 37 cm}
element: {power: 3000 W, relay: {driver: sysfs, line: /srv/ottilie/relay, type: solid-state}}
pump: {relay: {driver: gpio, line: GPIO5, type: mechanical}, in_boil: yes}
contactor: {relay: {driver: gpio, line: GPIO6, type: mechanical}}
probe: {driver: w1, id: 28-0000075a1c3f, place: outlet, covered_at: 9 L}
supply: {voltage: 231 V, fuse: 20 A, tariff: 0.31 EUR/kWh}
site: {altitude: 123 m, room: 17 °C, tap: 11 °C}
bag: {retention: 0.7 L/kg, stirring: 0.6 K}
limits: {over_temperature: 103 °C}
signals: {buzzer: GPIO13, lamp: GPIO19}
`
)

// betrays is what must not be in a bundle.
var betrays = []string{"ttilie", "example", "192.168", "cellar-board", "/srv", "/home", "28-0000075a1c3f", "GPIO5", "GPIO6", "GPIO13", "GPIO19", "boot 7f", "as at", "5c0ffee5"}

// brewed is the record of a short day on a simulated kettle.
var brewed = sync.OnceValues(func() (*record.Memory, error) {
	p, _ := profile.Parse("day.yaml", []byte(private))
	r, faults := config.ParseRig("rig.yaml", []byte(rig))
	if len(faults) > 0 {
		panic(faults)
	}
	d, _ := plan.Make(p, r.PlanKettle())
	bench := sim.NewBench(sim.New(r.Plant(), config.Load(p), 1), nil, 1)
	run := rehearse.On(r, p, d, &rehearse.Simulated{Bench: bench})
	storage := &record.Memory{}
	recorder, err := run.Record(storage, record.Head{
		Program: "test", Simulated: true, Profile: p.Name, ProfileText: private, RigText: rig, Began: "2026-01-10T08:00:00Z", Order: 41, Folder: "5c0ffee5",
	})
	if err != nil {
		return nil, err
	}
	recorder.Note("boot 7f3a, ottilie's board")
	if _, err := run.Go(); err != nil {
		return nil, err
	}
	recorder.End()
	return storage, recorder.Close(context.Background())
})

func packed(t testing.TB) (*record.Memory, []byte) {
	t.Helper()
	storage, err := brewed()
	if err != nil {
		t.Fatal(err)
	}
	out, err := Pack(storage)
	if err != nil {
		t.Fatal(err)
	}
	return storage, out
}

func TestABundleHoldsTheBatchAndNotItsOwner(t *testing.T) {
	storage, out := packed(t)
	for _, word := range betrays {
		if !bytes.Contains(storage.Bytes, []byte(word)) {
			t.Errorf("the record itself lacks %q: this test shows nothing", word)
		}
		if bytes.Contains(out, []byte(word)) {
			t.Errorf("the bundle holds %q", word)
		}
	}
	again, err := Pack(storage)
	if err != nil || !bytes.Equal(out, again) {
		t.Errorf("the same record makes other bytes: %v", err)
	}
	back, err := Read(bytes.NewReader(out))
	if err != nil {
		t.Fatal(err)
	}
	was, err := account.Read(storage)
	if err != nil {
		t.Fatal(err)
	}
	is, err := account.Read(back)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(was.Kettle, is.Kettle) || !reflect.DeepEqual(was.Energy, is.Energy) || !reflect.DeepEqual(was.Windows, is.Windows) || was.Ticks != is.Ticks {
		t.Error("the figures are others")
	}
	if was.Planned == nil || is.Planned == nil || *was.Planned != *is.Planned {
		t.Errorf("planned %v, in the bundle %v", was.Planned, is.Planned)
	}
	if was.Late == nil || is.Late == nil || !reflect.DeepEqual(*was.Late, *is.Late) {
		t.Errorf("late %+v, in the bundle %+v", was.Late, is.Late)
	}
	both := account.Compare(&was, &is)
	for _, c := range both.Changed {
		if !strings.HasSuffix(c.What, "name") {
			t.Errorf("%+v", c)
		}
	}
	if !strings.Contains(is.Text, leftOut) || !strings.Contains(is.Text, "rest: 40 °C, for: 3 min") {
		t.Errorf("the profile: %s", is.Text)
	}
	twice, err := Pack(back)
	if err != nil || !bytes.Equal(twice, out) {
		t.Errorf("a bundle of a bundle is another: %v", err)
	}
}

// TestEveryFieldOfAHeadWasThoughtOf: a field that is new in a record's head may tell whose
// it is; whoever adds one decides that in anonymous, and names it here.
func TestEveryFieldOfAHeadWasThoughtOf(t *testing.T) {
	changed := "Order Folder Profile Plan ProfileText RigText StepNames AdditionNames"
	stays := "Program Simulated Began ResumeWithin Config Limits Checks Guarded Arch Shapes"
	known := strings.Fields(changed + " " + stays)
	for _, f := range reflect.VisibleFields(reflect.TypeFor[record.Head]()) {
		if !slices.Contains(known, f.Name) {
			t.Errorf("%s: does a bundle keep it?", f.Name)
		}
	}
}

// The rig in the bundle plans the same day, whatever it is called.
func TestARigWithoutItsNamePlansTheSameDay(t *testing.T) {
	was, _ := config.ParseRig("rig", []byte(rig))
	is, faults := config.ParseRig("rig", []byte(was.Anonymous()))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if !reflect.DeepEqual(was.PlanKettle(), is.PlanKettle()) || was.Supply != is.Supply || was.Limits != is.Limits || was.Site != is.Site {
		t.Errorf("%+v\n%+v", was.PlanKettle(), is.PlanKettle())
	}
	for _, name := range []string{"small-pot.yaml", "yard-kettle.yaml"} {
		was, _, err := config.LoadRig("../../../testdata/rigs/" + name)
		if err != nil {
			t.Fatal(err)
		}
		is, faults := config.ParseRig("rig", []byte(was.Anonymous()))
		if len(faults) > 0 || !reflect.DeepEqual(was.PlanKettle(), is.PlanKettle()) {
			t.Errorf("%s: %v", name, faults)
		}
	}
}

func TestTheRecordInABundleReplays(t *testing.T) {
	_, out := packed(t)
	back, err := Read(bytes.NewReader(out))
	if err != nil {
		t.Fatal(err)
	}
	r, err := record.Read(back)
	if err != nil {
		t.Fatal(err)
	}
	result, err := record.Replay(r)
	if err != nil || !result.Same() || !result.Exact || result.Ticks < 500 {
		t.Errorf("%v, %+v", err, result)
	}
}

func TestCleanTakesOutAddressesAndNothingElse(t *testing.T) {
	for text, want := range map[string]string{
		"30 g hops, 60/15 min":              "30 g hops, 60/15 min",
		"rest  at 63.5 °C (long)":           "rest  at 63.5 °C (long)",
		"3.5 % more. 1:3 thick":             "3.5 % more. 1:3 thick",
		"mail a@b.c now":                    "mail (left out) now",
		"see http://x.y/z":                  "see (left out)",
		"/var/lib/x and ~/x and ../x":       "(left out) and (left out) and (left out)",
		`C:\brew\x`:                         "(left out)",
		"at 10.0.0.7:8973, please":          "at (left out) please",
		"pi.lan, fe80::1:2:3:4, b8:27:eb:0": "(left out) (left out) (left out)",
	} {
		if got := cleaned(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

func TestEveryCutOfABundleIsRefused(t *testing.T) {
	_, out := packed(t)
	for at := 0; at < len(out); at += 257 {
		if _, err := Read(bytes.NewReader(out[:at])); err == nil {
			t.Fatalf("%d of %d bytes are taken for a bundle", at, len(out))
		}
	}
}

func TestADamagedRecordIsNotGivenAway(t *testing.T) {
	storage, _ := packed(t)
	if _, err := Pack(&record.Memory{Bytes: turned(storage.Bytes, len(storage.Bytes)/2)}); err == nil || !strings.Contains(err.Error(), "damaged") {
		t.Error(err)
	}
	cut, err := Pack(&record.Memory{Bytes: storage.Bytes[:len(storage.Bytes)/2]})
	if err != nil {
		t.Fatal("one that was cut off: ", err)
	}
	if _, err := Read(bytes.NewReader(cut)); err != nil {
		t.Error(err)
	}
}

// Whatever is handed in as a bundle is read or refused; what is read can be looked
// at. The first byte says what the others are: a whole file, or the record that is
// packed as it should be, so that the hashes keep nobody out.
func FuzzABundle(f *testing.F) {
	_, out := packed(f)
	back, err := Read(bytes.NewReader(out))
	if err != nil {
		f.Fatal(err)
	}
	f.Add([]byte{0}, []byte("{}"))
	f.Add(append([]byte{0}, out[:4096]...), []byte("{}"))
	f.Add(append([]byte{1}, back.Bytes...), []byte("{}"))
	f.Add(append([]byte{1}, back.Bytes[:20_000]...), []byte("{}"))
	f.Fuzz(func(t *testing.T, data, figures []byte) {
		if len(data) == 0 {
			return
		}
		file := data[1:]
		if data[0]&1 == 1 {
			file, err = pack([][]byte{data[1:], nil, figures, figures})
			if err != nil {
				return
			}
		}
		back, err := Read(bytes.NewReader(file))
		if err != nil && back != nil {
			t.Error("refused, and read")
		}
		if err != nil { // as a record by itself it may be looked at
			back = &record.Memory{Bytes: data[1:]}
		}
		a, err := account.Read(back)
		if err != nil {
			return
		}
		both := account.Compare(&a, &a)
		if _, err := json.Marshal(both); err != nil {
			t.Errorf("figures that are none: %v", err)
		}
		if _, err := json.Marshal(a); err != nil {
			t.Errorf("figures that are none: %v", err)
		}
	})
}
