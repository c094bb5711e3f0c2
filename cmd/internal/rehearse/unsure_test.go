package rehearse

import (
	"math"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/sim"
)

// drawn are the figures of the table, each as a factor or a difference, and how
// they have to be spread: the least and the most that may be drawn, and the mean
// and the standard deviation of that distribution.
var drawn = []struct {
	name        string
	of          func(d Drawn, u Unsure) float64
	tuned, bare shape
}{
	{"power", func(d Drawn, u Unsure) float64 { return float64(d.Plant.Element.Power / u.Plant.Element.Power) }, gauss(1, 0.01), even(0.90, 1.05)},
	{"voltage", func(d Drawn, u Unsure) float64 { return float64(d.Plant.Supply.Actual / u.Plant.Supply.Actual) }, gauss(1, 0.01), gauss(1, 0.01)},
	{"loss", func(d Drawn, u Unsure) float64 { return float64(d.Plant.Loss.LidOn / u.Plant.Loss.LidOn) }, even(0.90, 1.10), even(0.75, 1.25)},
	{"what the open lid adds", func(d Drawn, u Unsure) float64 {
		return float64((d.Plant.Loss.LidOff - d.Plant.Loss.LidOn) / (u.Plant.Loss.LidOff - u.Plant.Loss.LidOn))
	}, same(1), same(1)},
	{"vessel", func(d Drawn, u Unsure) float64 { return float64(d.Plant.Vessel.Capacity / u.Plant.Vessel.Capacity) }, same(1), even(0.90, 1.10)},
	{"lag", func(d Drawn, u Unsure) float64 { return float64(d.Plant.Probe.Lag) / float64(u.Plant.Probe.Lag) }, even(0.90, 1.10), logs(1.5)},
	{"delay", func(d Drawn, u Unsure) float64 {
		return float64(d.Plant.Circulation.Delay) / float64(u.Plant.Circulation.Delay)
	}, even(0.90, 1.10), logs(1.5)},
	{"transfer", func(d Drawn, u Unsure) float64 { return float64(d.Plant.Element.Transfer / u.Plant.Element.Transfer) }, even(0.90, 1.10), logs(1.5)},
	{"flow", func(d Drawn, u Unsure) float64 { return float64(d.Plant.Circulation.Flow / u.Plant.Circulation.Flow) }, logs(1.25), logs(1.25)},
	{"bed", func(d Drawn, u Unsure) float64 {
		return float64(d.Plant.Circulation.BedTransfer / u.Plant.Circulation.BedTransfer)
	}, logs(1.5), logs(1.5)},
	{"outside the bed", func(d Drawn, _ Unsure) float64 { return float64(d.Plant.Circulation.OutsideBed) }, even(0.2, 0.4), even(0.2, 0.4)},
	{"vapour", func(d Drawn, u Unsure) float64 {
		return float64(d.Plant.Evaporation.LidOff / u.Plant.Evaporation.LidOff)
	}, even(0.7, 1.3), even(0.7, 1.3)},
	{"probe", func(d Drawn, _ Unsure) float64 { return float64(d.Plant.Probe.Offset) }, even(-0.5, 0.5), even(-0.5, 0.5)},
	{"water", func(d Drawn, _ Unsure) float64 { return float64(d.Plant.Water.Error) }, even(-0.02, 0.02), even(-0.02, 0.02)},
	{"grain", func(d Drawn, _ Unsure) float64 { return float64(d.Plant.Grain.Error) }, even(-0.01, 0.01), even(-0.01, 0.01)},
	{"grain's temperature", func(d Drawn, u Unsure) float64 { return float64(d.Load.GrainTemperature - u.Load.GrainTemperature) }, even(-2, 2), even(-2, 2)},
	{"grain's moisture", func(d Drawn, u Unsure) float64 { return float64(d.Load.Moisture - u.Load.Moisture) }, even(-0.01, 0.01), even(-0.01, 0.01)},
	{"grain keeps", func(d Drawn, u Unsure) float64 { return float64(d.Plant.Grain.Retention / u.Plant.Grain.Retention) }, even(0.85, 1.15), even(0.85, 1.15)},
	{"room", func(d Drawn, u Unsure) float64 { return float64(d.Plant.Site.Room - u.Plant.Site.Room) }, even(-3, 3), even(-3, 3)},
	{"tap", func(d Drawn, u Unsure) float64 { return float64(d.Plant.Water.Temperature - u.Plant.Water.Temperature) }, even(-2, 2), even(-2, 2)},
	{"pressure", func(d Drawn, u Unsure) float64 { return float64(d.Plant.Site.Altitude - u.Plant.Site.Altitude) }, even(-200, 200), even(-200, 200)},
	{"chiller", func(d Drawn, u Unsure) float64 { return float64(d.Plant.Chiller.Transfer / u.Plant.Chiller.Transfer) }, even(0.8, 1.2), even(0.8, 1.2)},
	{"person", func(d Drawn, _ Unsure) float64 { return d.Delay.Minutes() }, even(0, 5), even(0, 5)},
}

