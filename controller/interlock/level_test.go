package interlock

import (
	"math"
	"testing"
	"time"

	"mashward/controller/unit"
)

// boiling is a walk at 98.5 °C with so much declared after the lift.
func boiling(t *testing.T, volume unit.Litres) *walk {
	t.Helper()
	w := ready(t)
	w.f.Stage = Lifted
	for w.temp < 98.5 {
		w.temp = min(w.temp+1, 98.5)
		w.tick()
	}
	w.f.Volume = volume
	w.tick()
	w.f.Applied = w.v.Permitted
	return w
}

// IAPWS R7-97: 2256.47 kJ/kg at 100 °C, so that 3000 W with no other loss boil
// off 4.786 kg in an hour, which is 4.795 L of water at 20 °C (998.2 kg/m³).
func TestAnHourOfFullPowerBoilsOffWhatTheSteamTableSays(t *testing.T) {
	w := boiling(t, 40)
	w.l.LossAtBoil = 0
	from := w.g.BoiledOff
	w.run(time.Hour)
	w.want(unit.On, NoRule, NoRule)
	if got := float64(w.g.BoiledOff - from); math.Abs(got-4.795) > 0.002 {
		t.Errorf("boiled off %.4f L in an hour, want 4.795", got)
	}
	left, known := w.g.Left()
	if !known || math.Abs(float64(left)-(40-float64(w.g.BoiledOff))) > 1e-9 {
		t.Errorf("left %v, %v", left, known)
	}
}

// The loss counts while the element is off, too, so that the figure follows
// the mean power and does not depend on how the relay is pulsed.
func TestPulsesBoilOffWhatTheirMeanPowerDoes(t *testing.T) {
	mean := func(on, of int) float64 {
		w := boiling(t, 40)
		w.f.Wanted = unit.Off
		w.tick()
		from := w.g.BoiledOff
		for i := range 3600 {
			w.f.Wanted = unit.RelayOf(i%of < on)
			w.tick()
		}
		return float64(w.g.BoiledOff - from)
	}
	loss := 560 * 98.5 / 98.9
	for _, c := range []struct{ on, of int }{{1, 2}, {10, 20}, {12, 20}, {1, 4}, {5, 20}} {
		power := 3000 * float64(c.on) / float64(c.of)
		want := (power - loss) * 3600 / 2256.47e3 / 0.9982
		if got := mean(c.on, c.of); math.Abs(got-want) > 0.02 {
			t.Errorf("%d s of %d s: boiled off %.4f L, want %.4f", c.on, c.of, got, want)
		}
	}
	if got := mean(0, 1); got != 0 {
		t.Errorf("without heat %.4f L boiled off", got)
	}
}

func TestAPauseEarnsAtMostAMinuteOfLoss(t *testing.T) {
	w := boiling(t, 40)
	w.f.Wanted = unit.Off
	w.run(time.Hour)
	from := w.g.BoiledOff
	w.f.Wanted = unit.On
	w.run(10 * time.Minute)
	want := ((3000-560*98.5/98.9)*600 - 560*60) / 2256.47e3 / 0.9982
	if got := float64(w.g.BoiledOff - from); got < want-0.003 {
		t.Errorf("after a pause %.4f L boiled off in 10 min, want at least %.4f", got, want)
	}
}

func TestPowerCountsAsSteamOnlyNearTheBoilOrWithoutAReading(t *testing.T) {
	w := boiling(t, 40)
	w.l.OnLimit = LongestOn
	w.temp = w.l.Boiling - unit.Celsius(nearBoil) - lsb
	w.run(QuietFor + 5*time.Second)
	from := w.g.BoiledOff
	w.run(time.Hour)
	if got := w.g.BoiledOff - from; got != 0 {
		t.Errorf("5 K below the boil %.4f L boiled off", got)
	}
	w.temp += lsb
	w.run(time.Hour)
	if got := w.g.BoiledOff - from; got < 3 {
		t.Errorf("near the boil only %.4f L boiled off in an hour", got)
	}
	w.mute = true
	w.run(time.Minute)
	from = w.g.BoiledOff
	for range 60 {
		w.f.Applied = unit.On // welded, or unknown
		w.tick()
	}
	if got, want := float64(w.g.BoiledOff-from), 3000*60/2256.47e3/0.9982; math.Abs(got-want) > 1e-3 {
		t.Errorf("without a reading %.4f L boiled off, want %.4f", got, want)
	}
}

func TestNoBalanceBeforeTheVolumeIsStated(t *testing.T) {
	w := boiling(t, 0)
	w.run(80 * time.Minute)
	w.want(unit.On, NoRule, NoRule)
	if left, known := w.g.Left(); known {
		t.Errorf("left %v is known without a statement", left)
	}
}

