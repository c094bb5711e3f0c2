package sim

import (
	"math"
	"time"

	"mashward/controller/unit"
)

// Offset tmp.
func Offset(p *Plant, target unit.Celsius) unit.Kelvin {
	q := p.Clone()
	var sum float64
	n := 0
	carry := 0.0
	for t := range 7200 {
		e := float64(target - unit.Celsius(q.x[placeNode(q.par.Probe.Place)]))
		u := math.Min(math.Max(e*0.3+0.08, 0), 1)
		carry += u
		r := unit.Off
		if carry >= 0.5 {
			r = unit.On
			carry--
		}
		q.Advance(r, unit.On)
		if t >= 5400 {
			sum += float64(q.Mash()) - q.x[placeNode(q.par.Probe.Place)]
			n++
		}
	}
	return unit.Kelvin(sum / float64(n))
}

// Limit tmp.
func Limit(p *Plant, target unit.Celsius, offset unit.Kelvin, ramp unit.KelvinPerSecond) (time.Duration, bool) {
	q := p.Clone()
	goal := float64(target) + float64(offset)
	reach := 0
	for t := 1; t < 20000; t++ {
		q.Advance(unit.On, unit.On)
		z := q.Clone()
		peak := float64(z.Mash())
		r := 0
		if t%5 == 0 || float64(q.Mash()) > goal-3 {
			for s := 1; s < 400; s++ {
				z.Advance(unit.Off, unit.On)
				m := float64(z.Mash())
				if m > peak {
					peak = m
				}
				if r == 0 && m >= goal-0.3 {
					r = t + s
				}
			}
			if peak > goal+0.02 {
				break
			}
			reach = r
		}
	}
	return time.Duration(reach) * time.Second, reach > 0
}