// shape is a distribution.
type shape struct{ lo, hi, mean, sd float64 }

func same(v float64) shape { return shape{v, v, v, 0} }

func even(lo, hi float64) shape { return shape{lo, hi, (lo + hi) / 2, (hi - lo) / math.Sqrt(12)} }

// gauss is cut off at three standard deviations, which takes 1.3 % off its own.
func gauss(mean, sd float64) shape { return shape{mean - 3*sd, mean + 3*sd, mean, 0.987 * sd} }

// logs has the mean and the variance of exp of what is evenly spread.
func logs(most float64) shape {
	w := math.Log(most)
	mean := (most - 1/most) / (2 * w)
	return shape{1 / most, most, mean, math.Sqrt((most*most-1/(most*most))/(4*w) - mean*mean)}
}

// TestTheDaysAreDrawnAsTheTableSays draws 4,000 days each and holds least, most,
// mean and spread of every figure to the table at Unsure.
func TestTheDaysAreDrawnAsTheTableSays(t *testing.T) {
	const many = 4000
	p, rig, _ := sample(t, "wheat-promised.yaml", "yard-kettle.yaml")
	for _, found := range []*config.Tuning{nil, {Doubt: 0.01}} {
		u := Unsure{Plant: rig.Plant(), Load: config.Load(p), Found: found, Delay: 5 * time.Minute}
		for _, f := range drawn {
			want := f.bare
			if found != nil {
				want = f.tuned
			}
			lo, hi, sum, squares := math.Inf(1), math.Inf(-1), 0.0, 0.0
			for seed := range uint64(many) {
				v := f.of(u.Draw(seed), u)
				lo, hi, sum, squares = min(lo, v), max(hi, v), sum+v, squares+v*v
			}
			mean := sum / many
			sd := math.Sqrt(max(0, squares/many-mean*mean))
			width := want.hi - want.lo
			hair := 1e-9 * max(1, math.Abs(want.hi))
			if lo < want.lo-hair || hi > want.hi+hair || math.Abs(mean-want.mean) > 0.02*width+hair || math.Abs(sd-want.sd) > 0.05*want.sd+1e-6 {
				t.Errorf("tuned %v, %s: %.4f to %.4f, mean %.4f, sd %.4f; want %+v", found != nil, f.name, lo, hi, mean, sd, want)
			}
		}
	}
}

// TestADayIsFixedByItsSeed, by nothing else: each figure of one is another in the next.
func TestADayIsFixedByItsSeed(t *testing.T) {
	p, rig, _ := sample(t, "wheat-promised.yaml", "yard-kettle.yaml")
	u := Unsure{Plant: rig.Plant(), Load: config.Load(p), Delay: time.Minute}
	for seed := range uint64(50) {
		if u.Draw(seed) != u.Draw(seed) {
			t.Errorf("seed %d draws two days", seed)
		}
	}
	a, b := u.Draw(1), u.Draw(2)
	for _, f := range drawn {
		if f.bare.sd > 0 && f.of(a, u) == f.of(b, u) {
			t.Errorf("%s is the same in two days", f.name)
		}
	}
}

// TestWhatIsNotThereIsNotDrawn: a pot without a pump, a lag of none.
func TestWhatIsNotThereIsNotDrawn(t *testing.T) {
	u := Unsure{Plant: sim.Defaults()}
	u.Plant.Circulation.Flow, u.Plant.Probe.Lag = 0, 0
	if d := u.Draw(7); d.Plant.Circulation.Flow != 0 || d.Plant.Probe.Lag != 0 || d.Delay != 0 || len(d.Words(u)) != 3 {
		t.Errorf("%+v\n%q", d, d.Words(u))
	}
}
