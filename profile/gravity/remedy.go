package gravity

import (
	"math"
	"time"

	"mashward/controller/unit"
)

// within is how close to a target a wort is left as it is: no hydrometer is
// read more finely.
const within unit.SpecificGravity = 0.0005

// longestRemedy is where more boiling is no remedy any more.
const longestRemedy = 4 * time.Hour

// Remedy is what brings wort to a gravity: more boil, or water. Both zero: it
// is there already, within 0.0005.
type Remedy struct {
	Boil  time.Duration // more of it, at the rate that was given
	Water unit.Litres   // cold, to add
	Gone  unit.Litres   // cold, boiled off by then
	After Wort
}

// Meet says what brings wort to a gravity, before it is boiled or after. rate
// is what the boil takes. A wort that is too weak is boiled longer, one that is
// too strong gets water. The error is a *Refusal.
func Meet(w Wort, target unit.SpecificGravity, rate unit.LitresPerSecond) (Remedy, error) {
	if !(w.Volume > 0) || !(w.Gravity > 1) || !(target > 1) || !(target <= 1.2) || !finite(float64(w.Volume)) || !finite(float64(w.Gravity)) {
		return Remedy{}, refuse("give volume and gravity of the wort, and a target such as 1.050", "a wort or a target without extract cannot be met")
	}
	if d := w.Gravity - target; d > -within && d < within {
		return Remedy{After: w}, nil
	}
	wanted := unit.Litres(w.Points() / 1000 / (float64(target) - 1))
	r := Remedy{After: Wort{Volume: wanted, Gravity: target}}
	if wanted > w.Volume {
		r.Water = wanted - w.Volume
		return r, nil
	}
	r.Gone = w.Volume - wanted
	if !(rate > 0) || !finite(float64(rate)) {
		return Remedy{}, refuse("say what the boil takes, as boil_off: 2.4 L/h", "%.1f L have to go, and nothing is known of the boil", float64(r.Gone))
	}
	seconds := math.Ceil(float64(r.Gone) / float64(rate))
	if seconds > longestRemedy.Seconds() {
		return Remedy{}, refuse("accept a lower gravity, add extract, or boil harder with somebody there",
			"%.1f L have to go, and at %.1f L/h that is %.1f h more of boil", float64(r.Gone), float64(rate)*3600, seconds/3600)
	}
	r.Boil = time.Duration(seconds) * time.Second
	return r, nil
}

// Evaporation is what a boil took, told by two readings in two ways. Where they
// are far apart one of the readings is wrong.
type Evaporation struct {
	ByVolume  unit.LitresPerSecond // from both volumes
	ByGravity unit.LitresPerSecond // from the first volume and both gravities
}

// Seen learns the evaporation of a boil from a reading before and one after
// some time of it. The error is a *Refusal: the two cannot be of one wort.
func Seen(before, after Wort, took time.Duration) (Evaporation, error) {
	const shortest = 10 * time.Minute
	if took < shortest {
		return Evaporation{}, refuse("read again after half an hour of boil", "%.0f min of boil are too short to tell", took.Minutes())
	}
	if !(before.Volume > 0) || !(after.Volume > 0) || !(before.Gravity > 1) || !(after.Gravity >= before.Gravity) || after.Volume > before.Volume {
		return Evaporation{}, refuse("read both again, each with its temperature", "%.1f L of %.3f do not become %.1f L of %.3f by boiling",
			before.Volume, float64(before.Gravity), after.Volume, float64(after.Gravity))
	}
	left := before.Points() / 1000 / float64(after.Gravity-1)
	return Evaporation{
		ByVolume:  unit.LitresPerSecond(float64(before.Volume-after.Volume) / took.Seconds()),
		ByGravity: unit.LitresPerSecond((float64(before.Volume) - left) / took.Seconds()),
	}, nil
}

// Shorter is by how much less a boil does what the water of a remedy would: the
// wort that Meet was asked about stands at its end, and so much of it is still to
// come. False: there is no water in it, or so much boil is not left.
func (r Remedy) Shorter(rate unit.LitresPerSecond, left time.Duration) (time.Duration, bool) {
	if !(r.Water > 0) || !(rate > 0) || !finite(float64(rate)) {
		return 0, false
	}
	seconds := math.Round(float64(r.Water) / float64(rate))
	if seconds < 1 || seconds > left.Seconds() {
		return 0, false
	}
	return time.Duration(seconds) * time.Second, true
}
