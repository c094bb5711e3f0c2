package house

import (
	"fmt"
	"strings"
	"testing"
	"testing/fstest"
)

// The check of the house is worth nothing unless it fails: here each rule is
// broken once, in a house of its own.
func TestAPlantedViolationIsFound(t *testing.T) {
	cases := []struct {
		name, path, text, want string
	}{
		{"an import against the table", "sensors/a.go", imports("mashward/controller/pid"), "sensors/a.go imports controller/pid, which its row does not name"},
		{"the interlock asks the controller", "controller/interlock/a.go", imports("mashward/controller"), "controller/interlock must never reach controller "},
		{"the verifier asks the law", "controller/verify/a.go", imports("mashward/controller/pid"), "controller/verify must never reach controller/pid"},
		{"sim looks at the controller", "sim/a.go", imports("mashward/controller"), "sim must never reach controller "},
		{"a package nobody entered", "controller/extra/a.go", "package extra", "controller/extra is not in the table"},
		{"YAML outside strict", "profile/a.go", imports("gopkg.in/yaml.v3"), "profile/a.go imports gopkg.in/yaml.v3"},
		{"a dependency in a shell", "controller/loop/a.go", imports("example.org/x"), "controller/loop/a.go imports example.org/x"},
		{"metrics elsewhere", "controller/loop/a.go", imports("github.com/prometheus/client_golang/prometheus"), "controller/loop/a.go imports github.com/prometheus"},
		{"a file in a pure package", "profile/a.go", imports("os"), "a pure package imports os"},
		{"a process in a pure package", "profile/a.go", imports("os/exec"), "a pure package imports os/exec"},
		{"a lock in a pure package", "controller/pid/a.go", imports("sync"), "a pure package imports sync"},
		{"a log in a pure package", "controller/pid/a.go", imports("log/slog"), "a pure package imports log/slog"},
		{"a context in a pure package", "controller/a.go", imports("context"), "a pure package imports context"},
		{"a clock in a pure package", "controller/a.go", "package a\nimport \"time\"\nvar x = time.Now()", "controller/a.go:3: time.Now in a pure package"},
		{"a clock under another name", "controller/a.go", "package a\nimport t \"time\"\nfunc f() { t.Sleep(1) }", "time.Sleep in a pure package"},
		{"a date in a pure package", "controller/a.go", "package a\nimport \"time\"\nvar x = time.Time{}", "time.Time in a pure package"},
		{"a dot import hides a clock", "controller/a.go", "package a\nimport . \"time\"\nvar x = Second", "dot import of time"},
		{"a clock in a shell without leave", "controller/loop/a.go", "package a\nimport \"time\"\nfunc f() { <-time.After(1) }", "time.After in a package that may not read a clock"},
		{"a clock read where it may only be handed on", "cmd/mashward/a.go", "package a\nimport \"time\"\nvar x = time.Now()", "cmd/mashward/a.go:3: time.Now in a package that may not read a clock"},
		{"a clock handed on without leave", "controller/loop/a.go", "package a\nimport \"time\"\nvar x = time.Now", "controller/loop/a.go:3: time.Now in a package that may not read a clock"},
		{"the global generator", "sim/a.go", "package a\nimport \"math/rand/v2\"\nfunc f() float64 { return rand.Float64() }", "rand.Float64 draws from the global generator"},
		{"a generator in the core", "controller/a.go", imports("math/rand/v2"), "a pure package imports math/rand/v2"},
		{"an init", "controller/loop/a.go", "package a\nfunc init() {}", "func init runs before anyone asked"},
		{"a variable that remembers", "controller/loop/a.go", "package a\nvar last int", "begins empty"},
		{"a goroutine in a pure package", "controller/a.go", "package a\nfunc f() { go f() }", "a goroutine or channel"},
		{"a channel in a pure package", "controller/a.go", "package a\ntype x chan int", "a goroutine or channel"},
		{"a test that sleeps", "controller/a_test.go", "package a\nimport \"time\"\nfunc f() { time.Sleep(1) }", "a sleep in a test"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			sound := soundHouse()
			sound[c.path] = &fstest.MapFile{Data: []byte(c.text)}
			if found := complaints(t, sound); !strings.Contains(found, c.want) {
				t.Errorf("not found: %q\nin: %s", c.want, found)
			}
		})
	}
}

func TestASoundHouseHasNoComplaint(t *testing.T) {
	if found := complaints(t, soundHouse()); found != "" {
		t.Error(found)
	}
}

func TestAWayThroughOthersIsFound(t *testing.T) {
	way := forbidden(map[string][]string{"sim": {"sim/fault"}, "sim/fault": {"sensors"}, "sensors": {"sensors/estimate"}})
	if len(way) != 1 || !strings.Contains(way[0], "sim > sim/fault > sensors > sensors/estimate") {
		t.Errorf("the way is %q", way)
	}
}

func TestARowWithoutItsPackageIsFound(t *testing.T) {
	sound := soundHouse()
	delete(sound, "controller/pid/sound.go")
	if found := complaints(t, sound); !strings.Contains(found, "controller/pid has a row but no Go file") {
		t.Errorf("not found in: %s", found)
	}
}

func complaints(t *testing.T, files fstest.MapFS) string {
	t.Helper()
	all, err := read(files)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(judge(all, policy), "\n")
}

// soundHouse has an empty file for each row of the table, and one full of what
// is allowed.
func soundHouse() fstest.MapFS {
	files := fstest.MapFS{}
	for _, r := range policy {
		files[r.path+"/sound.go"] = &fstest.MapFile{Data: []byte("package sound\n")}
	}
	files["cmd/mashward/internal/metrics/allowed.go"] = &fstest.MapFile{Data: []byte(imports("github.com/prometheus/client_golang/prometheus"))}
	files["cmd/mashward/allowed.go"] = &fstest.MapFile{Data: []byte("package main\nimport \"time\"\nvar now = time.Now\n")}
	files["sim/allowed.go"] = &fstest.MapFile{Data: []byte(`package sim
import (
	"math/rand/v2"
	"sync/atomic"
	"time"

	"mashward/controller/unit"
)
type a struct { b rand.PCG; c atomic.Bool; d unit.Celsius }
var second = time.Second
func f() { _ = *rand.NewPCG(1, 2) }
`)}
	files["deploy/tools/go.mod"] = &fstest.MapFile{Data: []byte("module tools\n")}
	files["deploy/tools/other.go"] = &fstest.MapFile{Data: []byte("package main\nfunc init() {}\n")}
	return files
}

func imports(p string) string {
	return fmt.Sprintf("package a\nimport _ %q\n", p)
}
