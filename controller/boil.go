package controller

import (
	"math"
	"time"

	"mashward/controller/unit"
)

// A plateau is a slope over this span that is flat for this long.
const (
	plateauSpan = 2 * time.Minute
	plateauFor  = time.Minute
)

// A boil that has been too cold to be one for so long gets all power until it
// is this near to the boiling point, then and whenever it sinks again.
const (
	sankFor                   = 5 * time.Minute
	boilAgainBand unit.Kelvin = 0.5
)

// flatBelow is the slope of a plateau, K/s: 0.06 K in a minute, five times what
// the probe's noise makes of a flat line. A weak element creeps faster than that
// towards a temperature at which nothing boils.
const flatBelow = 0.06 / 60

// boil carries the wort to the boil and through it.
//
//	climb ──bp−3 K──> door ──"I am here, lid off"──> break ──plateau──> boil
//	                                                   └─"it boils"───────^
//
// The clock starts on a plateau, never on a threshold: a probe may be a kelvin
// off and the weather moves the boiling point by 0.7 K, but water that takes
// heat and gets no hotter boils.
func (r *round) boil() {
	s := r.s
	switch s.Stage {
	case Climb:
		r.seePlateau()
		if r.e.Valid && r.e.Value >= r.c.Boiling.Plus(-GentleBelow-0.5) {
			r.goTo(Door)
		}
	case Door:
		if s.HereFor > 0 {
			r.goTo(Break)
		}
	case Break:
		if r.seePlateau() {
			r.startBoil()
			// It took that long to be sure that it boils: it has boiled since.
			s.Earned += plateauFor + plateauSpan/2
			r.event(CountedBack, (plateauFor + plateauSpan/2).Seconds())
		}
	default:
		r.boilOn()
	}
}

// mayBoil tells that a person's "it boils" can be true: a probe and the weather
// are wrong by a few kelvin together, not by more.
func (r *round) mayBoil() bool {
	return r.e.Valid && r.e.Value >= r.c.Boiling.Plus(-2*PlateauBand)
}

// boilAgain sends a boil that was held back to its climb, with what it has
// earned: nobody knows how cold the wort is by now, or who stands there.
func (r *round) boilAgain() {
	switch r.s.Stage {
	case Door, Break, Boil:
		r.s.Plateau = Plateau{}
		r.s.Filter = r.s.Filter.Restart()
		r.goTo(Climb)
	}
}

// startBoil starts the clock. Once started it neither stops nor restarts: a
// chiller going in makes a dip of a few minutes that counts.
func (r *round) startBoil() {
	r.s.Plateau = Plateau{}
	r.reached()
	r.event(ClockBegan, 0)
	r.goTo(Boil)
}

// boilOn runs the boil's clock to flame-out, which needs nobody.
func (r *round) boilOn() {
	asked := r.scaldNow()
	if r.dt <= GapLimit {
		r.s.Earned += r.dt
	}
	r.watchBoil()
	called := r.callAdditions(r.s.Earned)
	r.askScald(asked)
	if r.s.Earned >= r.step().For && called {
		r.finish()
	}
}

// watchBoil times how long a boil has been too cold to be one. A chiller that
// goes in makes a dip that is none of it.
func (r *round) watchBoil() {
	s := r.s
	if r.e.Valid && r.e.Value < r.c.Boiling.Plus(-PlateauBand) && s.ColdMetal == 0 {
		s.Plateau.Flat += r.dt
	} else {
		s.Plateau.Flat = 0
	}
	s.Plateau.Full = s.Plateau.Full || s.Plateau.Flat >= sankFor
}

// seePlateau tells that the temperature stands although heat goes in, near
// enough to the boiling point. Gentle heat that stalls below it becomes full.
// Wort that stands, or cools, because its heat is withheld does not boil.
func (r *round) seePlateau() bool {
	s := r.s
	if !r.heated() {
		if s.Stage == Break {
			s.Plateau.Flat = 0
		}
		return false
	}
	slope, known := s.Filter.SlopeOver(plateauSpan)
	gross := float64(r.d0()) * float64(r.c.Power) / float64(s.Load) // K/s if nothing were lost
	flat := known && r.e.Valid && s.InStage >= plateauSpan && math.Abs(float64(slope)) < flatBelow
	if !flat || gross == 0 {
		s.Plateau.Flat = 0
		return false
	}
	s.Plateau.Flat += r.dt
	if s.Plateau.Flat < plateauFor {
		return false
	}
	if r.e.Value >= r.c.Boiling.Plus(-PlateauBand) {
		return true
	}
	if s.Stage == Break && !s.Plateau.Full {
		s.Plateau = Plateau{Full: true, Heat: s.Plateau.Heat}
		s.Filter = s.Filter.Restart()
	}
	return false
}

// heated tells that most of the heat that this stage asks for really went in
// over about the last minute.
func (r *round) heated() bool {
	p := &r.s.Plateau
	applied := 0.0
	if r.t.Applied == unit.On {
		applied = 1
	}
	p.Heat += (applied - p.Heat) * min(1, r.dt.Seconds()/60)
	return p.Heat >= 0.6*float64(r.d0())
}

// d0 is the duty of this stage, for what a rise should be.
func (r *round) d0() unit.Duty {
	if r.s.Stage == Climb {
		return 1
	}
	return r.breakDuty()
}

// breakDuty goes through the hot break at no more than is needed: a break
// under full power boils over. It is what the boil will get at least: a kettle that
// stands still under less does not boil.
func (r *round) breakDuty() unit.Duty {
	if r.s.Plateau.Full {
		return 1
	}
	return max(GentleDuty, r.step().Duty).Clamp()
}

// noBoil tells that the kettle stands too far below its boiling point: lid,
// wind or power.
func (r *round) noBoil() bool {
	s := r.s
	if s.Stage == Boil {
		return s.Plateau.Full && r.e.Valid && r.e.Value < r.c.Boiling.Plus(-PlateauBand)
	}
	stalled := s.Stage == Climb || s.Stage == Break && s.Plateau.Full
	return stalled && s.Plateau.Flat >= 3*time.Minute
}

// leastLevel is the level as those count it who end heat by it: mains 5 % high are a
// tenth more power, and the loss may be a fifth less.
func (r *round) leastLevel() unit.Litres {
	power, loss := float64(r.c.Power), float64(r.c.Loss)*float64(r.c.Boiling-r.c.Room)
	if power <= loss {
		return r.level()
	}
	more := (1.1*power-0.8*loss)/(power-loss) - 1
	return r.level() - unit.Litres(more)*r.steamed()
}

// boiledAway adds up the energy that went into steam since the level was told:
// what was applied less the declared loss, near the boil. A pause boils too.
func (r *round) boiledAway() {
	if r.s.Volume == 0 || r.t.Applied == unit.Off || !r.e.Valid || r.e.Value < r.c.Boiling.Plus(-2*PlateauBand) {
		return
	}
	net := float64(r.c.Power) - float64(r.c.Loss)*float64(r.e.Value-r.c.Room)
	r.s.Boiled += unit.Joules(max(0, net) * r.dt.Seconds())
}
