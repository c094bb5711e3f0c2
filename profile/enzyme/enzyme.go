// Package enzyme estimates over the temperatures of a mash what is left of the
// beta- and alpha-amylase that came in with the malt, what each rest added, and
// when a rest has nothing more to give.
//
// Every figure is an estimate and comes as a band, since the sources are apart
// by a factor of two to three. They are
//
//   - Brandam, Meyer, Proth, Strehaiano and Pingaud, Biochem. Eng. J. 13 (2003)
//     43-52: first-order loss of both enzymes, gelatinisation, activity over
//     temperature. The constants of the losses and of gelatinisation are from
//     memory; the activities are a refit of theirs that others published.
//   - R. Muller, Brewing Research Foundation, 1990, as quoted: in a thick mash at
//     65 °C 17 % of the beta-amylase is left after half an hour, 2.8 times slower
//     than the former.
//
// Some published observations lie outside even of the band: malts without any
// beta-amylase after 45 min of a Congress mash, and nine tenths of it alive after
// two hours at 63 °C in strong maltose. How fast the enzymes work on starch is not
// taken from a source but chosen (attack.go says how). So the figures put mashes
// in order; they do not foretell an attenuation. Limit dextrins, proteins and
// glucans are not in them, and neither is the sugar that alpha-amylase frees by
// itself.
package enzyme

import (
	"encoding/json"
	"math"
	"time"

	"mashward/controller/unit"
)

// Note is what must stand with every figure of this package.
const Note = "an estimate between sources that disagree (Brandam 2003, Muller 1990): it puts mashes in order and foretells no attenuation"

// Lowest and Highest bound what is answered. The sources speak of some 40 to
// 78 °C; a little beyond, nothing gelatinises or nothing is left alive. Further
// out, and after a gap longer than LongestGap, what is left is not known, and
// stays so.
const (
	Lowest  unit.Celsius = 30
	Highest unit.Celsius = 82

	LongestGap = 10 * time.Minute
)

// The members of a band, by index.
const (
	low = iota
	mid
	high
	curves
)

// Band is an estimate: between Low and High, Mid where one figure is wanted.
type Band struct {
	Low, Mid, High unit.Ratio
}

// MarshalJSON writes a band with three digits, so that it does not change with
// the processor.
func (b Band) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Low  float64 `json:"low"`
		Mid  float64 `json:"mid"`
		High float64 `json:"high"`
	}{rounded(b.Low), rounded(b.Mid), rounded(b.High)})
}

func rounded(r unit.Ratio) float64 { return math.Round(float64(r)*1000)/1000 + 0 }

// Curve is one course between the sources. Raw, Gelled, Dextrin and Sugar are
// shares of the starch that beta-amylase can reach at all, and add up to 1.
type Curve struct {
	Beta, Alpha float64 // activity left, share of what came in
	Raw         float64 // not gelatinised
	Gelled      float64 // gelatinised and whole
	Dextrin     float64 // opened by alpha-amylase
	Sugar       float64 // split off by beta-amylase
}

// State is how far a mash has come: a plain value. The zero value is a kettle
// without grain, of which nothing is known.
type State struct {
	Curves [curves]Curve
	At     unit.Celsius // temperature at the end of what was counted
	Begun  bool         // the grain is in
	Lost   bool         // it was out of range, or unseen for too long
}

// MashIn is the moment the grain is in, at the temperature of the mash.
func MashIn(t unit.Celsius) State {
	s := State{At: t, Begun: true, Lost: !inside(t)}
	for i := range s.Curves {
		s.Curves[i] = Curve{Beta: 1, Alpha: 1, Raw: 1}
	}
	return s
}

func inside(t unit.Celsius) bool { return t >= Lowest && t <= Highest } // false for no number

// Known tells whether there is a mash of which something is known.
func (s State) Known() bool { return s.Begun && !s.Lost }

// stride is the longest piece that is counted at once.
const stride = 10 * time.Second

// After is the state when d has passed, in which the mash came from where it was
// to t in a straight line. No time changes nothing but the temperature.
func (s State) After(d time.Duration, t unit.Celsius) State {
	if !s.Known() {
		return s
	}
	if !inside(t) || d > LongestGap {
		s.Lost = true
		return s
	}
	if d > 0 {
		s.count(d, t)
	}
	s.At = t
	return s
}

// count goes on by d in pieces of at most stride.
func (s *State) count(d time.Duration, t unit.Celsius) {
	pieces := int((d + stride - 1) / stride)
	seconds := d.Seconds() / float64(pieces)
	r := ratesAt(s.At)
	for i := range pieces {
		if t != s.At {
			r = ratesAt(s.At + (t-s.At)*unit.Celsius((float64(i)+0.5)/float64(pieces)))
		}
		for k := range s.Curves {
			s.Curves[k].pass(seconds, r[k])
		}
	}
}

