package enzyme

import (
	"math"

	"mashward/controller/unit"
)

const (
	gas          = 8.314462618 // J/(mol K)
	absoluteZero = 273.15      // K at 0 °C
)

// arrhenius is a rate k = k0 exp(-E/RT).
type arrhenius struct {
	k0     float64 // 1/s
	energy float64 // J/mol
}

func (a arrhenius) at(t unit.Celsius) float64 {
	return a.k0 * math.Exp(-a.energy/(gas*(float64(t)+absoluteZero)))
}

// Brandam and others 2003; the figures are from memory.
var (
	betaLoss  = arrhenius{7.6e60, 410.7e3}
	alphaLoss = arrhenius{6.9e30, 224.2e3}
	gelCold   = arrhenius{5.7e31, 220.6e3} // below gelTurn
	gelHot    = arrhenius{3.1e14, 108.3e3}
)

// gelTurn is where the two branches of gelatinisation should meet, and do not:
// the hot one is gelJump times the cold one there.
const (
	gelTurn = unit.Celsius(60)
	gelJump = 2.2013
)

// mullerLeft of the beta-amylase are left after mullerTime at mullerAt (R. Muller
// 1990, as quoted). The same source has 8 % left after an hour, which no
// first-order loss can join with that.
const (
	mullerLeft = 0.17
	mullerTime = 1800.0 // s
	mullerAt   = unit.Celsius(65)

	// mullerPace is the loss that leaves it over Brandam's at that temperature.
	mullerPace = 0.35702
)

// How fast the enzymes work on starch at the temperature they like best, all of
// them alive, in 1/s: chosen, not measured. The middle makes two sayings of the
// trade true, that beta-amylase has mostly done its work after half an hour at
// 62 °C and alpha-amylase after ten minutes at 72 °C behind it (common practice, no
// source); low and high are apart by the factor of two that parts the sources.
var (
	openAtBest  = [curves]float64{0.16 / 60, 0.22 / 60, 0.31 / 60}
	splitAtBest = [curves]float64{0.5 / 60, 0.7 / 60, 1.0 / 60}
)

// rates are the speeds of one curve at one temperature, in 1/s.
type rates struct {
	betaLoss, alphaLoss float64
	gel                 float64 // raw starch gelatinises
	open                float64 // alpha-amylase at full strength opens it
	split               float64 // beta-amylase at full strength takes sugar off
}

// ratesAt is the speeds of the three curves. The low one loses its enzymes as
// Brandam's do, the high one as Muller's beta-amylase; that alpha-amylase is
// spared by the same factor in a thick mash is assumed. The middle is the
// geometric mean.
func ratesAt(t unit.Celsius) [curves]rates {
	beta, alpha := betaLoss.at(t), alphaLoss.at(t)
	slower := [curves]float64{1, math.Sqrt(mullerPace), mullerPace}
	gel, open, split := gelatinise(t), alphaWork(t), betaWork(t)
	var all [curves]rates
	for k := range all {
		all[k] = rates{beta * slower[k], alpha * slower[k], gel[k], open[k] * openAtBest[k], split[k] * splitAtBest[k]}
	}
	return all
}

// gelatinise spreads the jump at 60 °C over the band, so that no curve jumps: the
// low one follows the cold branch and lowers the hot one to it, the high one the
// other way round, the middle meets between.
func gelatinise(t unit.Celsius) [curves]float64 {
	if t < gelTurn {
		k := gelCold.at(t)
		return [curves]float64{k, k * math.Sqrt(gelJump), k * gelJump}
	}
	k := gelHot.at(t)
	return [curves]float64{k / gelJump, k / math.Sqrt(gelJump), k}
}

// betaTop is where Brandam's beta-amylase is at its best.
const betaTop unit.Celsius = 63

// betaWork is how well beta-amylase works at a temperature, 1 at its best. Above
// 63 °C Brandam's line falls to nothing at 69.8 °C and then below it; part of that
// fall is loss, which is counted apart already. So the high curve stays at 1, and
// the middle goes between.
func betaWork(t unit.Celsius) [curves]float64 {
	best := betaFall(betaTop)
	if t <= betaTop {
		w := min(max(0, betaLine(t)/best), 1) // the lines meet at 62.1 °C, not at 63
		return [curves]float64{w, w, w}
	}
	least := max(0, betaFall(t)/best)
	return [curves]float64{least, (least + 1) / 2, 1}
}

// The lines that others fitted to Brandam's beta-amylase, over K.
func betaLine(t unit.Celsius) float64 {
	return 0.0475550936009274*(float64(t)+absoluteZero) - 13.4030011903215
}

func betaFall(t unit.Celsius) float64 {
	return -0.375479040579485*(float64(t)+absoluteZero) + 128.755113213744
}

// alphaBest is where the trade says that alpha-amylase works best: 70 to 75 °C
// (textbooks, from memory). Brandam's is at its best at 62 °C.
const alphaBest unit.Celsius = 72

// alphaWork is how well alpha-amylase works at a temperature, 1 at its best: by
// Brandam in the low curve; in the high one twice as well every 10 K (from memory)
// up to where the trade has its best, its loss being counted apart. The middle
// goes between.
func alphaWork(t unit.Celsius) [curves]float64 {
	a := max(0, alphaFit(t)/alphaFit(alphaTop))
	b := math.Exp2(min(0, float64(t-alphaBest)/10))
	return [curves]float64{min(a, 1), (min(a, 1) + b) / 2, b}
}

// Where the fit of alpha-amylase holds: below it rises with the cold, above it
// falls below nothing and then rises again.
const (
	alphaFrom unit.Celsius = 40
	alphaTop  unit.Celsius = 62
	alphaTo   unit.Celsius = 74
)

// alphaCoefficients, highest power of K first. They cancel to a few parts of 1e8:
// single precision would leave nothing.
var alphaCoefficients = [...]float64{
	9.82888846139552e-8, -1.91398099738377e-4, 0.155234755391823, -67.1237341274294,
	16320.3910529193, -2115612.60688011, 114232689.940232,
}

// alphaFit is the polynomial that others fitted to Brandam's alpha-amylase, held
// where it ends.
func alphaFit(t unit.Celsius) float64 {
	if t >= alphaTo {
		return 0
	}
	kelvin := float64(max(t, alphaFrom)) + absoluteZero
	sum := 0.0
	for _, c := range alphaCoefficients {
		sum = sum*kelvin + c
	}
	return sum
}
