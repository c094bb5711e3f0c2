package daemon

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/enzymes"
	"mashward/cmd/internal/late/follow"
	"mashward/cmd/internal/say"
	"mashward/cmd/internal/wort"
	"mashward/cmd/mashward/internal/wall"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/profile/strict"
)

// recalled is a batch whose record says that it had not ended.
type recalled struct {
	path string
	id   string
	head record.Head
	last record.Checkpoint
	true bool      // last is the state after the last tick; else up to a minute older
	wall time.Time // of the file
	boot wall.Boot // when it began, or was last gone on with
	// By the clock as the record has it, when that was, and how long that process
	// went on; began is zero where it does not tell.
	began time.Time
	ran   time.Duration
	first time.Duration // run clock of that process' first tick; -1 before it
	past  history
	mash  enzymes.Follower
	wort  *wort.Follower
	late  *follow.Follower
	log   []Entry
	trip  interlock.Rule // that stood in the last tick
}

// errEnded is for the record of a batch that is over: nothing to offer.
var errEnded = errors.New("its batch has ended")

// recall looks for a batch that was cut off, before the first tick. What is
// found is put before the loop as an offer; nothing heats.
func (d *Daemon) recall() {
	if d.o.Records == "" {
		return
	}
	d.identify()
	path, foreign, most, err := newest(d.o.Records, d.folder, d.o.Simulated)
	d.order.Store(most)
	if foreign != "" {
		defer d.noteForeign(foreign)
	}
	if err == nil && path == "" {
		return
	}
	var r *recalled
	if err == nil {
		r, err = read(path)
	}
	if err == nil {
		err = d.offer(r)
	}
	if err != nil && !errors.Is(err, errEnded) {
		d.noteUnoffered(path, err)
	}
}

// CutOff is the id of the batch in a folder of records that a start would offer;
// "" if there is none.
func CutOff(folder string) (id string, err error) {
	name, err := identity(folder)
	if err != nil {
		return "", err
	}
	path, _, _, err := newest(folder, name, false)
	if err != nil || path == "" {
		return "", err
	}
	r, err := read(path)
	if err != nil || r.head.Simulated || !r.head.Guarded {
		return "", nil // ended, or nothing that could be gone on with: no start offers it
	}
	return r.id, nil
}

