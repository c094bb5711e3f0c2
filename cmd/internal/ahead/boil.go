package ahead

import (
	"math"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile/heat"
)

// boil climbs to just below the boiling point, goes gently through the hot break,
// and boils.
func (w *walk) boil(index uint8, step *controller.Step, stage controller.Stage) {
	bp := w.c.Boiling
	if stage != controller.Boil {
		w.climb(index, step, stage)
		w.reached()
		w.stays(index, "break", stage == controller.Break)
		w.temp = bp
		w.boilOut(index, step, w.at, 0, 0)
		return
	}
	w.temp = bp
	w.out.Steps[len(w.out.Steps)-1].Reached = exactly(w.now - w.s.Earned)
	w.boilOut(index, step, w.at, w.s.Earned, w.s.Boiled)
}

// climb is the way to the boil.
func (w *walk) climb(index uint8, step *controller.Step, stage controller.Stage) {
	bp := w.c.Boiling
	if stage == controller.NoStage || stage == controller.Climb {
		if to := bp.Plus(-controller.GentleBelow); w.temp < to.Plus(-0.5) {
			w.heatTo(to.Plus(-0.5), 1, 0)
			w.wait(climbLag, climbLagOff)
			w.temp = to
		}
	}
	if stage != controller.Break {
		w.need(index, "break", w.at)
		w.wait(press, 0)
	}
	w.throughBreak(step, stage)
}

// throughBreak is the gentle way with the lid off. How much an open kettle loses
// is the least known of all figures of a day, until the rise itself shows what is
// left of the power.
func (w *walk) throughBreak(step *controller.Step, stage controller.Stage) {
	w.open = true
	bp := w.c.Boiling
	duty := max(float64(controller.GentleDuty), float64(step.Duty))
	if stage == controller.Break && w.s.Plateau.Full || w.spare(duty, bp, 1) < 0.05*float64(w.c.Power) {
		duty = 1
	}
	open, wide := openMean, openWide
	if slope, known := w.s.Filter.SlopeOver(time.Minute); stage == controller.Break && known && w.s.InStage > 2*time.Minute && slope > 0 {
		// What the rise leaves of the power is the loss there is.
		back := w.temp.Plus(unit.Kelvin(-30 * slope))
		open = (w.spare(duty, back, 0) - float64(slope)*float64(w.load)) / w.vapour(back)
		open, wide = min(max(open, 0.3), 3), openSeen*open
	}
	middle, early, late := w.rises(duty, open, wide)
	w.at = w.at.after(middle+breakSure, breakSureOff)
	w.at.rate += middle * w.off
	w.at.early += early
	w.at.late += late
	w.sum.add(duty*float64(w.c.Power)*(middle+breakSure), 0.2)
	w.temp = bp
}

// rises is the mean of how long the open kettle takes to the boil, over what its
// vapour may be, and how far that lies from what is sooner and from what is later.
// The less is left of the power, the more a little vapour matters.
func (w *walk) rises(duty, open, wide float64) (mean, early, late float64) {
	var took [5]float64
	for i := range took {
		took[i] = w.rise(duty, open+wide*(float64(i)-2)/2)
		mean += took[i] / float64(len(took))
	}
	for _, t := range took {
		early += max(0, mean-t) * max(0, mean-t)
		late += max(0, t-mean) * max(0, t-mean)
	}
	return mean, math.Sqrt(early / 2.5), math.Sqrt(late / 2.5)
}

// rise is how long the open kettle takes from here to the boil at a duty, where its
// vapour is so many times what is reckoned of an open surface. What hardly rises any
// more is taken for the boil where it is near enough, and else gets all power.
func (w *walk) rise(duty, vapour float64) float64 {
	const parts, flat, seen, stands = 12, 0.001, 240, 600 // flat in K/s, else s
	took, bp := 0.0, w.c.Boiling
	by := float64(bp-w.temp) / parts
	for i := range parts {
		at := w.temp + unit.Celsius((float64(i)+0.5)*by)
		rate := w.spare(duty, at, vapour) / float64(w.load)
		if rate < flat && at >= bp.Plus(-controller.PlateauBand) {
			return took + stands
		}
		if rate < flat && duty < 1 {
			took, duty = took+seen, 1
			rate = w.spare(duty, at, vapour) / float64(w.load)
		}
		took += by / max(rate, flat)
	}
	return took
}

// spare is what a duty leaves to the open kettle at a temperature, W.
func (w *walk) spare(duty float64, at unit.Celsius, vapour float64) float64 {
	return w.gain*(duty-spareAtBoil*w.s.Law.Spare)*float64(w.c.Power) - w.dry(at) - vapour*w.vapour(at)
}

// dry is what the open kettle loses beside vapour, W.
func (w *walk) dry(at unit.Celsius) float64 {
	return float64(heat.HoldPower(w.c.Loss, w.c.Room, at) + heat.OpenAir(w.c.Surface, w.c.Room, at))
}

