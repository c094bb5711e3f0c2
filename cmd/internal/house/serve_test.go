package house

import (
	"bufio"
	"bytes"
	"io"
	"net/http"
	"os/exec"
	"regexp"
	"strings"
	"syscall"
	"testing"
)

var address = regexp.MustCompile(`address=(http://\S+)`)

// serving runs a command that serves, has ask look at its address, and asks it
// to end as a service would be; it must do so in good order.
func (p program) serving(args []string, ask func(address string)) {
	p.t.Helper()
	cmd := exec.Command(p.path, args...)
	cmd.Dir = p.folder
	said, err := cmd.StderrPipe()
	if err != nil {
		p.t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		p.t.Fatal(err)
	}
	var text bytes.Buffer
	in := bufio.NewScanner(io.TeeReader(said, &text))
	found := false
	for !found && in.Scan() {
		if m := address.FindStringSubmatch(in.Text()); m != nil {
			found = true
			ask(m[1])
		}
	}
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		p.t.Error(err)
	}
	for in.Scan() { // to the end, so that it is not held up
	}
	if err := cmd.Wait(); err != nil || !found {
		p.t.Errorf("mashward %s: %v; an address was told: %v\n%s", strings.Join(args, " "), err, found, text.String())
	}
}

// get is the body of what is found at an address.
func get(t *testing.T, url string) string {
	t.Helper()
	r, err := http.Get(url)
	if err != nil {
		t.Error(err)
		return ""
	}
	defer r.Body.Close()
	body, err := io.ReadAll(r.Body)
	if err != nil || r.StatusCode != http.StatusOK {
		t.Errorf("%s: %s, %v", url, r.Status, err)
	}
	return string(body)
}

// whatServes is what README.md says can be found there.
func whatServes(t *testing.T) func(address string) {
	return func(address string) {
		for path, want := range map[string]string{
			"/":                    "Brown, two rests",
			"/api/v1/openapi.json": `"openapi"`,
			"/metrics":             `mashward_simulated{rig="First kettle"} 1`,
		} {
			if body := get(t, address+path); !strings.Contains(body, want) {
				t.Errorf("%s does not have %q:\n%.2000s", path, want, body)
			}
		}
		if body := get(t, address+"/"); strings.Contains(body, "kettle.yaml:") || strings.Contains(body, "faults.yaml:") {
			t.Errorf("the page lists what is no profile:\n%.4000s", body)
		}
	}
}
