package api

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/controller/loop"
)

func TestTheStateIsShownFromTheStartOn(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		if s := b.state(); s.Number != 0 || s.Batch != nil || s.Heating || !s.Simulated || s.Age == nil {
			b.Errorf("%+v", s)
		}
		pass(10 * time.Second)
		s := b.state()
		if s.Number < 9 || s.Probe.Temperature == nil || *s.Probe.Temperature < 5 || s.Sentence != "Idle: nothing is heated." {
			b.Errorf("%+v", s)
		}
		b.run("warm")
		s = b.state()
		if s.Batch == nil || s.Batch.State != "running" || !s.Heating || s.Target == nil || *s.Target != 20 || s.Step.Kind != "rest" {
			b.Errorf("%+v", s)
		}
	})
}

func TestAStateThatIsOldSaysHowOld(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		pass(10 * time.Second)
		release := b.pan.hold()
		defer release()
		pass(time.Minute)
		if s := b.state(); s.Age == nil || *s.Age < 58 || *s.Age > 61 {
			b.Errorf("%v", *s.Age)
		}
	})
}

func TestProfilesAreListedWithTheirFaults(t *testing.T) {
	files := map[string]string{"day": day, "wrong": "profile: Wrong\nwater: 25 kg\nsteps: []\n", "big": strings.Replace(warm, "25 L", "90 L", 1)}
	inBubble(t, settings{files: files}, func(b *bench) {
		list := into[struct{ Profiles []ListedProfile }](b, b.get("profiles")).Profiles
		var ids []string
		for _, p := range list {
			ids = append(ids, fmt.Sprint(p.ID, " ", p.Refused, " ", p.Rehearsed))
		}
		if want := []string{"big true false", "day false false", "warm false false", "wrong true false"}; !slices.Equal(ids, want) {
			b.Errorf("%q", ids)
		}
		w := b.get("profiles/wrong")
		p := into[ShownProfile](b, w)
		if p.Text != files["wrong"] || len(p.Faults) == 0 || p.Faults[0].Line != 2 || p.Faults[0].File != "wrong.yaml" || p.Faults[0].Remedy == "" {
			b.Errorf("%+v", p)
		}
		if got := w.Header().Get("ETag"); got != `"`+p.Hash+`"` {
			b.Error(got)
		}
		for _, id := range []string{"nowhere", "..%2f..%2fetc%2fpasswd", "a%00b", "%20", strings.Repeat("x", 65)} {
			no(b, b.get("profiles/"+id), http.StatusNotFound, "no-such-profile")
			no(b, b.get("plan/"+id), http.StatusNotFound, "no-such-profile")
		}
		hash := b.rehearse("warm")
		if p := into[ShownProfile](b, b.get("profiles/warm")); !p.Rehearsed || p.Hash != hash {
			b.Errorf("%+v", p)
		}
	})
}

func TestThePlanOfAProfileIsShownOrRefusedWithFaults(t *testing.T) {
	files := map[string]string{"day": day, "wrong": "profile: Wrong\nwater: 25 kg\n", "big": strings.Replace(warm, "25 L", "90 L", 1)}
	inBubble(t, settings{files: files}, func(b *bench) {
		w := b.get("plan/day")
		plan := into[struct {
			Steps []struct {
				Kind string `json:"kind"`
			} `json:"steps"`
			Finish float64 `json:"finish_seconds"`
		}](b, w)
		if len(plan.Steps) != 7 || plan.Finish < 3600 || w.Header().Get("ETag") == "" {
			b.Errorf("%+v", plan)
		}
		for _, id := range []string{"wrong", "big"} {
			p := no(b, b.get("plan/"+id), http.StatusUnprocessableEntity, "profile-refused")
			if len(p.Faults) == 0 || p.Faults[0].File != id+".yaml" {
				b.Errorf("%+v", p)
			}
		}
	})
}

func TestWhatIsNotThereIsSaidAsAProblem(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		for _, path := range []string{"", "states", "state/x", "records/a/b", "profiles/", "../state", "records/x/ticks"} {
			w := b.get(path)
			if w.Code != http.StatusNotFound && w.Code/100 != 3 { // the path is cleaned first
				b.Errorf("%q: %d", path, w.Code)
			}
		}
		for _, c := range [][3]string{{"POST", "state", "GET"}, {"DELETE", "records/x", "GET"}, {"PUT", "arm", "POST"}, {"GET", "start", "POST"}, {"GET", "stop", "POST"}} {
			w := b.ask(c[0], c[1], "")
			no(b, w, http.StatusMethodNotAllowed, "method")
			if got := w.Header().Get("Allow"); got != c[2] {
				b.Errorf("%v: Allow %q", c, got)
			}
		}
		if s := b.state(); s.Heating {
			b.Error("heating")
		}
		if w := b.ask("HEAD", "state", ""); w.Code != 200 {
			b.Error("HEAD", w.Code)
		}
	})
}

func TestTheDocumentIsServed(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		if w := b.get("openapi.json"); w.Code != 200 || w.Body.String() != string(document) {
			b.Error(w.Code)
		}
	})
}

