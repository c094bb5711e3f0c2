package daemon

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/late/follow"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/wall"
	"mashward/controller/record"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/profile/strict"
)

// Batch is one brew day: profile and plan as they were when it was armed.
type Batch struct {
	ID      string // of its record
	File    string // the profile's file name; "" for one that was made
	Hash    string // of profile and rig
	Text    []byte
	Profile profile.Profile
	Plan    plan.Plan
	Say     say.Day
	Armed   time.Time
	// ResumeWithin is the longest outage after which it may go on by itself, as
	// chosen at arming; 0: a person is asked.
	ResumeWithin time.Duration
	// Overridden are the promises that its rehearsal had broken when it was armed.
	Overridden []string

	// Later is when it begins by itself; nil where a person begins it.
	Later *Later

	id         string // by which it was asked for
	order      uint64 // of its record among those of the folder
	recorder   *record.Recorder
	storage    record.Storage // nil: it is not recorded
	unrecorded error          // why, where records are kept
}

// Listed is one profile of the folder.
type Listed struct {
	ID     string // file name without its ending
	Name   string // as the profile calls itself; "" where it cannot be read
	Hash   string
	Faults []strict.Fault
}

// ErrNoProfile says that there is no such profile in the folder.
var ErrNoProfile = errors.New("there is no such profile in the folder")

// ErrDisabled says that the rig file is broken.
var ErrDisabled = errors.New("heat is disabled: the rig file has faults")

// Profiles lists the profiles of the folder, by name, and what may be meant for one.
func (d *Daemon) Profiles() ([]Listed, error) {
	entries, err := os.ReadDir(d.o.Profiles) // sorted by name
	if err != nil {
		return nil, err
	}
	list := []Listed{}
	for _, e := range entries {
		id, ok := strings.CutSuffix(e.Name(), ".yaml")
		if !ok || !goodID(id) {
			continue
		}
		b, faults, err := d.load(id)
		if err != nil {
			continue
		}
		if kind := config.KindOf(b.Text); kind != "profile" && kind != "" {
			continue // a rig, its plant or its faults may lie beside the profiles
		}
		list = append(list, Listed{ID: id, Name: b.Profile.Name, Hash: b.Hash, Faults: faults})
	}
	return list, nil
}

// goodID keeps names to what cannot lead out of the folder.
func goodID(id string) bool {
	if id == "" || len(id) > 64 {
		return false
	}
	for _, c := range id {
		if !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '-' || c == '_') {
			return false
		}
	}
	return true
}

// load reads a profile of the folder, or makes one, and plans it; faults are told, and the
// error is for a file that cannot be read.
func (d *Daemon) load(id string) (*Batch, []strict.Fault, error) {
	file, text, err := d.source(id)
	if err != nil {
		return nil, nil, err
	}
	b, faults := d.planned(id, file, text)
	return b, faults, nil
}

// planned is a profile's text as a batch that could be.
func (d *Daemon) planned(id, file string, text []byte) (*Batch, []strict.Fault) {
	b := &Batch{id: id, File: file, Text: text, Hash: d.hash(text)}
	p, faults := profile.Parse(id+".yaml", text)
	b.Profile = p
	if strict.Refused(faults) || d.kettle == nil {
		return b, faults
	}
	faults = append(faults, config.Check(p, d.o.Rig)...)
	b.Plan, _ = plan.Make(p, d.o.Rig.PlanKettle())
	b.Say = say.Day{Profile: p, Config: rehearse.Core(p, b.Plan)}
	return b, faults
}

// readRegular reads no more of a file than a parser would look at, and nothing
// but an ordinary file: a pipe in the folder would hold up whoever opens it.
func readRegular(root *os.Root, name string) ([]byte, error) {
	about, err := root.Stat(name)
	if errors.Is(err, os.ErrNotExist) || err == nil && !about.Mode().IsRegular() {
		return nil, ErrNoProfile
	}
	if err != nil {
		return nil, err
	}
	f, err := root.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, strict.MaxBytes+1))
}

// hash names one profile on one rig.
func (d *Daemon) hash(text []byte) string {
	h := sha256.New()
	h.Write(d.o.RigText)
	h.Write([]byte{0})
	h.Write(text)
	return hex.EncodeToString(h.Sum(nil)[:16])
}

// Plan reads and plans a profile of the folder.
func (d *Daemon) Plan(id string) (*Batch, []strict.Fault, error) {
	b, faults, err := d.load(id)
	if err == nil && d.kettle == nil {
		err = ErrDisabled
	}
	return b, faults, err
}

// Refusal is a profile that cannot be run on this rig.
type Refusal struct{ Faults []strict.Fault }

// Error is one line a fault.
func (r *Refusal) Error() string {
	lines := make([]string, 0, len(r.Faults))
	for _, f := range r.Faults {
		if !f.Warning {
			lines = append(lines, f.String())
		}
	}
	return strings.Join(lines, "\n")
}

// shelf keeps the last rehearsals by hash.
type shelf struct {
	mu   sync.Mutex
	done map[string]rehearse.Result
	busy bool
}

// ErrRehearsing says that one rehearsal at a time is enough for one processor.
var ErrRehearsing = errors.New("another rehearsal is under way: try again in a few seconds")

// Rehearsed is the rehearsal of the profile and rig with this hash, if there
// was one since the start.
func (d *Daemon) Rehearsed(hash string) (rehearse.Result, bool) { return d.shelf.get(hash) }

