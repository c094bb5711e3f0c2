package daemon

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/say"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/profile/strict"
)

// A profile can be made instead of read: a water brew out of one in the folder, or water
// that is heated by hand. Its id says all of it, so that nothing has to be kept: by that
// it is looked at, rehearsed and armed as any other. No file of the folder has a tilde in
// its id.
const (
	madeMark    = "~"
	madeBrew    = madeMark + "water-brew" + madeMark
	madeByHand  = madeMark + "by-hand" + madeMark
	madeToClean = madeMark + "cleaning" + madeMark
)

// ByHand is water to be heated by hand.
type ByHand struct {
	Litres float64
	Target unit.Celsius
	Hold   time.Duration // 0: it is only heated
	// Until is a time of day instead. It becomes a length when it is armed, and no
	// wall clock is asked from then on; Hold is the longest that this can be.
	Until    time.Time
	Cleaning bool
}

// What can be meant by hand.
const (
	leastHand = 1   // L
	mostHand  = 200 // L
	coldest   = 5   // °C
	hottest   = 100 // °C; a plan knows better
)

// Beyond is which figure cannot be meant, as what to do about it; "" if all can.
func (h ByHand) Beyond() string {
	switch {
	case !(h.Litres >= leastHand && h.Litres <= mostHand):
		return fmt.Sprintf("say how many litres of water: %d to %d", leastHand, mostHand)
	case !(h.Target >= coldest && h.Target <= hottest):
		return fmt.Sprintf("say to which temperature: %d to %d °C", coldest, hottest)
	case h.Hold < 0 || h.Hold > plan.LongestByHand:
		return fmt.Sprintf("say for how long: it is off by itself after %s at most", say.Length(plan.LongestByHand))
	}
	return ""
}

// WaterBrewOf is the id of a profile's water brew.
func WaterBrewOf(id string) string { return madeBrew + id }

// ByHandID is the id of a profile of water by hand. What this kettle cannot do is said
// where it is planned.
func (d *Daemon) ByHandID(h ByHand) (id string, err error) {
	timed := !h.Until.IsZero()
	beyond := h.Beyond()
	switch {
	case d.kettle == nil:
		return "", ErrDisabled
	case beyond != "":
		return "", &Unstated{beyond}
	case h.Hold > 0 && timed:
		return "", &Unstated{"say for how long, or until when: not both"}
	}
	if !timed {
		return h.id(), nil
	}
	hold, err := d.holdUntil(h)
	if err != nil {
		return "", err
	}
	h.Hold = hold + time.Minute // it is rehearsed for that, and armed for no longer
	return h.id(), nil
}

// holdUntil is for how long it is kept once it is hot, if it is begun now, in whole
// minutes.
func (d *Daemon) holdUntil(h ByHand) (time.Duration, error) {
	now := d.o.Now()
	if doubt := d.boot().Doubt(now); doubt != "" {
		return 0, &Unstated{doubt + ": say for how long, not until when"}
	}
	until := h.Until
	h.Until, h.Hold = time.Time{}, 0
	b, faults, err := d.load(h.id())
	if err != nil {
		return 0, err
	}
	if strict.Refused(faults) || len(b.Plan.Steps) == 0 {
		return 0, &Refusal{faults}
	}
	heats := b.Plan.Steps[0].Heat()
	hold := until.Sub(now.Round(0)) - heats
	switch {
	case hold < time.Minute:
		return 0, &Unstated{fmt.Sprintf("heating takes %s: it cannot be kept until then", say.Length(heats))}
	case heats+hold > plan.LongestByHand:
		return 0, &Unstated{"that is more than 4 h from now: it is off by itself after 4 h at most"}
	}
	return hold.Truncate(time.Minute), nil
}

// endsThen is the batch that ends at the time that its id says, by how long that is from
// now on; any other batch is as it is.
func (d *Daemon) endsThen(b *Batch) (*Batch, error) {
	h, ok := parseByHand(b.id)
	if !ok || h.Until.IsZero() {
		return b, nil
	}
	hold, err := d.holdUntil(h)
	if err != nil {
		return nil, err
	}
	if hold > h.Hold { // the clock was set back since: it was rehearsed for less
		return nil, ErrChanged
	}
	h.Until, h.Hold = time.Time{}, hold
	b, faults, err := d.load(h.id())
	if err == nil && strict.Refused(faults) {
		err = &Refusal{faults}
	}
	return b, err
}

// id is all of it in one word: millilitres, thousandths of a degree, seconds, and
// seconds since 1970.
func (h ByHand) id() string {
	kind := madeByHand
	if h.Cleaning {
		kind = madeToClean
	}
	parts := []int64{int64(math.Round(h.Litres * 1000)), int64(math.Round(float64(h.Target) * 1000)), int64(h.Hold / time.Second)}
	if !h.Until.IsZero() {
		parts = append(parts, h.Until.Unix())
	}
	words := make([]string, len(parts))
	for i, n := range parts {
		words[i] = strconv.FormatInt(n, 10)
	}
	return kind + strings.Join(words, madeMark)
}

// parseByHand reads what id wrote, and nothing else.
func parseByHand(id string) (ByHand, bool) {
	var h ByHand
	rest, clean := strings.CutPrefix(id, madeToClean)
	if !clean {
		var hand bool
		if rest, hand = strings.CutPrefix(id, madeByHand); !hand {
			return h, false
		}
	}
	var n []int64
	for _, word := range strings.Split(rest, madeMark) {
		x, err := strconv.ParseInt(word, 10, 64)
		if err != nil {
			return h, false
		}
		n = append(n, x)
	}
	if len(n) < 3 || len(n) > 4 {
		return h, false
	}
	h = ByHand{Litres: float64(n[0]) / 1000, Target: unit.Celsius(float64(n[1]) / 1000), Hold: time.Duration(n[2]) * time.Second, Cleaning: clean}
	if len(n) == 4 {
		h.Until = time.Unix(n[3], 0)
	}
	return h, h.Beyond() == "" && h.id() == id
}

// source is the text of a profile: of a file in the folder, with its name, or made.
func (d *Daemon) source(id string) (file string, text []byte, err error) {
	if of, ok := strings.CutPrefix(id, madeBrew); ok {
		text, err := d.waterBrew(of)
		return "", text, err
	}
	if h, ok := parseByHand(id); ok {
		use := profile.Brew
		if h.Cleaning {
			use = profile.Cleaning
		}
		return "", []byte(config.ProfileText(profile.Water(unit.Litres(h.Litres), h.Target, h.Hold, use), &d.o.Rig)), nil
	}
	if !goodID(id) {
		return "", nil, ErrNoProfile
	}
	root, err := os.OpenRoot(d.o.Profiles)
	if err != nil {
		return "", nil, err
	}
	defer root.Close()
	text, err = readRegular(root, id+".yaml")
	return id + ".yaml", text, err
}

// waterBrew is the text of a profile's water brew.
func (d *Daemon) waterBrew(of string) ([]byte, error) {
	if !goodID(of) {
		return nil, ErrNoProfile
	}
	_, text, err := d.source(of)
	if err != nil {
		return nil, err
	}
	p, faults := profile.Parse(of+".yaml", text)
	if strict.Refused(faults) {
		return nil, &Refusal{faults}
	}
	w, err := p.InWater()
	if err != nil {
		return nil, &Unstated{err.Error()}
	}
	return []byte(config.ProfileText(w, &d.o.Rig)), nil
}
