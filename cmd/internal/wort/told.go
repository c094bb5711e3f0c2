package wort

import (
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
)

// hear takes what happened, and what a person told.
func (f *Follower) hear(e controller.Event, s *second) {
	switch e.Kind {
	case controller.WaterAdded:
		f.add(unit.Litres(e.Value))
	case controller.WaterTaken:
		f.take(unit.Litres(e.Value))
	case controller.WaterUncounted:
		f.add(-unit.Litres(e.Value))
	case controller.VolumeRead:
		if !f.lifted {
			f.volume, f.volumeBy = unit.Litres(e.Value), ByVolume
		}
	case controller.LidMoved:
		f.lidOff = e.Value > 0
	case controller.GravityRead:
		f.strong(unit.SpecificGravity(e.Value), s.clock)
	case controller.ProbeDiffers:
		f.compared.add(unit.Kelvin(e.Value))
	case controller.Accepted:
		f.wish(controller.Wish(e.Value), s)
	}
}

func (f *Follower) wish(w controller.Wish, s *second) {
	switch w {
	case controller.GrainIs:
		f.brew.Grain = s.command.Grain
	case controller.BagClear:
		f.lift()
	case controller.HereLidOff:
		f.lidOff = true
	case controller.Extend:
		if s.kind == profile.Boil {
			f.length += s.command.By
		}
	}
}

// add puts water in, which brings no extract.
func (f *Follower) add(litres unit.Litres) {
	f.volume += litres
	if f.lifted {
		f.net += litres
	}
}

// take takes wort out, with the extract that is in it.
func (f *Follower) take(litres unit.Litres) {
	if f.volume > 0 {
		keeps := float64(max(0, 1-litres/f.volume))
		f.points *= keeps
		f.strengths.points *= keeps
	}
	f.add(-litres)
}

// lift takes the grain out with what it keeps: wort as strong as what is left.
func (f *Follower) lift() {
	if f.lifted {
		return
	}
	f.lifted, f.place = true, Kettle
	before := f.volume
	brew := f.brew
	brew.Water = before
	f.volume -= heat.Retention(f.brew.Grain, f.brew.Retention)
	f.volumeBy = ByPlan
	switch course, err := brew.Course(); {
	case f.strength != Nowhere && before > 0:
		f.points *= float64(f.volume / before)
	case err == nil:
		f.points = course.PreBoil.Points()
	}
}

// settled is how little has to have boiled off between a gravity and a volume for
// both to be of the same wort.
const settled unit.Litres = 0.3

// stated takes a volume that a person has read after the lift. One that is read
// beside a gravity makes the extract; later, extract is what stays, and the
// volume tells what has boiled off. A press that only confirms the plan has read none.
func (f *Follower) stated(volume unit.Litres, confirmed bool) {
	if f.volume > 0 && f.off-f.readOff < settled {
		by := float64(volume / f.volume)
		f.points *= by
		f.strengths.points *= by
		f.strengths.volume *= unit.Litres(by)
	}
	if confirmed {
		f.volume, f.volumeBy = volume, ByPlan
		return
	}
	f.learn(&f.volumes, volume, ByVolume)
	f.volume, f.volumeBy = volume, ByVolume
	if !f.volumes.begun || f.off-f.volumes.off < settled {
		f.volumes = f.markOf(volume)
	}
}

// markOf is what stands now, with that volume.
func (f *Follower) markOf(volume unit.Litres) mark {
	return mark{true, volume, f.points, f.off, f.net, f.boiled}
}

// Enough boil to learn from: less is lost in the reading of a stick.
const (
	enoughBoil             = 10 * time.Minute
	enoughOff  unit.Litres = 0.5
	leastRatio             = 0.5
	mostRatio              = 2
)

// learn sets what has boiled off by two tellings beside the balance.
func (f *Follower) learn(m *mark, volume unit.Litres, by Source) bool {
	balance := f.off - m.off
	if !m.begun || f.boiled-m.boiled < enoughBoil || balance < enoughOff || by < f.ratioBy {
		return false
	}
	ratio := float64((m.volume + f.net - m.net - volume) / balance)
	if !(ratio >= leastRatio && ratio <= mostRatio) {
		return false // one of the two was misread, or not all was told
	}
	f.ratio, f.ratioBy = ratio, by
	return true
}

// strong takes a gravity that a person has read.
func (f *Follower) strong(g unit.SpecificGravity, at time.Duration) {
	if f.place == Nowhere || !(g > 1) {
		return
	}
	above := float64(g-1) * 1000
	if m := &f.strengths; f.lifted && m.begun {
		if volume := unit.Litres(m.points / above); f.learn(m, volume, ByGravity) && f.volumeBy != ByVolume {
			f.volume, f.volumeBy = volume, ByGravity
		}
	}
	f.points, f.strength, f.readOff = above*float64(f.volume), f.place, f.off
	if f.lifted && (!f.strengths.begun || f.off-f.strengths.off < settled) {
		f.strengths = f.markOf(f.volume)
	}
	if len(f.readings) < mostReadings {
		f.readings = append(f.readings, Reading{at, f.place, g, f.volume, f.volumeBy})
	}
}

func (c *Compared) add(off unit.Kelvin) {
	if c.Count == 0 {
		c.Lowest, c.Highest = off, off
	}
	c.Count, c.Sum = c.Count+1, c.Sum+off
	c.Lowest, c.Highest = min(c.Lowest, off), max(c.Highest, off)
}
