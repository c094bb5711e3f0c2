package heat

import (
	"fmt"
	"math"
	"time"

	"mashward/controller/unit"
)

// Unreachable says that a load cannot be brought to a temperature: it names
// the highest one (the lowest, when cooling) that it comes towards.
type Unreachable struct {
	Target  unit.Celsius
	Highest unit.Celsius // where heat in and loss balance
}

// Error says what cannot be reached and what can.
func (e *Unreachable) Error() string {
	if e.Highest > e.Target {
		return fmt.Sprintf("cannot cool to %.1f °C: without heat the load comes to rest at %.1f °C; choose a target above that, or cool with water",
			e.Target, e.Highest)
	}
	return fmt.Sprintf("cannot reach %.1f °C: at full power the load comes to rest at %.1f °C; insulate, close the lid, or choose a lower target",
		e.Target, e.Highest)
}

// longest is where a duration is cut off (about 31 years): nothing real is
// longer, and time.Duration must not overflow.
const longest = 1e9 // s

// Highest is the temperature at which a constant power and the loss to the
// room balance: infinite without loss.
func Highest(loss unit.WattsPerKelvin, power unit.Watts, room unit.Celsius) unit.Celsius {
	if power <= 0 {
		return room
	}
	return room + unit.Celsius(float64(power)/float64(loss))
}

// HeatUp is how long a load of heat capacity c takes from one temperature to
// another at constant power, losing ua to the room: the closed form of
// c dT/dt = p - ua (T - room). It is zero when the load is there already. The
// error is *Unreachable. Without capacity the answer is zero as well: there
// is nothing to heat.
func HeatUp(c unit.JoulesPerKelvin, ua unit.WattsPerKelvin, p unit.Watts, room, from, to unit.Celsius) (time.Duration, error) {
	if from >= to || c <= 0 {
		return 0, nil
	}
	return approach(c, ua, p, room, from, to)
}

// Cooling is how long a load takes to fall from one temperature to another
// without heat. It is zero when the load is there already. The error is
// *Unreachable, which then names the room's temperature.
func Cooling(c unit.JoulesPerKelvin, ua unit.WattsPerKelvin, room, from, to unit.Celsius) (time.Duration, error) {
	if from <= to || c <= 0 {
		return 0, nil
	}
	return approach(c, ua, 0, room, from, to)
}

// approach is the time of c dT/dt = p - ua (T - room). The logarithm is taken
// of 1 + x, so that a loss near zero still gives the straight line.
func approach(c unit.JoulesPerKelvin, ua unit.WattsPerKelvin, p unit.Watts, room, from, to unit.Celsius) (time.Duration, error) {
	surplus := float64(p) - float64(ua)*float64(from-room) // W, at the start
	rise := float64(to - from)
	unreachable := &Unreachable{Target: to, Highest: Highest(ua, p, room)}
	if !(surplus*rise > 0) { // standing still, moving away, or not a number
		return 0, unreachable
	}
	seconds := float64(c) * rise / surplus
	if x := -float64(ua) * rise / surplus; x != 0 {
		if x <= -1 {
			return 0, unreachable
		}
		seconds = -float64(c) / float64(ua) * math.Log1p(x)
	}
	return time.Duration(math.Min(seconds, longest) * float64(time.Second)), nil
}

// After is the temperature of a load after d at constant power p, losing ua to
// the room: the same law as HeatUp and Cooling, read the other way. It knows
// no boiling point.
func After(c unit.JoulesPerKelvin, ua unit.WattsPerKelvin, p unit.Watts, room, from unit.Celsius, d time.Duration) unit.Celsius {
	if c <= 0 {
		return from
	}
	surplus := float64(p) - float64(ua)*float64(from-room)
	seconds := d.Seconds()
	if ua == 0 {
		return from + unit.Celsius(surplus*seconds/float64(c))
	}
	return from - unit.Celsius(surplus/float64(ua)*math.Expm1(-float64(ua)*seconds/float64(c)))
}

// HoldPower is the power that keeps a load at t: the loss to the room, never
// below zero.
func HoldPower(ua unit.WattsPerKelvin, room, t unit.Celsius) unit.Watts {
	return max(0, unit.Watts(float64(ua)*float64(t-room)))
}

// openSurface is the evaporation of an open kettle below the boil, W/(Pa m²)
// (value from memory: Carrier's formula for still pools gives 0.089; a rim
// shelters).
const openSurface = 0.050

// OpenLoss is what an open surface, m², loses at t by evaporation beyond what
// the kettle loses with its lid on. The room's air is taken as half saturated.
func OpenLoss(surface float64, room, t unit.Celsius) unit.Watts {
	driving := SaturationPressure(t) - SaturationPressure(room)/2
	return unit.Watts(max(0, openSurface*surface*float64(driving)))
}

// openAir is what air takes from a hot surface that faces up, W/(m² K): 6 to 8 in
// still air (value from memory, of free convection above a plate).
const openAir = 6.0

// OpenAir is what an open surface, m², gives to the air at t, beside vapour: it is
// lost at the boil too, and makes no steam.
func OpenAir(surface float64, room, t unit.Celsius) unit.Watts {
	return unit.Watts(max(0, openAir*surface*float64(t-room)))
}

// OpenTop is all that an open surface, m², loses at t beyond what the kettle loses
// with its lid on, below the boil: vapour and air.
func OpenTop(surface float64, room, t unit.Celsius) unit.Watts {
	return OpenLoss(surface, room, t) + OpenAir(surface, room, t)
}

// EvaporationPower is what boiling off a cold volume an hour costs, beside the
// loss to the room. Evaporation of 1 kg/h at 99.97 °C takes 626.8 W.
func EvaporationPower(rate unit.LitresPerSecond, boiling unit.Celsius) unit.Watts {
	return unit.Watts(float64(rate) * ColdDensity * float64(Latent(boiling)))
}

// EvaporationRate is the inverse: the cold volume a power boils off.
func EvaporationRate(power unit.Watts, boiling unit.Celsius) unit.LitresPerSecond {
	return unit.LitresPerSecond(float64(power) / (ColdDensity * float64(Latent(boiling))))
}