func TestABrokenRigDisablesHeatAndNothingElse(t *testing.T) {
	inBubble(t, settings{broken: true}, func(b *bench) {
		s := b.state()
		if !s.HeatDisabled || len(s.Faults) == 0 || s.Age != nil || s.Sentence != "Heat is disabled: the rig file has faults." {
			b.Errorf("%+v", s)
		}
		if p := into[ShownProfile](b, b.get("profiles/warm")); p.Text != warm || p.Refused {
			b.Errorf("%+v", p)
		}
		hash := into[ShownProfile](b, b.get("profiles/warm")).Hash
		for _, c := range [][2]string{
			{"rehearsal", `{"profile": "warm"}`}, {"arm", toArm("warm", hash, 25)}, {"command", `{"wish": "pause"}`}, {"stop", ""},
		} {
			p := no(b, b.ask("POST", c[0], c[1]), http.StatusServiceUnavailable, "heat-disabled")
			if len(p.Faults) == 0 || p.Faults[0].File != "rig.yaml" {
				b.Errorf("%s: %+v", c[0], p)
			}
		}
		no(b, b.get("plan/warm"), http.StatusServiceUnavailable, "heat-disabled")
		no(b, b.ask("POST", "start", `{"nonce": "x"}`), http.StatusForbidden, "not-armed")
	})
}

// A whole brew by the interface alone, each prompt answered by the wish that the
// state names. The records of it are looked at while it runs and afterwards.
func TestABrewDayByTheInterfaceAlone(t *testing.T) {
	inBubble(t, settings{files: map[string]string{"day": day}}, func(b *bench) {
		b.post("start", b.arm("day"), 200)
		answered := []string{}
		for ended := false; !ended; {
			b.until("a prompt, or the end", func(s *daemon.Snapshot) bool {
				ended = s.Decision.Mode.Ended()
				return ended || say.Answer(s.Decision.Prompt) != controller.NoWish
			})
			s := b.state()
			if ended {
				break
			}
			body := fmt.Sprintf(`{"wish": %q}`, s.Prompt.Wish)
			if s.Prompt.Litres != nil {
				body = fmt.Sprintf(`{"wish": %q, "litres": %g}`, s.Prompt.Wish, *s.Prompt.Litres)
			}
			b.post("command", body, 200)
			answered = append(answered, s.Prompt.ID)
			brief := into[struct{ Records []Brief }](b, b.get("records")).Records
			if len(brief) != 1 || !brief[0].UnderWay || brief[0].Outcome != "unfinished" {
				b.Errorf("%+v", brief)
			}
		}
		if want := []string{"pour", "grain-in", "lift", "bag-clear", "drained", "here-lid-off", "chiller"}; !slices.Equal(answered, want) {
			b.Errorf("%q", answered)
		}
		s := b.state()
		if s.Batch.State != "complete" || s.Heating || len(s.Events) != 12 {
			b.Errorf("%+v", s.Batch)
		}
		b.end()
		b.sawRecord(s.Batch.ID)
	})
}

// brief is a record in one line.
func (r *Record) brief() Brief {
	return Brief{r.ID, r.Began, r.Profile, r.Simulated, r.UnderWay, r.Outcome, r.Reason, r.Duration, r.Switches}
}

// sawRecord looks at the one record of a finished day.
func (b *bench) sawRecord(id string) {
	b.Helper()
	r := into[Record](b, b.get("records/"+id))
	if r.Outcome != "complete" || r.UnderWay || r.Torn != 0 || len(r.Steps) != 7 || r.Text != day || len(r.Lines) < 20 || r.Highest == nil {
		b.Errorf("%+v", r.brief())
	}
	if e := r.Enzymes; e == nil || e.AtEnd == nil || e.Note == "" || len(e.Rests) == 0 || e.Rests[0].Step != 1 {
		b.Errorf("enzymes: %+v", e)
	}
	w := b.get("records/" + id + "/ticks.csv")
	rows := strings.Split(strings.TrimSuffix(w.Body.String(), "\r\n"), "\r\n")
	if uint64(len(rows)) != r.Ticks+1 || !strings.HasPrefix(rows[0], "seconds,") {
		b.Errorf("%d rows for %d ticks: %s", len(rows), r.Ticks, rows[0])
	}
	b.sawWhatIsMadeOfIt(id)
	for range 2 { // read, and from memory
		brief := into[struct{ Records []Brief }](b, b.get("records")).Records
		if len(brief) != 1 || brief[0] != r.brief() {
			b.Errorf("%+v, want %+v", brief, r.brief())
		}
	}
}

