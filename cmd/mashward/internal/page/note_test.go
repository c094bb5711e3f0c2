package page

import (
	"math"
	"net/http"
	"strconv"
	"testing"

	"mashward/controller"
	"mashward/profile"
)

// TestWhatWasWeighedAndReadIsToldOnThePage: each in a form of its own, in the viewer's
// scale, with its answer, and what comes of it is on the first page.
func TestWhatWasWeighedAndReadIsToldOnThePage(t *testing.T) {
	b := newBench(t)
	b.begin("rye-four-rests")
	b.stage(profile.Strike, controller.Heat)
	id := b.daemon.Latest().Batch.ID
	tell := func(query string, fields ...string) string {
		t.Helper()
		told := strconv.FormatUint(uint64(b.daemon.Latest().Decision.Deeds), 10)
		_, to, _ := b.post("/do"+query, append([]string{"batch", id, "told", told}, fields...)...)
		return to
	}
	_, form := b.get("/did?unit=F")
	holds(t, form, `value="grain-is"`, `value="4.60"`, `value="64.4"`, `value="thermometer-says"`, `value="gravity-is"`, `value="ph-is"`, `value="pump-stands"`)

	strike := func() float64 { return float64(b.daemon.Latest().Decision.Target) }
	before := strike()
	// 50 °F are 10 °C: as much grain, 34 K below the mash and not 26.
	if to := tell("?unit=F", "wish", "grain-is", "kilograms", "4,6", "warm", "50"); to != "/?said="+didCode(controller.GrainIs) {
		t.Fatal(to)
	}
	if got := (strike() - 44) / (before - 44); math.Abs(got-34.0/26) > 0.02 {
		t.Errorf("the strike stands %.3f times as far above the mash", got)
	}
	for _, c := range []struct {
		fields []string
		want   string
	}{
		{[]string{"wish", "thermometer-says", "warm", "20"}, didCode(controller.ThermometerSays)},
		{[]string{"wish", "ph-is", "value", "5,4", "warm", "21", "spot", "top"}, didCode(controller.PHIs)},
		{[]string{"wish", "ph-is", "value", "54", "warm", "21"}, noCode(controller.NotPH)},
		{[]string{"wish", "gravity-is", "instrument", "refractometer", "value", "11.9", "warm", "22"}, didCode(controller.GravityIs)},
		{[]string{"wish", "gravity-is", "instrument", "hydrometer", "value", "1.046", "warm", "66"}, noCode(controller.SampleWarm)},
		{[]string{"wish", "grain-is", "kilograms", "46", "warm", "18"}, noCode(controller.NotGrain)},
		{[]string{"wish", "pump-stands"}, didCode(controller.PumpStands)},
	} {
		if to := tell("", c.fields...); to != "/?said="+c.want {
			t.Errorf("%v: %s", c.fields, to)
		}
	}
	if _, to, _ := b.post("/do", "batch", id, "told", "0", "wish", "ph-is", "value", "5.4", "warm", "21"); to != "/?said="+codeOld {
		t.Errorf("the second tap of the same press: %s", to)
	}
	_, now := b.get("/")
	holds(t, now, "pH 5.40 in a sample of 21.0 °C, from the wort above the bed", "The strike water is to be at", "Gravity and volume, an estimate", "planned are 1.0")
	if status, _ := b.get("/did"); status != http.StatusOK {
		t.Error(status)
	}
}
