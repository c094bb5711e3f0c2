package profile

import (
	"errors"
	"fmt"
	"time"

	"mashward/controller/unit"
)

// Use is what a profile is for.
type Use uint8

// The uses. The zero value is a batch like any other; one without grain and without a
// boil is water by hand.
const (
	Brew      Use = iota
	WaterBrew     // a whole day with water only: the grain's steps are gone through without grain
	Cleaning      // water with a cleaner in it
)

var useNames = [...]string{"brew", "water-brew", "cleaning"}

// String is the word used in files.
func (u Use) String() string {
	if int(u) < len(useNames) {
		return useNames[u]
	}
	return "unknown"
}

func useOf(word string) Use {
	for i, name := range useNames {
		if name == word {
			return Use(i)
		}
	}
	return Brew // refused where it was read
}

// ByHand tells whether this is water that is heated by hand, or to clean: no grain, no
// boil, and no day to be gone through.
func (p Profile) ByHand() bool {
	if p.Grain.Mass > 0 || p.Use == WaterBrew {
		return false
	}
	for _, s := range p.Steps {
		if s.Kind == Boil {
			return false
		}
	}
	return true
}

// What is cut short in a water brew.
const (
	waterRest   = 2 * time.Minute
	waterBoil   = 5 * time.Minute
	waterMashIn = 7 * time.Minute // the pump waits for a bed to set, also where there is none
)

// ErrNoGrain says that there is no brew to be tried with water.
var ErrNoGrain = errors.New("the profile has no grain: it is water already")

// InWater is the same day with water only, to try kettle, hands and prompts before any
// grain is at stake: the same temperatures, rests of two minutes and a boil of five.
// The strike water comes out at the mash's temperature, as there is no grain to warm.
func (p Profile) InWater() (Profile, error) {
	if p.Grain.Mass == 0 {
		return Profile{}, ErrNoGrain
	}
	w := p
	w.Use, w.Grain, w.Name, w.Steps = WaterBrew, Grain{}, cut("Water brew: "+p.Name), nil
	w.Expect = nil // it is another day
	for _, s := range p.Steps {
		most := waterRest
		switch s.Kind {
		case Boil:
			most = waterBoil
		case MashIn:
			most = waterMashIn
		}
		s.For = min(s.For, most)
		var all []Addition
		for _, a := range s.Additions {
			a.Left, a.At = min(a.Left, s.For), min(a.At, s.For)
			a.Add, a.Line = cut("nothing today, else "+a.Add), 0
			all = append(all, a)
		}
		s.Additions = all
		w.Steps = append(w.Steps, s)
	}
	return w, nil
}

// cut keeps a text to what a file may have in one line.
func cut(text string) string {
	const longest = 64
	if r := []rune(text); len(r) > longest {
		return string(r[:longest-3]) + "..."
	}
	return text
}

// heatOnly is for how long water is kept that is only to be heated: it has come to its
// temperature then, and heat goes off.
const heatOnly = time.Minute

// Water is a profile of water that is brought to a temperature and kept there for a
// time; 0: it is only heated. With a cleaner in it, use is Cleaning.
func Water(litres unit.Litres, to unit.Celsius, hold time.Duration, use Use) Profile {
	name := fmt.Sprintf("%s to %s", unit.FormatLitres(litres), unit.FormatCelsius(to))
	if hold > 0 {
		name = fmt.Sprintf("%s at %s for %s", unit.FormatLitres(litres), unit.FormatCelsius(to), unit.FormatDuration(hold))
	}
	if use == Cleaning {
		name = "Cleaning: " + name
	}
	return Profile{
		Name: name, Water: litres, Trub: DefaultTrub, Use: use,
		Steps: []Step{{Kind: Rest, Target: to, For: max(hold, heatOnly), Floor: DefaultFloor}},
	}
}
