package enzyme

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"mashward/controller/unit"
)

// rest is one of a course under test: straight to a temperature, then there, its
// target being another where it is too hot.
type rest struct {
	step   int
	target unit.Celsius
	at     unit.Celsius
	long   time.Duration
}

func follow(rests ...rest) *Course {
	var c Course
	c.Begin(rests[0].at)
	for i, r := range rests {
		c.Rest(r.step, r.target, i == 0)
		from := c.State().At
		for t := time.Duration(0); t < 5*time.Minute && from != r.at; t += 5 * time.Second {
			c.Step(5*time.Second, from+(r.at-from)*unit.Celsius((t+5*time.Second).Minutes()/5), r.target)
		}
		for t := time.Duration(0); t < r.long; t += 5 * time.Second {
			c.Step(5*time.Second, r.at, r.target)
		}
	}
	c.End()
	return &c
}

func words(seconds *float64) string {
	if seconds == nil {
		return "no time at all"
	}
	return fmt.Sprintf("%.0f s", *seconds)
}

func TestRestsAddUpToTheMash(t *testing.T) {
	c := follow(rest{1, 52, 52, minutes(15)}, rest{2, 62, 62, minutes(35)}, rest{3, 72, 72, minutes(20)}, rest{4, 78, 78, minutes(10)})
	if len(c.Rests()) != 4 {
		t.Fatalf("%d rests", len(c.Rests()))
	}
	sum := unit.Ratio(0)
	for i, r := range c.Rests() {
		sum += r.Added.Sugar.Mid
		if r.Step != i+1 || r.Cost != nil {
			t.Errorf("rest %d: step %d, too hot by %+v", i+1, r.Step, r.Cost)
		}
	}
	if e := estimate(t, c.State()); !within(float64(sum), float64(e.Sugar.Mid), 1e-9) {
		t.Errorf("the rests added %.4f sugar, in all there is %.4f", sum, e.Sugar.Mid)
	}
	second, third := c.Of(2), c.Of(3)
	if second.NoSugar == nil || *second.NoSugar < 10*60 || *second.NoSugar > 35*60 {
		t.Errorf("62 °C makes hardly more sugar after %v", words(second.NoSugar))
	}
	if third.NoSugar == nil || *third.NoSugar != 0 || third.NoOpening == nil || *third.NoOpening > 10*60 {
		t.Errorf("72 °C makes hardly more sugar after %v, hardly opens more after %v", words(third.NoSugar), words(third.NoOpening))
	}
	if third.Spent == nil || *third.Spent != *third.NoOpening {
		t.Errorf("72 °C has nothing more to give after %v", words(third.Spent))
	}
	if r := c.Of(1); r.NoSugar != nil || r.NoOpening != nil || r.Spent != nil {
		t.Error("52 °C is called spent before the starch is gelatinised")
	}
}

func TestTooHotIsHeldAgainstTheSameRestAtItsTarget(t *testing.T) {
	good, hot := follow(rest{1, 63, 63, minutes(20)}), follow(rest{1, 63, 65, minutes(20)})
	cost := hot.Of(1).Cost
	if cost == nil || cost.Above != 2 {
		t.Fatalf("2 K too hot cost %+v", cost)
	}
	g, h := estimate(t, good.State()), estimate(t, hot.State())
	if want := g.BetaLeft.Mid - h.BetaLeft.Mid; want < 0.1 || !within(float64(cost.Beta.Mid), float64(want), 1e-9) {
		t.Errorf("it cost %+v of the beta-amylase, and the two mashes are apart by %.3f", cost.Beta, want)
	}
	if want := g.Sugar.Mid - h.Sugar.Mid; !within(float64(cost.Sugar.Mid), float64(want), 1e-9) {
		t.Errorf("it cost %+v sugar, and the two mashes are apart by %.3f", cost.Sugar, want)
	}
}

// A rest below the one before is meant: that it begins too hot is no fault of it.
func TestARestOnItsWayDownIsNotTooHot(t *testing.T) {
	c := follow(rest{1, 70, 70, minutes(5)}, rest{2, 62, 62, minutes(20)})
	if cost := c.Of(2).Cost; cost != nil {
		t.Errorf("a rest that was cooled to cost %+v", cost)
	}
}

func TestAfterTheGrainIsOutNothingGoesOn(t *testing.T) {
	c := follow(rest{1, 62, 62, minutes(20)})
	was := c.State()
	c.Rest(2, 95, false)
	c.Step(time.Minute, 95, 95)
	c.End()
	if c.State() != was || c.Mashing() || len(c.Rests()) != 1 {
		t.Errorf("after the lift: %+v", c.State())
	}
}

func TestWithoutGrainThereIsNothingToSay(t *testing.T) {
	var c Course
	c.Rest(1, 62, false)
	c.Step(time.Minute, 62, 62)
	c.End()
	if c.Report() != nil || len(c.Rests()) != 0 || c.Words(nil) != "" {
		t.Error("water has enzymes")
	}
}

func TestWhatIsNotKnownIsNoFigure(t *testing.T) {
	var c Course
	c.Begin(62)
	c.Rest(1, 62, true)
	c.Step(time.Minute, 62, 62)
	c.Rest(2, 64, false)
	c.Lose()
	c.Step(time.Minute, 64, 64)
	c.End()
	out, err := json.Marshal(c.Report())
	if err != nil || !strings.Contains(string(out), `"at_end":null`) || !strings.Contains(string(out), "estimate") {
		t.Errorf("%s, %v", out, err)
	}
	if c.Of(1) == nil || c.Of(2) != nil {
		t.Error("the first rest was known, the second was not")
	}
	if w := c.Words(func(int) string { return "rest" }); !strings.Contains(w, "Not known to the end") {
		t.Errorf("%s", w)
	}
}

func TestWordsFitAPageAndSayThatTheyAreAnEstimate(t *testing.T) {
	w := follow(rest{1, 63, 65.5, minutes(20)}, rest{2, 72, 72, minutes(20)}).Words(func(int) string { return "mash-out 72.0 °C" })
	for _, part := range []string{"An estimate", "beta left", "too hot: cost", "hardly more sugar"} {
		if !strings.Contains(w, part) {
			t.Errorf("%q is missing in\n%s", part, w)
		}
	}
	for line := range strings.Lines(w) {
		if n := len([]rune(strings.TrimSuffix(line, "\n"))); n > 78 {
			t.Errorf("%d columns: %s", n, line)
		}
	}
}