// read goes through a record twice: once for what happened and where the last
// checkpoint stands, then from there by a replay to the very last tick.
func read(path string) (*recalled, error) {
	about, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	f, err := record.View(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	reader, err := record.Read(f)
	if err == nil {
		err = reader.Foreign() // nothing goes on from what is not known whole
	}
	if err != nil {
		return nil, err
	}
	r := &recalled{path: path, id: strings.TrimSuffix(filepath.Base(path), RecordSuffix), head: reader.Head, wall: about.ModTime(), first: -1, late: follow.Noted(&reader.Head)}
	tick, err := r.through(reader)
	if err != nil {
		return nil, err
	}
	again, err := record.Read(f)
	if err != nil {
		return nil, err
	}
	result, err := record.ReplayFrom(again, tick)
	var damage *record.Damage
	if err != nil && !errors.As(err, &damage) && result.Ticks > 0 {
		return nil, err
	} // no tick behind the checkpoint is an error to a replay; here nothing is better
	if result.Known && result.Difference == nil {
		r.last, r.true = result.Last, true
	}
	if free(r.last.State.Mode) {
		return nil, errEnded // or never begun
	}
	if r.trip != interlock.NoRule {
		r.last.Guard.Marks[r.trip].State = interlock.Tripped // whatever else is not known, this is
	}
	return r, nil
}

// through reads to the end, and returns the tick before the last checkpoint.
// Where a record is damaged, what stands before is true.
func (r *recalled) through(reader *record.Reader) (tick uint64, err error) {
	day, armed := r.day(), r.armed()
	r.mash.NoGrain = enzymes.NoGrain(&r.head.Config)
	r.wort = wort.New(day.Profile, r.head.Config)
	var past uint64
	have := false
	for {
		b, err := reader.Next()
		var damage *record.Damage
		switch {
		case err == io.EOF || errors.As(err, &damage):
			if !have {
				return 0, errors.New("it holds no state that this version of the program can read: end that batch by hand, and begin a new one")
			}
			return tick, nil
		case err != nil:
			return 0, err
		}
		switch b.Kind {
		case record.KindStart, record.KindCheckpoint:
			if b.Strange == nil {
				r.last, tick, have = b.Checkpoint, past, true
			}
		case record.KindTick:
			past = b.Tick.Number
			r.add(&b.Tick, day, armed)
		case record.KindNote:
			r.note(b.Note)
		case record.KindEnd:
			return 0, errEnded
		case record.KindHead, record.KindGap, record.KindForecast:
		}
	}
}

// note takes in what the daemon noted when it began to record.
func (r *recalled) note(text string) {
	if boot, ok := wall.ParseBoot(text); ok {
		r.boot, r.began = boot, time.Time{}
	}
	if at, ok := timeOf(text); ok {
		r.began, r.ran, r.first = at, 0, -1
	}
}

// add keeps of one tick what people may want to see again.
func (r *recalled) add(t *record.Tick, day say.Day, armed time.Time) {
	r.trip = t.Trip
	if r.first < 0 {
		r.first = t.In.Now
	}
	r.ran = t.In.Now - r.first
	r.mash.Tick(t)
	r.wort.Tick(t)
	r.late.Tick(t)
	r.past.add(&loop.Frame{Tick: t.In, Permitted: t.Permitted, Decision: controller.Decision{
		Clock: t.Clock, Index: t.Index, Estimate: t.Estimate, HasEstimate: t.HasEstimate, Target: t.Target, HasTarget: t.HasTarget,
	}}, &r.mash.Course)
	for _, e := range t.Events {
		if text := day.Sentence(e, t.In.Command); text != "" && len(r.log) < mostEntries {
			r.log = append(r.log, Entry{At: t.Clock, Wall: armed.Add(t.Clock), Kind: e.Kind, Text: text})
		}
	}
}

func (r *recalled) day() say.Day {
	p, _ := profile.Parse("profile.yaml", []byte(r.head.ProfileText))
	return say.Day{Profile: p, Config: r.head.Config}
}

func (r *recalled) armed() time.Time {
	t, err := time.Parse(time.RFC3339, r.head.Began)
	if err != nil {
		return time.Time{}
	}
	return t
}

// offer puts the batch before the loop. It goes on with all that it was armed
// with: profile, configuration and limits are those of the record.
func (d *Daemon) offer(r *recalled) error {
	if r.head.Simulated != d.o.Simulated {
		return fmt.Errorf("it is of a simulated kettle (%v), and this one is not the same (%v): it is left alone", r.head.Simulated, d.o.Simulated)
	}
	if !r.head.Guarded {
		return errors.New("it holds no memory of the interlock")
	}
	b, err := d.batchOf(r)
	if err != nil {
		return err
	}
	now := d.boot()
	away, known := d.away(r, now)
	state := r.last.State.Offer(away, known)
	d.put(b, r.head.Config, r.head.Limits)
	d.loop.Verifier.Params = r.head.Checks
	d.loop.State, d.loop.Guard, d.loop.Watch = state, r.last.Guard.Restarted(), r.last.Watch.Restarted()
	d.past, d.log, d.mash, d.wort, d.late = r.past, r.log, r.mash, r.wort, r.late
	d.mash.Restarted()
	d.cut = &cutOff{
		sameRig: r.head.RigText == string(d.o.RigText), rigLine: differFrom([]byte(r.head.RigText), d.o.RigText),
		sameProfile: b.File != "", sameCore: d.sameCore(b), whole: r.true,
		cause: now.Cause(r.boot), restarts: d.o.Restarts, within: r.head.ResumeWithin,
	}
	d.kettle.Restore(b.Profile, state)
	d.goOnRecording(b, r.path, now)
	if g := state.Deeds.Grain; g.Mass > 0 {
		d.batch = b.regrained(g, &state, d.o.Rig.PlanKettle())
	}
	if d.o.Began != nil {
		d.o.Began(b)
	}
	d.o.Log.Warn("a batch was cut off, and is offered", "batch", b.ID, "step", state.Index, "earned", state.Earned,
		"away", away, "clock trusted", known, "exact", r.true)
	return nil
}

// away is how long no process was there, by the wall clock where it can be trusted.
// One that cannot be is not asked: nothing may hang on what it shows.
func (d *Daemon) away(r *recalled, now wall.Boot) (length time.Duration, known bool) {
	length = d.o.Now().Sub(r.wall)
	if !now.Trusts(r.boot) || !r.untouched() || length < 0 {
		return 0, false
	}
	return length, true
}

// batchOf is the batch as it was when it was armed.
func (d *Daemon) batchOf(r *recalled) (*Batch, error) {
	text := []byte(r.head.ProfileText)
	file := d.fileOf(text)
	p, faults := profile.Parse("profile.yaml", text)
	if strict.Refused(faults) {
		return nil, &Refusal{faults}
	}
	made, _ := plan.Make(p, d.o.Rig.PlanKettle())
	return &Batch{
		ID: r.id, File: file, Text: text, Hash: d.hash(text), Profile: p, Plan: made,
		Say: say.Day{Profile: p, Config: r.head.Config}, Armed: r.armed(), ResumeWithin: r.head.ResumeWithin,
	}, nil
}

// fileOf is the name of the profile in the folder that is still the same text;
// "" if there is none.
func (d *Daemon) fileOf(text []byte) string {
	list, err := d.Profiles()
	if err != nil {
		return ""
	}
	for _, p := range list {
		if p.Hash == d.hash(text) {
			return p.ID + ".yaml"
		}
	}
	return ""
}

// sameCore tells whether this program on this rig would run the batch as it
// was armed.
func (d *Daemon) sameCore(b *Batch) bool {
	c, l := d.made(b)
	return c == d.loop.Core.Config && l == d.loop.Limits && !strict.Refused(config.Check(b.Profile, d.o.Rig))
}

// goOnRecording goes on in the same record. A batch whose record cannot be gone
// on with is offered all the same, and it is said.
func (d *Daemon) goOnRecording(b *Batch, path string, now wall.Boot) {
	file, cut, err := record.Open(path)
	if err == nil && cut > 0 {
		d.o.Log.Warn("the end of the record was torn: it is kept beside it", "record", path, "bytes", cut)
	}
	if err == nil {
		b.recorder, err = record.Continue(file, d.loop.State, d.recording())
		if err != nil {
			err = errors.Join(err, file.Close())
		}
	}
	if err != nil {
		b.recorder = nil
		d.o.Log.Error("the record does not go on", "batch", b.ID, "error", err)
		d.tell(Entry{At: d.loop.State.Clock, Wall: d.o.Now(), Text: "From here on this batch is not recorded: " + err.Error() + "."})
		return
	}
	b.storage = file
	d.noteStart(b.recorder, now)
	d.loop.Watchers = append(d.watchers(), b.recorder)
}

// boot is what is known of this start of the computer and its clock.
func (d *Daemon) boot() wall.Boot {
	if d.o.Boot == nil {
		return wall.Boot{}
	}
	return d.o.Boot()
}
