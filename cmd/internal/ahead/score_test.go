package ahead_test

import (
	"errors"
	"fmt"
	"math"
	"testing"
	"time"

	"mashward/cmd/internal/rehearse"
	"mashward/profile"
	"mashward/sim/kettles"
)

// Which random kettles are judged on. The figures of doubt.go and walk.go were chosen
// on seeds below 10000; these were not looked at before.
const (
	judgedOn  = 10000 // on
	byDay     = 18    // of them two thirds over the whole day
	byNight   = 150
	confident = 0.90
)

// alpha is what the interval score charges for: a band for nine cases of ten.
const alpha = 0.1

// charge is the interval score of T. Gneiting and A. E. Raftery (Strictly proper
// scoring rules, J. Am. Stat. Assoc. 102 (2007) 359, equation 43): the width, and
// 2/alpha times what the truth lies beside it.
func charge(low, high, truth float64) float64 {
	return high - low + 2/alpha*(max(0, low-truth)+max(0, truth-high))
}

// The worked case: alpha 0.1, so twenty times what is missed.
func TestTheChargeIsWidthAndTwentyTimesTheMiss(t *testing.T) {
	for _, row := range []struct{ low, high, truth, want float64 }{{10, 14, 12, 4}, {10, 14, 15, 24}, {10, 14, 9.5, 14}, {10, 10, 10, 0}} {
		if got := charge(row.low, row.high, row.truth); got != row.want {
			t.Errorf("%v: %g", row, got)
		}
	}
}

// score sums up over minutes, and keeps each day.
type score struct {
	minutes, held int
	ours, plans   float64 // s, sums of charges
	width         float64 // s
	shares        []float64
	ratios        []float64 // of the charges, by day
}

func (s *score) add(o score) {
	s.minutes, s.held = s.minutes+o.minutes, s.held+o.held
	s.ours, s.plans, s.width = s.ours+o.ours, s.plans+o.plans, s.width+o.width
	s.shares, s.ratios = append(s.shares, o.share()), append(s.ratios, o.ours/o.plans)
}

func (s *score) share() float64  { return float64(s.held) / float64(s.minutes) }
func (s *score) better() float64 { return 1 - s.ours/s.plans }

// typical is how much better it is on a day as it mostly is: by the geometric mean, so
// that one day which no plan could foresee does not speak for all.
func (s *score) typical() float64 {
	sum := 0.0
	for _, r := range s.ratios {
		sum += math.Log(r)
	}
	return 1 - math.Exp(sum/float64(len(s.ratios)))
}

// doubt is the standard error of the share. The minutes of a day hold or miss
// together, so that only its days are independent.
func (s *score) doubt() float64 {
	n, mean, squares := float64(len(s.shares)), 0.0, 0.0
	for _, x := range s.shares {
		mean += x / n
	}
	for _, x := range s.shares {
		squares += (x - mean) * (x - mean)
	}
	return math.Sqrt(squares / (n - 1) / n)
}

func (s *score) String() string {
	n := float64(s.minutes)
	return fmt.Sprintf("%3d days, %6d minutes: held %.1f ± %.1f %%, mean charge %.0f s against %.0f s of the plan ±10 %% (%.0f %% better, %.0f %% on a typical day), mean width %.0f s",
		len(s.shares), s.minutes, 100*s.share(), 100*s.doubt(), s.ours/n, s.plans/n, 100*s.better(), 100*s.typical(), s.width/n)
}

// verdict is why forecasts that score so are not good enough. Of a few days the share
// is known to some per cent only: they speak against it when it lies below 90 % by
// more than that (one-sided, 95 %). At night there are enough to take it as it is.
func (s *score) verdict() error {
	lowest := confident
	if !*night {
		lowest -= 1.645 * s.doubt()
	}
	switch {
	case len(s.shares) < 3:
		return errors.New("hardly anything was judged")
	case s.share() < lowest:
		return fmt.Errorf("the band holds the truth in %.1f %% of the minutes only", 100*s.share())
	case s.better() < 0.30 || s.typical() < 0.30:
		return fmt.Errorf("it scores only %.0f %% better than the plan, %.0f %% on a typical day", 100*s.better(), 100*s.typical())
	}
	return nil
}

