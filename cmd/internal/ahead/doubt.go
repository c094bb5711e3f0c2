package ahead

import (
	"math"
	"time"

	"mashward/controller/unit"
)

// How well things are known, as relative standard deviations unless a unit says
// otherwise. The stated ones stand with their reason; the others were fitted on
// random kettles (which seeds stands in score_test.go).
const (
	// Mains 5 % off make power 10 % off: evenly spread, that is this.
	powerDeclared = 0.066
	// A water test knows the element; the mains of the day are its own, some per
	// cent from what they were then.
	powerTested = 0.033
	// The strike heat-up has shown power over load.
	rateSeen = 0.012
	// It may have been the volume as well as the power: the mash tells them apart.
	rateInMash = 0.015
	// So much of a gain beside 1 may be the one or the other.
	gainOpen = 0.25
	// A heat-up of this mash has been fitted.
	rateFitted = 0.008
	// The wort's volume after the lift is as planned, until it is read.
	rateInWort    = 0.016
	volumePlanned = 0.012
	// A chiller: nobody has declared it. 12 W/K a litre of wort (common practice,
	// no source: 300 W/K at 25 L), within a factor of 1.5 in nine cases of ten.
	chillGuess = 0.24
	chillSeen  = 0.05
	// What an open kettle really gives off as vapour, against what is reckoned for
	// its surface: pools without a rim and kettles with one are far apart.
	openMean, openWide = 1.3, 0.52
	// What the rise shows of it, as a share.
	openSeen = 0.3
	// What is lost beyond the declared at mash temperatures is so much more at the boil.
	spareAtBoil = 1.6

	// nine is how many standard deviations hold nine of ten: a normal law's 1.645,
	// and a little for tails that are longer than its.
	nine = 2
)

// instant is a time that is not known exactly. What is in doubt about the power
// over the load of all that is heated, and about the chiller, adds up; the rest
// adds as chance does.
type instant struct {
	at    float64 // s since arming
	rate  float64 // s, one standard deviation
	chill float64 // s, one standard deviation
	early float64 // s, of the hot break: by how much it may be sooner
	late  float64 // s, and later
	own   float64 // s²
}

// after is the instant some seconds later, known so well: one standard deviation.
func (i instant) after(seconds, own float64) instant {
	i.at += seconds
	i.own += own * own
	return i
}

func (i instant) deviation(side float64) float64 {
	return math.Sqrt(i.rate*i.rate + i.chill*i.chill + i.own + side*side)
}

// span is the band around it; nothing of it lies before now.
func (i instant) span(now time.Duration) Span {
	early, late := i.at-nine*i.deviation(i.early), i.at+nine*i.deviation(i.late)
	return Span{At: max(now, seconds(i.at)), Early: max(now, seconds(early)), Late: max(now, seconds(late))}
}

// exactly is an instant that is known.
func exactly(at time.Duration) Span { return Span{At: at, Early: at, Late: at} }

func seconds(s float64) time.Duration {
	const most = 1e6 // s: nothing here is longer, and a duration must not overflow
	return time.Duration(min(max(s, -most), most) * float64(time.Second))
}

// energy is what goes in, as a sum with its doubt.
type energy struct{ joules, variance float64 }

func (e *energy) add(joules, doubt float64) {
	e.joules += joules
	e.variance += joules * doubt * joules * doubt
}

func (e *energy) within() (low, high unit.Joules) {
	wide := nine * math.Sqrt(e.variance)
	return unit.Joules(max(0, e.joules-wide)), unit.Joules(e.joules + wide)
}
