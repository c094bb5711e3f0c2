package controller

import (
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
)

// Malt is the grain of a mash.
type Malt struct {
	Mass unit.Kilograms
	At   unit.Celsius
	// Of the profile; they do not change with what is weighed.
	Moisture unit.Ratio
	Slaking  unit.JoulesPerKilogram
}

// Regrain is the grain as a person weighed and measured it before he poured. The
// zero value: as in the profile.
type Regrain struct {
	Mass   unit.Kilograms
	At     unit.Celsius
	Strike unit.Celsius // that it needs, with all the water there was when it was told
}

// What grain can be told of. Malt is stored between these; a mass beyond half or
// twice the profile's is a slip, or another brew.
const (
	warmestGrain = unit.Celsius(50)
	mostOfGrain  = 2
)

// regrain takes grain that is another than the profile's, before it is poured. The
// load of the mash, the room that it takes and the water that it keeps follow, and
// the strike water is to be as hot as this grain needs: never hotter than leaves
// room below the limit that was set at arming.
func (r *round) regrain(mass unit.Kilograms, at unit.Celsius) Refusal {
	s, planned := r.s, r.c.Grain.Mass
	switch {
	case s.GrainIn, s.AskedGrain, r.c.First != 0, r.step().Kind != profile.Strike, !(planned > 0):
		return AlreadyPoured
	case !(mass >= planned/mostOfGrain && mass <= mostOfGrain*planned), !(at > 0 && at <= warmestGrain):
		return NotGrain
	}
	was := s.Deeds.Grain
	strike, ok := r.strikeFor(mass, at)
	s.Deeds.Grain = Regrain{Mass: mass, At: at, Strike: strike}
	why := NotRefused
	switch {
	case !ok || strike > r.hottestStrike():
		why = StrikeTooHot
	case !(heat.HotVolume(r.water(), max(strike, s.Steps[1].Target))+r.displaced() <= r.c.Capacity):
		why = Overfull
	case r.lifts() && !(r.afterLift()+s.Deeds.Added-s.Deeds.Unread > r.cover()):
		why = TooMuchGrain
	}
	if why != NotRefused {
		s.Deeds.Grain = was
		return why
	}
	s.Steps[0].Target = strike
	r.event(StrikeMoved, float64(strike))
	r.strikeAnew()
	return NotRefused
}

// strikeFor is the strike temperature of that grain in the water there is.
func (r *round) strikeFor(mass unit.Kilograms, at unit.Celsius) (unit.Celsius, bool) {
	terms, err := heat.Strike(heat.Mash{
		Water: r.c.Water + r.s.Deeds.Added, Grain: mass, GrainTemperature: at,
		Moisture: r.c.Grain.Moisture, Slaking: r.c.Grain.Slaking, Vessel: r.c.Vessel, Stirring: r.c.Stirring,
	}, r.s.Steps[1].Target)
	return terms.Temperature, err == nil
}

// hottestStrike is as hot as strike water may be made: what the limit that was
// set at arming leaves room for.
func (r *round) hottestStrike() unit.Celsius {
	return max(r.c.StrikeMost, r.c.Steps[0].Target)
}

// hottestWatered is as hot as it may be made for water that was told of.
func (r *round) hottestWatered() unit.Celsius {
	if g := r.s.Deeds.Grain; g.Mass > 0 {
		return min(g.Strike.Plus(mostStrike), r.hottestStrike())
	}
	return r.c.Steps[0].Target.Plus(mostStrike)
}

// strikeAnew brings strike water to a temperature that has moved: what is too cold
// is heated, what is too hot has to cool before anyone pours.
func (r *round) strikeAnew() {
	s := r.s
	off := s.Law.Mean.Minus(s.Steps[0].Target)
	if s.Law.Way != Full && r.e.Valid {
		off = r.e.Value.Minus(s.Steps[0].Target)
	}
	s.Cooling = off > HotBand
	if off >= -EntryBand && off <= EntryBand {
		return
	}
	s.Reached, s.StoodStill = false, 0
	if s.Stage == Ready {
		r.goTo(Heat)
	}
}

// lifts tells that the grain is lifted out on this day.
func (r *round) lifts() bool {
	for i := range r.s.Count {
		if r.s.Steps[i].Kind == profile.Lift {
			return true
		}
	}
	return false
}

// share is the grain over the profile's.
func (r *round) share() float64 {
	if g := r.s.Deeds.Grain; g.Mass > 0 {
		return float64(g.Mass / r.c.Grain.Mass)
	}
	return 1
}

// displaced is the room that the grain takes beside its water.
func (r *round) displaced() unit.Litres { return r.c.Displaced * unit.Litres(r.share()) }

// afterLift is what the plan has after the lift, with the grain as it was told.
func (r *round) afterLift() unit.Litres {
	if r.s.Deeds.Grain.Mass == 0 {
		return r.c.AfterLift
	}
	return r.c.Water - (r.c.Water-r.c.AfterLift)*unit.Litres(r.share())
}

// loadMash is the planned load of the mash, with the grain as it was told.
func (r *round) loadMash() unit.JoulesPerKelvin {
	if r.s.Deeds.Grain.Mass == 0 {
		return r.c.LoadMash
	}
	return r.c.LoadWater + (r.c.LoadMash-r.c.LoadWater)*unit.JoulesPerKelvin(r.share())
}

// loadWort is the planned load of the wort after the lift, likewise.
func (r *round) loadWort() unit.JoulesPerKelvin {
	if r.s.Deeds.Grain.Mass == 0 {
		return r.c.LoadWort
	}
	return r.wort(r.afterLift())
}
