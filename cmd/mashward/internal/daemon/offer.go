package daemon

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
)

// ErrNotOffered says that there is nothing to go on with.
var ErrNotOffered = errors.New("no batch is offered, or it is another one: look at the state")

// ErrOtherRig says that the rig is not the one the batch was armed on.
var ErrOtherRig = errors.New("the rig file is not the one this batch was armed with: put it back and start mashward again, or end the batch")

// Offer is what is known of a batch that was cut off. It is never changed after
// it has been published.
type Offer struct {
	Stopped  time.Time     // by the wall clock; zero where nobody can trust it
	Length   time.Duration // of the outage, up to now
	Known    bool          // Length is, by the clock
	Cooled   Cooling       // what the temperature says about it
	Weighed  bool          // there have been readings enough to ask the temperature
	Cause    string        // what ended mashward; "" is not known
	Alone    string        // why it does not go on by itself; "" until that is known, or where nobody chose it
	OtherRig bool          // it cannot go on on this rig
	RigLine  int           // from which line on the rig file is another
}

// Cooling is how long an outage was by the fall of the temperature.
type Cooling struct {
	Least, About, Most time.Duration
	Known              bool
}

// Figures of the cooling.
const (
	// A lid that is on or off, a draught: the loss is known to this factor.
	lossFactor = 1.5
	// Below this over the room the fall tells nothing.
	leastOver unit.Kelvin = 5
	// A reading is off by so much, and the element's last heat comes late.
	readingOff unit.Kelvin = 1
	// Nothing that took longer is worth a figure.
	longestCooling = 48 * time.Hour
)

// cooling asks the temperature how long ago heat ended, by the declared loss
// and what stands in the kettle: (T-Ta) falls as exp(-UA t/C).
func cooling(c *controller.Config, s *controller.State, now unit.Celsius) Cooling {
	over, left := float64(s.Outage.At-c.Room), float64(now-c.Room)
	if !s.Outage.Read || over < float64(leastOver) || left < float64(leastOver) || c.Loss <= 0 || s.Load <= 0 {
		return Cooling{}
	}
	half := float64(s.Load) / float64(c.Loss) // s
	after := func(left, factor float64) time.Duration {
		t := half / factor * math.Log(over/left)
		return time.Duration(min(max(t, 0), longestCooling.Seconds()) * float64(time.Second))
	}
	return Cooling{
		Least: after(left+float64(readingOff), lossFactor), About: after(left, 1),
		Most: after(max(left-float64(readingOff), 0.1), 1/lossFactor), Known: true,
	}
}

// fallen is how far the kettle can have fallen in that time, with everything
// that speeds it.
func fallen(c *controller.Config, s *controller.State, length time.Duration) unit.Kelvin {
	over := max(0, float64(s.Outage.At-c.Room))
	if s.Load <= 0 {
		return 0
	}
	model := over * (1 - math.Exp(-float64(c.Loss)*length.Seconds()/float64(s.Load)))
	return unit.Kelvin(lossFactor * model)
}

// cutOff is what the daemon knows of the batch it offers, beside its state.
type cutOff struct {
	sameRig, sameProfile, sameCore bool
	rigLine                        int  // from which the rig file is another
	whole                          bool // the state is that after the last tick recorded
	cause                          string
	restarts                       int
	within                         time.Duration

	row
	cooled  Cooling
	weighed bool
	alone   string
	decided bool // whether it goes on by itself
}

// readEnough is how many readings in a row, over what time, make a temperature
// that an offer may rest on.
const (
	readEnough = 10
	readSpan   = 15 * time.Second
)

// row counts good readings that follow each other.
type row struct {
	readings int
	first    time.Duration // run clock of the first of them
	newest   time.Duration
}

// take takes in one tick; false where it brought no new one.
func (w *row) take(f *loop.Frame) bool {
	r := f.Tick.Reading
	switch {
	case !r.Good() || !f.Decision.HasEstimate:
		w.readings = 0
		return false
	case r.Taken == w.newest && w.readings > 0:
		return false
	case w.readings == 0:
		w.first = r.Taken
	}
	w.readings, w.newest = w.readings+1, r.Taken
	return true
}

func (w *row) enough() bool { return w.readings >= readEnough && w.newest-w.first >= readSpan }

// weigh takes in one tick of an offered batch: its readings, and, once there are
// enough, what they say about the outage.
func (o *cutOff) weigh(f *loop.Frame, c *controller.Config) {
	if !o.take(f) {
		return
	}
	if !o.weighed && o.enough() {
		o.weighed, o.cooled = true, cooling(c, f.State, f.Decision.Filtered)
	}
}

