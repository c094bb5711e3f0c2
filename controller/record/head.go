package record

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"runtime"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/verify"
	"mashward/profile"
)

// Head says what a record is of. The caller of New fills it in, but for Guarded,
// Arch and Shapes.
type Head struct {
	Program   string // version of the program
	Simulated bool
	Began     string // wall clock at arming as the caller trusts it, RFC 3339; "" = unknown
	// Order is the place among the records of one folder, which no clock and no
	// copying changes: a new one's is higher than all before. 0: not told.
	Order uint64 `json:",omitempty"`
	// Folder is the name of the folder that it was begun in, which no copying of a
	// record changes. "": not told.
	Folder  string `json:",omitempty"`
	Profile string // its name
	// The files as they were read.
	ProfileText string
	RigText     string
	// Words for steps and additions, by their index; may be shorter or nil.
	StepNames     []string `json:",omitempty"`
	AdditionNames []string `json:",omitempty"`

	// Plan is the plan as it was made at arming, in the form of whoever tells of it;
	// nothing here reads it.
	Plan json.RawMessage `json:",omitempty"`

	// ResumeWithin is the longest outage after which the batch may go on by
	// itself, as chosen at arming; 0: a person is asked.
	ResumeWithin time.Duration `json:",omitempty"`

	Config controller.Config // all that the core knew
	Limits interlock.Limits  // all that the interlock knew
	Checks verify.Params     // all that the checks knew of the kettle

	Guarded bool   // the guard is in the checkpoints
	Arch    string // machine the record was made on, as Go names it
	Shapes  Shapes
}

// Shapes tell the layouts of what is recorded whole. A program whose layout is
// another cannot read a checkpoint, or compare a hash, and must not try.
type Shapes struct {
	State, Guard, Watch, Decision, Proposal string
}

func shapes() Shapes {
	return Shapes{
		State: shapeOf(new(controller.State)), Guard: shapeOf(new(interlock.Guard)), Watch: shapeOf(new(verify.State)),
		Decision: shapeOf(new(controller.Decision)), Proposal: shapeOf(new(controller.Proposal)),
	}
}

// encode writes the head as text that a person can read without this program.
// It is read back and compared: what would not come back is refused now.
func (h Head) encode() ([]byte, error) {
	h.Arch, h.Shapes = runtime.GOARCH, shapes()
	text, err := json.Marshal(h)
	if err != nil {
		return nil, fmt.Errorf("head of the record: %w: every figure of the rig has to be a number", err)
	}
	if len(text) > maxPayload {
		return nil, fmt.Errorf("head of the record: %d bytes, more than %d: profile and rig file are too long", len(text), maxPayload)
	}
	back, foreign, err := decodeHead(text)
	if err := cmp.Or(err, foreign); err != nil {
		return nil, err
	}
	if back.Config != h.Config || back.Limits != h.Limits || back.Checks != h.Checks {
		return nil, fmt.Errorf("head of the record: configuration or limits do not come back as they were written: do not start, report this")
	}
	return text, nil
}

// decodeHead reads a head. Of one that another version wrote it takes what this one
// knows, and foreign says what that was: such a record can be looked at, but a replay
// without the rest would be another batch.
func decodeHead(text []byte) (h Head, foreign, err error) {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&h); err != nil {
		foreign = fmt.Errorf("head of the record: %w: read it with the version of the program that wrote it", err)
		h = Head{}
		var other *json.UnmarshalTypeError // all the rest has been read
		if err := json.Unmarshal(text, &h); err != nil && !errors.As(err, &other) {
			return Head{}, nil, foreign
		}
	}
	for i, s := range h.Config.Steps {
		if s.From > profile.MaxAdditions || s.To > profile.MaxAdditions {
			return Head{}, nil, fmt.Errorf("head of the record: step %d has additions up to %d, more than %d", i, max(s.From, s.To), profile.MaxAdditions)
		}
	}
	if h.Config.Count > profile.MaxSteps+1 || h.Config.First > profile.MaxSteps {
		return Head{}, nil, fmt.Errorf("head of the record: %d steps from %d on, more than %d", h.Config.Count, h.Config.First, profile.MaxSteps+1)
	}
	return h, foreign, nil
}

// Checkpoint is all that core, interlock and checks remember at one instant.
type Checkpoint struct {
	State controller.State
	Guard interlock.Guard
	Watch verify.State
}

// append encodes the checkpoint.
func (c *Checkpoint) append(dst []byte) []byte { return appendPlain(dst, c) }

// read decodes a checkpoint and refuses one that the core could not go on
// from: a sum tells that bytes are as they were written, not that they make
// sense.
func (c *Checkpoint) read(src []byte) error {
	if err := readWhole(src, c); err != nil {
		return err
	}
	s := &c.State
	if s.Index > profile.MaxSteps || s.Undo.Index > profile.MaxSteps || s.Count > profile.MaxSteps+1 {
		return fmt.Errorf("step %d of %d cannot be", s.Index, s.Count)
	}
	for i := range s.Steps {
		if s.Steps[i].From > profile.MaxAdditions || s.Steps[i].To > profile.MaxAdditions {
			return fmt.Errorf("additions of step %d cannot be", i)
		}
	}
	if n := uint8(len(s.Filter.Ring)); s.Filter.Head >= n || s.Filter.Filled > n {
		return fmt.Errorf("the filter's ring stands at %d of %d", s.Filter.Head, n)
	}
	return nil
}

// Gap says that ticks were lost.
type Gap struct {
	Ticks uint64 // how many
}

// End says how the batch ended.
type End struct {
	Mode   controller.Mode
	Reason controller.Reason
}