// pass is one piece at constant rates. Each reaction is exact in itself; taking
// them there and back again leaves an error of the third order. So nothing can
// become negative, and nothing is lost.
func (c *Curve) pass(seconds float64, r rates) {
	betaLeft, beta := decay(r.betaLoss * seconds)
	alphaLeft, alpha := decay(r.alphaLoss * seconds)
	half := seconds / 2
	split := math.Exp(-r.split * beta * c.Beta * half)
	open := math.Exp(-r.open * alpha * c.Alpha * half)
	c.move(&c.Dextrin, &c.Sugar, split)
	c.move(&c.Gelled, &c.Dextrin, open)
	c.move(&c.Raw, &c.Gelled, math.Exp(-r.gel*seconds))
	c.move(&c.Gelled, &c.Dextrin, open)
	c.move(&c.Dextrin, &c.Sugar, split)
	c.Beta *= betaLeft
	c.Alpha *= alphaLeft
}

// move leaves the share stays where it is and carries the rest on.
func (*Curve) move(from, to *float64, stays float64) {
	gone := *from * (1 - stays)
	*from -= gone
	*to += gone
}

// decay is what is left of a decay by x time constants, and the mean on the way.
func decay(x float64) (left, mean float64) {
	if x < 1e-9 {
		return 1 - x, 1
	}
	gone := -math.Expm1(-x)
	return 1 - gone, gone / x
}

// Estimate is what can be said of a mash at one moment.
type Estimate struct {
	BetaLeft    Band `json:"beta_left_ratio"`   // of what came in with the malt
	AlphaLeft   Band `json:"alpha_left_ratio"`  //
	Gelatinised Band `json:"gelatinised_ratio"` // of the starch that can be reached
	Dextrin     Band `json:"dextrin_ratio"`     // of it, opened by alpha-amylase and not made sugar
	Sugar       Band `json:"sugar_ratio"`       // of it, made fermentable by beta-amylase
}

// Estimate is what can be said now; false: not known, or no grain.
func (s State) Estimate() (Estimate, bool) {
	if !s.Known() {
		return Estimate{}, false
	}
	return Estimate{
		BetaLeft:    s.band(func(c Curve) float64 { return c.Beta }),
		AlphaLeft:   s.band(func(c Curve) float64 { return c.Alpha }),
		Gelatinised: s.band(func(c Curve) float64 { return 1 - c.Raw }),
		Dextrin:     s.band(func(c Curve) float64 { return c.Dextrin }),
		Sugar:       s.band(func(c Curve) float64 { return c.Sugar }),
	}, true
}

func (s State) band(of func(Curve) float64) Band {
	return bandOf(func(k int) float64 { return of(s.Curves[k]) })
}

// bandOf puts the three courses in order: the middle one stays what it is.
func bandOf(of func(k int) float64) Band {
	a, b, c := of(low), of(mid), of(high)
	return Band{unit.Ratio(min(a, b, c)), unit.Ratio(b), unit.Ratio(max(a, b, c))}
}

// Gain is what the time between two states added, as shares of the starch that
// can be reached. Dextrin is all that alpha-amylase opened, with what of it became
// sugar at once.
type Gain struct {
	Gelatinised Band `json:"gelatinised_ratio"`
	Dextrin     Band `json:"dextrin_ratio"`
	Sugar       Band `json:"sugar_ratio"`
}

// Since is what was added since an earlier state of the same mash; false: not
// known.
func (s State) Since(before State) (Gain, bool) {
	if !s.Known() || !before.Known() {
		return Gain{}, false
	}
	more := func(of func(Curve) float64) Band {
		return bandOf(func(k int) float64 { return of(s.Curves[k]) - of(before.Curves[k]) })
	}
	return Gain{
		Gelatinised: more(func(c Curve) float64 { return 1 - c.Raw }),
		Dextrin:     more(opened),
		Sugar:       more(func(c Curve) float64 { return c.Sugar }),
	}, true
}

// opened is all that alpha-amylase has opened so far.
func opened(c Curve) float64 { return c.Dextrin + c.Sugar }

// When a rest has nothing more to give.
const (
	ahead     = 10 * time.Minute
	littleOf  = 0.02             // of the starch, made sugar
	openLeast = 0.005            // of the starch, opened: what is left whole is seen in the wort long before it is a loss
	pace      = 30 * time.Second // good enough for a glance ahead
	tooEarly  = 0.5              // while more than this is raw, little comes because it is too early
)

// Spent tells whether a rest at t has nothing more to give: at least half of the
// starch is gelatinised, and by the middle of the band another 10 min would make
// less than 2 % of it sugar; and would open less than 0.5 % of it. False where that
// is not known.
func (s State) Spent(t unit.Celsius) (sugar, opening bool) {
	if !s.Known() || !inside(t) || s.Curves[mid].Raw > tooEarly {
		return false, false
	}
	was, r := s.Curves[mid], ratesAt(t)[mid]
	is := was
	for passed := time.Duration(0); passed < ahead; passed += pace {
		is.pass(pace.Seconds(), r)
	}
	return is.Sugar-was.Sugar < littleOf, opened(is)-opened(was) < openLeast
}