// offered does for an offered batch what a tick asks for. It returns the order
// to go on by itself, once and only where everything speaks for it.
func (d *Daemon) offered(f *loop.Frame) {
	o := d.cut
	if o == nil {
		return
	}
	if f.Decision.Mode != controller.Offered {
		d.cut = nil
		return
	}
	o.weigh(f, &d.loop.Core.Config)
	if o.decided || !o.enough() {
		return
	}
	o.decided = true
	if o.within <= 0 {
		return
	}
	if o.alone = d.facts(f).against(); o.alone != "" {
		d.o.Log.Warn("the batch does not go on by itself", "why", o.alone)
		d.tell(Entry{At: f.Decision.Clock, Wall: d.o.Now(), Text: "It does not go on by itself: " + o.alone + "."})
		return
	}
	d.mine = &order{command: controller.Command{Wish: controller.TakeUpAlone}}
}

// shown is the offer as everyone sees it; nil where there is none.
func (d *Daemon) shown(f *loop.Frame) *Offer {
	o := d.cut
	if o == nil || f.Decision.Mode != controller.Offered {
		return nil
	}
	out := &Offer{
		Length: f.State.Outage.Length, Known: f.State.Outage.Known, Cooled: o.cooled, Weighed: o.weighed,
		Cause: o.cause, Alone: o.alone, OtherRig: !o.sameRig, RigLine: o.rigLine,
	}
	if out.Known {
		out.Stopped = d.o.Now().Add(-out.Length)
	}
	return out
}

// GoOn goes on with the offered batch by a person's word: everything that arming
// asks has been stated again, as nobody knows what happened meanwhile.
func (d *Daemon) GoOn(ctx context.Context, batch string, s Statements) (Reply, error) {
	after := d.queue.stops.Load()
	if d.kettle == nil {
		return Reply{}, ErrDisabled
	}
	last := d.Latest()
	switch {
	case last.Offer == nil || last.Batch == nil || last.Batch.ID != batch:
		return Reply{}, ErrNotOffered
	case last.Offer.OtherRig:
		return Reply{}, ErrOtherRig
	case last.Trip != interlock.NoRule:
		return Reply{}, ErrTripped
	}
	if err := d.answers(); err != nil {
		return Reply{}, err
	}
	if err := s.again(last); err != nil {
		return Reply{}, err
	}
	return d.send(ctx, &order{command: controller.Command{Wish: controller.TakeUp, Volume: unit.Litres(s.Litres)}, after: after})
}

// again demands all four statements of a kettle in the middle of its day.
func (s Statements) again(last *Snapshot) error {
	if least, most := Holds(last); !(s.Litres >= least && s.Litres <= most) {
		return &Unstated{fmt.Sprintf("the kettle should hold %.1f to %.1f L now and you state %.1f L: look where the rest went, and top up or end the batch", least, most, s.Litres)}
	}
	return s.seen()
}

// swollen is how much more hot water takes than cold (4 % at the boil).
const swollen = 0.04

// Holds is what may stand in the kettle of an offered batch, in litres as read
// from it: the water, more by the grain in it; after the lift whatever keeps the
// element covered, of no more than there was.
func Holds(last *Snapshot) (least, most float64) {
	p, c := &last.Batch.Profile, &last.Batch.Say.Config
	water := float64(p.Water)
	switch {
	case last.Decision.Lifted:
		return float64(c.CoveredAt + controller.LevelMargin), water
	case last.GrainIn:
		return water * (1 - litresWithin), (water + float64(heat.Displaced(p.Grain.Mass))) * (1 + litresWithin + swollen)
	}
	return water * (1 - litresWithin), water * (1 + litresWithin + swollen)
}

// facts is what the rules of going on by itself look at.
func (d *Daemon) facts(f *loop.Frame) facts {
	o, s, dec := d.cut, f.State, &f.Decision
	length, known := s.Outage.Length, s.Outage.Known
	if !known && o.cooled.Known {
		length, known = o.cooled.Most, true
	}
	return facts{
		within: o.within, cause: o.cause, readings: o.readings, span: o.newest - o.first,
		read: s.Outage.Read, was: s.Outage.At, now: dec.Filtered, fallen: fallen(&d.loop.Core.Config, s, length),
		length: length, known: known, stated: !s.Bare && !s.AskedGrain, clock: dec.Clock, lasts: d.loop.Core.Config.ArmingLasts(), stops: d.queue.stops.Load(),
		tripped: f.Verdict.Trip != interlock.NoRule, restarts: o.restarts,
		same: o.sameRig && o.sameProfile && o.sameCore && o.whole, ran: s.Outage.From == controller.Running,
		mash: !dec.Lifted && dec.Kind <= profile.MashOut,
	}
}