// Rehearse runs the whole profile on a simulated kettle of this rig, and
// remembers how it went.
func (d *Daemon) Rehearse(id string) (*Batch, rehearse.Result, error) {
	b, faults, err := d.Plan(id)
	return d.rehearseBatch(b, faults, err)
}

// rehearseBatch rehearses what was planned.
func (d *Daemon) rehearseBatch(b *Batch, faults []strict.Fault, err error) (*Batch, rehearse.Result, error) {
	if err != nil {
		return nil, rehearse.Result{}, err
	}
	if strict.Refused(faults) {
		return nil, rehearse.Result{}, &Refusal{faults}
	}
	if !d.shelf.take() {
		return nil, rehearse.Result{}, ErrRehearsing
	}
	defer d.shelf.free()
	result, err := d.rehearsal(b)
	if err != nil {
		return nil, rehearse.Result{}, err
	}
	d.shelf.put(b.Hash, result)
	return b, result, nil
}

// rehearsal is one, kept nowhere.
func (d *Daemon) rehearsal(b *Batch) (rehearse.Result, error) {
	kettle := rehearse.Bench(b.Profile, d.o.Plant, config.Load(b.Profile), nil, 1)
	run := rehearse.On(d.o.Rig, b.Profile, b.Plan, kettle)
	return run.Go()
}

func (s *shelf) take() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.busy {
		return false
	}
	s.busy = true
	return true
}

func (s *shelf) free() {
	s.mu.Lock()
	s.busy = false
	s.mu.Unlock()
}

// kept bounds the shelf.
const kept = 32

func (s *shelf) put(hash string, r rehearse.Result) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.done == nil || len(s.done) >= kept {
		s.done = map[string]rehearse.Result{}
	}
	s.done[hash] = r
}

func (s *shelf) get(hash string) (rehearse.Result, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	r, ok := s.done[hash]
	return r, ok
}

// createRecord makes the file, off the tick: a disk that hangs holds up only
// the one who starts.
func (b *Batch) createRecord(o *Options) {
	if o.Records == "" {
		return
	}
	create := o.Storage
	if create == nil {
		create = onDisk
	}
	// A clock that was set back, or stands, can show a moment twice.
	for id, n := b.ID, 2; ; n++ {
		b.storage, b.unrecorded = create(filepath.Join(o.Records, b.ID+RecordSuffix))
		if n > mostAlike || !errors.Is(b.unrecorded, fs.ErrExist) {
			break
		}
		b.ID = fmt.Sprintf("%s-%d", id, n)
	}
}

// mostAlike is how many records may have begun in one moment by the clock.
const mostAlike = 99

// onDisk is where records lie unless told otherwise.
func onDisk(path string) (record.Storage, error) {
	f, err := record.Create(path)
	if err != nil {
		return nil, err // and no storage that is no file
	}
	return f, nil
}

// discardRecord takes the empty file of a batch that never began away again.
func (b *Batch) discardRecord(folder string) error {
	if b.storage == nil {
		return nil
	}
	return errors.Join(b.storage.Close(), os.Remove(filepath.Join(folder, b.ID+RecordSuffix)))
}

// openRecord begins the batch's record. A batch without one runs all the same,
// and it is said.
func (d *Daemon) openRecord(b *Batch) {
	if d.o.Records == "" {
		return
	}
	err := b.unrecorded
	if err == nil {
		head := record.Head{
			Checks:  d.loop.Verifier.Params,
			Program: d.o.Program, Simulated: d.o.Simulated, Began: b.Armed.UTC().Format(time.RFC3339),
			Profile: b.Profile.Name, ProfileText: string(b.Text), RigText: string(d.o.RigText),
			Config: d.loop.Core.Config, Limits: d.loop.Limits, ResumeWithin: b.ResumeWithin, Order: b.order, Folder: d.folder,
		}
		rehearse.NameSteps(&head, b.Profile)
		head.Plan = follow.Note(b.Plan)
		b.recorder, err = record.New(b.storage, head, d.loop.State, d.recording())
	}
	if err != nil {
		b.recorder, b.unrecorded = nil, err
		d.o.Log.Error("no record of this batch", "batch", b.ID, "error", err)
		d.tell(Entry{Wall: d.o.Now(), Text: "This batch is not recorded: " + err.Error() + "."})
		return
	}
	d.noteStart(b.recorder, d.boot())
	if b.Later != nil {
		b.recorder.Note(b.Later.note())
	}
	d.loop.Watchers = append(d.watchers(), b.recorder)
}

// noteStart notes when this process began to record, and what its clock is worth.
// A simulated kettle that does not go at the pace of the clock has no such time.
func (d *Daemon) noteStart(r *record.Recorder, now wall.Boot) {
	r.Note(now.String())
	if d.atThePaceOfTheClock() {
		r.Note(noteOf(d.o.Now()))
	}
}

// recording is how batches are recorded here.
func (d *Daemon) recording() record.Options {
	return record.Options{Guard: &d.loop.Guard, Watch: &d.loop.Watch, Pace: d.pace()}
}

// pace is how many seconds of the kettle pass in one; 0 for a real kettle, and for a
// simulated one that does not wait.
func (d *Daemon) pace() float64 {
	if k, ok := d.kettle.(interface{ Speed() float64 }); ok {
		return max(0, k.Speed())
	}
	return 0
}

func (d *Daemon) atThePaceOfTheClock() bool { return d.pace() == 0 || d.pace() == 1 }

// RecordSuffix is what names of records end in.
const RecordSuffix = ".batch"

func nan() float64 { return math.NaN() }