func TestRecordsThatAreNotThereOrCannotBeRead(t *testing.T) {
	records := t.TempDir()
	put := func(name, text string) {
		if err := os.WriteFile(filepath.Join(records, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	put("20260101-080000-aaaaaa.batch", "")
	put("20260102-080000-aaaaaa.batch", "nothing of ours")
	put("x y.batch", "")
	put("notes.txt", "")
	outside := filepath.Join(t.TempDir(), "secret")
	if err := os.WriteFile(outside, []byte("secret"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(outside, filepath.Join(records, "link.batch")); err != nil {
		t.Fatal(err)
	}
	inBubble(t, settings{records: records}, func(b *bench) {
		list := into[struct{ Records []Brief }](b, b.get("records")).Records
		if len(list) != 2 || list[0].ID != "20260102-080000-aaaaaa" || list[0].Outcome != "unreadable" {
			b.Errorf("%+v", list)
		}
		for _, id := range []string{"nowhere", "link", "x%20y", "..%2fsecret", "notes", strings.Repeat("x", 65)} {
			for _, path := range []string{"records/" + id, "records/" + id + "/ticks.csv", "records/" + id + "/report.html", "records/" + id + "/bundle.tar", "records/compare?a=" + id + "&b=" + id} {
				if w := b.get(path); w.Code/100 != 3 {
					no(b, w, http.StatusNotFound, "no-such-record")
				}
			}
		}
		no(b, b.get("records/20260101-080000-aaaaaa"), http.StatusInternalServerError, "record-unreadable")
		no(b, b.get("records/20260101-080000-aaaaaa/ticks.csv"), http.StatusInternalServerError, "record-unreadable")
	})
	inBubble(t, settings{records: filepath.Join(records, "gone")}, func(b *bench) {
		if list := into[struct{ Records []Brief }](b, b.get("records")).Records; len(list) != 0 {
			b.Errorf("%+v", list)
		}
	})
}

// A record whose middle is damaged is shown as far as it goes and says so; its
// table breaks off in a way that nobody can overlook.
func TestADamagedRecordIsShownAsFarAsItGoes(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		id := b.d.Latest().Batch.ID
		b.until("end", func(s *daemon.Snapshot) bool { return s.Decision.Mode.Ended() })
		b.end()
		whole := into[Record](b, b.get("records/"+id))
		path := filepath.Join(b.records, id+daemon.RecordSuffix)
		text, err := os.ReadFile(path)
		if err != nil {
			b.Fatal(err)
		}
		text[len(text)*2/3] ^= 1
		if err := os.WriteFile(path, text, 0o600); err != nil {
			b.Fatal(err)
		}
		r := into[Record](b, b.get("records/"+id))
		if r.Damage == nil || r.Ticks == 0 || r.Ticks >= whole.Ticks || r.Outcome != "unfinished" {
			b.Errorf("%d of %d ticks, damage %v", r.Ticks, whole.Ticks, r.Damage)
		}
		if strings.Contains(*r.Damage, b.records) {
			b.Error("it tells where on this machine the records lie:", *r.Damage)
		}
		broken := func() (what any) {
			defer func() { what = recover() }()
			b.get("records/" + id + "/ticks.csv")
			return nil
		}()
		if broken != http.ErrAbortHandler {
			b.Error("the table ended as if it were whole:", broken)
		}
	})
}

// The same simulated brew twice, once with a thousand reads of everything there
// is to read in between: every tick is the same.
func TestReadingChangesNothing(t *testing.T) {
	brew := func(reads int) []track {
		seen := &tracks{}
		inBubble(t, settings{files: map[string]string{"day": day}, watchers: []loop.Watcher{seen}}, func(b *bench) {
			b.post("start", b.arm("day"), 200)
			random := rand.New(rand.NewPCG(1, 2))
			for ended := false; !ended; {
				s := b.until("another minute", func(s *daemon.Snapshot) bool { return s.Number%30 == 0 || s.Decision.Mode.Ended() })
				ended = s.Decision.Mode.Ended()
				for range reads {
					b.anyRead(random)
				}
				if wish := say.Answer(s.Decision.Prompt); wish != controller.NoWish && !ended {
					b.post("command", fmt.Sprintf(`{"wish": %q}`, wish), 200)
				}
				b.until("the next tick", func(n *daemon.Snapshot) bool { return n.Number > s.Number })
			}
			synctest.Wait()
		})
		return seen.all
	}
	quiet, watched := brew(0), brew(10)
	if len(quiet) < 3000 {
		t.Fatal(len(quiet), "ticks")
	}
	for i := range min(len(quiet), len(watched)) {
		if quiet[i] != watched[i] {
			t.Fatalf("tick %d:\n%+v\n%+v", i, quiet[i], watched[i])
		}
	}
}

// anyRead asks for something that can be read.
func (b *bench) anyRead(random *rand.Rand) {
	b.Helper()
	paths := []string{"state", "profiles", "profiles/day", "profiles/nowhere", "plan/day", "plan/warm", "records", "records/nowhere", "openapi.json", "nothing"}
	if batch := b.d.Latest().Batch; batch != nil {
		paths = append(paths, "records/"+batch.ID+"/ticks.csv")
		if random.IntN(10) == 0 { // each takes the whole record through several times
			paths = []string{
				"records/" + batch.ID, "records/" + batch.ID + "/report.html", "records/" + batch.ID + "/bundle.tar",
				"records/compare?a=" + batch.ID + "&b=" + batch.ID,
			}
		}
	}
	methods := []string{"GET", "GET", "GET", "HEAD", "OPTIONS"}
	b.ask(methods[random.IntN(len(methods))], paths[random.IntN(len(paths))], "")
}