// judge scores a day on the time left without the fixed rests, with the bands made
// so many times as wide.
func (l *looker) judge(wide float64) score {
	var s score
	for i := range l.minutes {
		m := &l.minutes[i]
		left := func(at time.Duration) float64 { return (at - m.at - m.rests).Seconds() }
		truth, mid := left(l.last), left(m.f.Finish.At)
		low, high := mid-wide*(mid-left(m.f.Finish.Early)), mid+wide*(left(m.f.Finish.Late)-mid)
		s.minutes++
		if truth >= low && truth <= high {
			s.held++
		}
		s.ours += charge(low, high, truth)
		s.plans += charge(0.9*m.plan.Seconds(), 1.1*m.plan.Seconds(), truth)
		s.width += high - low
	}
	return s
}

// judgeMoments counts the forecasts of moments with a person of which the true time
// is known, and those that hold it, to a second or two of presses.
func (l *looker) judgeMoments() (n, held int) {
	const presses = 3 * time.Second
	for i := range l.minutes {
		for _, m := range l.minutes[i].f.Moments {
			at, known := l.presses[fmt.Sprint(m.Step, m.Of)]
			if !known || at < l.minutes[i].at {
				continue
			}
			n++
			if at >= m.Early-presses && at <= m.Late+presses {
				held++
			}
		}
	}
	return n, held
}

// Prompts answered at once, scored every minute: the band holds the truth in 90 % and
// more, and scores 30 % better than the plan ±10 %; and a band that is too narrow or
// too wide is found out. Over a mash alone, of which a plan knows much, and over the
// whole day, whose hot break and chiller nobody has declared.
func TestForecastsHoldTheirBandAndBeatThePlan(t *testing.T) {
	n := uint64(byDay)
	if *night {
		n = byNight
	}
	for _, d := range []struct {
		name   string
		thirds uint64
		of     func(kettles.Kettle) profile.Profile
		scales [3]float64
	}{
		{"the mash", 3, rehearse.FourRests, [...]float64{1, 0.3, 4}},
		{"the whole day", 2, wholeDay, [...]float64{1, 0.3, 8}},
	} {
		t.Run(d.name, func(t *testing.T) { judgeDays(t, n*d.thirds/3, d.of, d.scales) })
	}
}

func judgeDays(t *testing.T, n uint64, of func(kettles.Kettle) profile.Profile, scales [3]float64) {
	var all [len(scales)]score
	var kinds [2]score
	var moments, right int
	for seed := uint64(judgedOn); seed < judgedOn+n; seed++ {
		l, err := brewed(seed, of)
		if err != nil {
			t.Logf("seed %d is left out: %v", seed, err)
			continue
		}
		if l.none > 0 {
			t.Errorf("seed %d: %d minutes without a forecast", seed, l.none)
		}
		for i, wide := range scales {
			all[i].add(l.judge(wide))
		}
		kinds[seed%2].add(l.judge(1))
		n, held := l.judgeMoments()
		moments, right = moments+n, right+held
	}
	t.Logf("tuned:   %v", &kinds[0])
	t.Logf("untuned: %v", &kinds[1])
	t.Logf("all:     %v", &all[0])
	if err := all[0].verdict(); err != nil {
		t.Error(err)
	}
	if share := float64(right) / float64(moments); !(share >= confident) {
		t.Errorf("of %d forecasts of a moment with a person, %.1f %% hold it", moments, 100*share)
	} else {
		t.Logf("%d forecasts of moments with a person: %.1f %% hold it", moments, 100*share)
	}
	for i, wide := range scales[1:] {
		if err := all[i+1].verdict(); err == nil {
			t.Errorf("a band %g times as wide passes as well: %v", wide, &all[i+1])
		} else {
			t.Logf("%g times as wide: %v", wide, err)
		}
	}
}