// vapour is what an open surface is reckoned to lose.
func (w *walk) vapour(at unit.Celsius) float64 {
	return max(1, float64(heat.OpenLoss(w.c.Surface, w.c.Room, at)))
}

// boilOut runs the boil's clock from an instant at which it stands at earned.
func (w *walk) boilOut(index uint8, step *controller.Step, from instant, earned time.Duration, boiled unit.Joules) {
	end := from.after(max(0, (step.For-earned).Seconds()), 0)
	w.additions(index, step, from, earned)
	if !w.s.ChillerHung && step.For >= chillerIn {
		// A boil that is further on waits for nobody, and still asks.
		w.need(index, "chiller", from.after(max(0, (step.For-chillerIn-earned).Seconds()), 0))
	}
	w.need(index, "loop", end.after(-loopIn.Seconds(), 0))
	power := float64(step.Duty) * float64(w.c.Power)
	left := end.at - from.at
	w.sum.add(power*left, w.off+0.02)
	steam := float64(boiled) + max(0, w.gain*power-w.dry(w.c.Boiling))*left
	away := unit.Litres(steam / float64(heat.Latent(w.c.Boiling)) / heat.ColdDensity)
	w.load -= heat.WaterCapacity(min(away, w.wort))
	w.wort -= min(away, w.wort)
	w.lowest = w.wort
	w.at, w.open = end, true
}

// stand lets the wort fall to a temperature and keeps it there.
func (w *walk) stand(index uint8, step *controller.Step, stage controller.Stage) {
	if stage == controller.Count {
		w.count(index, step, stage)
		return
	}
	to := step.Target.Plus(controller.EntryBand)
	if waits := stage == controller.Connect && w.s.InStage > time.Minute; !w.s.ChillerOn && (waits || stage == controller.Cool) {
		w.cool(to) // its water is closed, or nobody opens it: the way is the open kettle's
	} else {
		w.fall(to, stage)
	}
	w.reached()
	w.temp = step.Target
	w.additions(index, step, w.at, 0)
	w.hold(step.For.Seconds())
}

// chill goes down to the last temperature, or to where the tap lets it stand.
func (w *walk) chill(index uint8, step *controller.Step, stage controller.Stage) {
	if stage == controller.NoStage || stage == controller.Connect {
		w.need(index, "chill", w.at)
	}
	if w.s.Coldest > 0 && stage == controller.Cool { // it asks, whatever the plan foresaw
		w.call(index, "tap", notColder, w.at)
	}
	w.fall(step.Target, stage)
	w.reached()
	w.stays(index, "chill", stage == controller.Cool)
	if w.s.Coldest == 0 {
		w.need(index, "tap", w.at)
	}
	w.additions(index, step, w.at, 0)
}

// notColder is what the question at the end of such a chill asks for.
const notColder = "It gets no colder with this tap: end the chill, or put ice on the way of its water."

// fall cools with the chiller.
func (w *walk) fall(to unit.Celsius, stage controller.Stage) {
	if stage == controller.NoStage || stage == controller.Connect {
		w.wait(press, 1)
	}
	if to >= w.temp || w.lost {
		return
	}
	k, off := w.chiller(stage)
	all := k + w.c.Loss
	end := unit.Celsius((float64(k)*float64(w.c.Tap) + float64(w.c.Loss)*float64(w.c.Room)) / float64(all))
	tau := float64(w.load) / float64(all)
	// A fall of 0.05 K in a minute is where the controller ends it.
	flat := end.Plus(unit.Kelvin(tau * 0.05 / 60))
	wait := 0.0
	if flat > to {
		to, wait = flat, 150
	}
	if to >= w.temp {
		w.wait(wait, wait/2)
		return
	}
	took := tau * math.Log(float64(w.temp-end)/float64(to-end))
	w.at = w.at.after(took+chillLag+wait, math.Hypot(chillLagOff, wait/2))
	w.at.chill += off * took
	w.temp = to
}

// chiller is what the chiller takes from the wort for each kelvin above the tap: a
// guess until it has run for some minutes.
func (w *walk) chiller(stage controller.Stage) (unit.WattsPerKelvin, float64) {
	const litre unit.WattsPerKelvin = 12
	guess := litre * unit.WattsPerKelvin(max(w.wort, 1))
	slope, known := w.s.Filter.SlopeOver(2 * time.Minute)
	over := float64(w.temp) - float64(slope)*60 - float64(w.c.Tap) // in the middle of these minutes
	if stage != controller.Cool || !known || w.s.InStage < 3*time.Minute || slope >= 0 || over < 2 {
		return guess, chillGuess
	}
	return max(guess/8, unit.WattsPerKelvin(-float64(slope)*float64(w.load)/over)-w.c.Loss), chillSeen
}