func TestVolumeThatIsNoVolumeTrips(t *testing.T) {
	nan := unit.Litres(math.NaN())
	inf := unit.Litres(math.Inf(1))
	for _, v := range []unit.Litres{nan, inf, -inf, -1, 1e9, 1e-9, 13} {
		w := boiling(t, v)
		w.want(unit.Off, NoRule, Empty)
		if w.g != w.g { // a NaN inside would make a Guard unequal to itself
			t.Errorf("volume %v got into the Guard", v)
		}
	}
	boiling(t, 13.1).want(unit.On, NoRule, NoRule)
}

func TestANewBatchStartsWithoutABalance(t *testing.T) {
	w := boiling(t, 13)
	w.want(unit.Off, NoRule, Empty)
	w.f.Stage, w.f.Volume = Mash, 0
	w.temp = 60
	w.run(time.Minute)
	w.clear()
	w.want(unit.On, NoRule, NoRule)
}

func TestTheLevelItselfIsTooLow(t *testing.T) {
	for _, c := range []struct {
		volume unit.Litres
		want   Rule
	}{{13, Empty}, {13.0001, NoRule}} {
		w := boiling(t, 0)
		w.f.Wanted = unit.Off
		w.tick()
		w.f.Volume = c.volume
		w.tick()
		w.want(unit.Off, NoRule, c.want)
	}
}

func TestAStageNobodyKnowsKeepsTheBalance(t *testing.T) {
	w := boiling(t, 20)
	before := w.g.BoiledOff
	w.f.Stage = 7
	w.run(time.Minute)
	if left, known := w.g.Left(); !known || w.g.BoiledOff < before {
		t.Errorf("left %v, %v", left, known)
	}
}

func TestADamagedDebtDoesNotStopTheBalance(t *testing.T) {
	for _, debt := range []float64{math.NaN(), math.Inf(-1), math.Inf(1), -1e12} {
		w := boiling(t, 40)
		w.g.Debt = unit.Joules(debt)
		from := w.g.BoiledOff
		w.run(10 * time.Minute)
		want := (3000*600 - 560*660) / 2256.47e3 / 0.9982
		if got := float64(w.g.BoiledOff - from); !(got > want-0.003) || got > want+0.05 {
			t.Errorf("debt %v: %.4f L boiled off in 10 min, want at least %.4f", debt, got, want)
		}
	}
}

// What a person says he took out counts against the level as steam does, also
// when the volume was stated long ago; within one statement it never comes back.
func TestWhatWasTakenOutIsTakenOffTheLevel(t *testing.T) {
	w := boiling(t, 22)
	w.run(30 * time.Minute)
	steam := w.g.BoiledOff
	w.f.Drawn = 3
	w.tick()
	left, _ := w.g.Left()
	if got, want := float64(left), 22-3-float64(w.g.BoiledOff); math.Abs(got-want) > 1e-9 || w.g.BoiledOff < steam {
		t.Errorf("left %.4f L, want %.4f; boiled off %v, was %v", got, want, w.g.BoiledOff, steam)
	}
	w.f.Drawn = 0.5
	w.tick()
	if w.g.Drawn != 3 {
		t.Errorf("what was drawn came back: %v L", w.g.Drawn)
	}
	w.f.Drawn = 9 - w.g.BoiledOff // 13 L are left, the covered level + 1 L
	w.tick()
	w.want(unit.Off, NoRule, Empty)
	w.f.Volume, w.f.Statement, w.f.Drawn = 22, 1, 0 // topped up, and read
	w.clear()
	w.run(QuietFor)
	w.want(unit.On, NoRule, NoRule)
	if w.g.Drawn != 0 || w.g.BoiledOff > 0.01 {
		t.Errorf("after a new statement %v drawn, %v boiled off", w.g.Drawn, w.g.BoiledOff)
	}
}

func TestWhatIsNoVolumeTakenOutTrips(t *testing.T) {
	nan, inf := unit.Litres(math.NaN()), unit.Litres(math.Inf(1))
	for _, v := range []unit.Litres{nan, inf, -inf, -0.1, 1e9} {
		w := boiling(t, 40)
		w.f.Drawn = v
		w.tick()
		w.want(unit.Off, NoRule, Empty)
		if w.g != w.g { // a NaN inside would make a Guard unequal to itself
			t.Errorf("%v got into the Guard", v)
		}
	}
}

func TestARestartForgetsNothingThatWasTakenOut(t *testing.T) {
	w := boiling(t, 22)
	w.f.Drawn = 8
	w.tick()
	if g := w.g.Restarted(); g.Drawn != 8 {
		t.Errorf("after a restart %v L are drawn", g.Drawn)
	}
}
