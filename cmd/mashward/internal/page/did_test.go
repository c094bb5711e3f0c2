package page

import (
	"math"
	"net/http"
	"strconv"
	"testing"

	"mashward/controller"
	"mashward/profile"
)

// TestWhatAPersonDidIsToldOnAPageOfItsOwn: each deed in one form, in the viewer's
// scale, with a point or a comma; and a second tap tells nothing twice.
func TestWhatAPersonDidIsToldOnAPageOfItsOwn(t *testing.T) {
	b := newBench(t)
	if status, _ := b.get("/did"); status != http.StatusSeeOther {
		t.Errorf("without a batch: %d", status)
	}
	b.begin("rye-four-rests")
	b.stage(profile.Strike, controller.Heat)
	_, now := b.get("/")
	holds(t, now, `href="/did"`)
	_, form := b.get("/did?unit=F")
	holds(t, form, `value="added"`, `value="took-out"`, `value="volume-is"`, `value="lid-off"`, `name="told" value="0"`, "26.0 L", "in °F", "not before")
	lacks(t, form, `value="lid-on"`, "http-equiv")

	id := b.daemon.Latest().Batch.ID
	tell := func(wish, litres, warm, query string) string {
		t.Helper()
		told := strconv.FormatUint(uint64(b.daemon.Latest().Decision.Deeds), 10)
		_, to, _ := b.post("/do"+query, "batch", id, "told", told, "wish", wish, "litres", litres, "warm", warm)
		return to
	}
	water := func() float64 { return float64(b.daemon.Latest().Decision.Water) }
	before := water()
	if to := tell("added", "2,0", "140", "?unit=F"); to != "/?said="+didCode(controller.Added) {
		t.Fatal(to)
	}
	// 140 °F are 60 °C: 2 L there are 1.970 L at 20 °C (IAPWS R7-97).
	if in := water() - before; math.Abs(in-1.970) > 0.002 {
		t.Errorf("%.4f L went in", in)
	}
	if _, to, _ := b.post("/do", "batch", id, "told", "0", "wish", "added", "litres", "2", "warm", "60"); to != "/?said="+codeOld {
		t.Errorf("the second tap of the same press: %s", to)
	}
	for _, c := range []struct {
		wish, litres, warm string
		want               controller.Refusal
	}{
		{"added", "2", "", controller.NotWater},
		{"added", "2", "101", controller.NotWater},
		{"added", "", "60", controller.NeedsFigure},
		{"added", "60", "20", controller.Overfull},
		{"volume-is", "51", "20", controller.Overfull},
		{"took-out", "500", "", controller.NeedsFigure},
	} {
		if to := tell(c.wish, c.litres, c.warm, ""); to != "/?said="+noCode(c.want) {
			t.Errorf("%+v: %s", c, to)
		}
	}
	if to := tell("lid-off", "", "", ""); to != "/?said="+didCode(controller.LidOff) {
		t.Error(to)
	}
	_, form = b.get("/did")
	holds(t, form, `value="lid-on"`)
	if to := tell("took-out", "20", "", ""); to != "/?said="+noCode(controller.WouldBare) {
		t.Fatal(to)
	}
	_, now = b.get("/")
	holds(t, now, "Heat is off: by what was said the element or the probe is bare", "2.0 L went in", "The lid is off.")
	if to := tell("volume-is", "24", "20", ""); to != "/?said="+didCode(controller.VolumeIs) {
		t.Fatal(to)
	}
	_, now = b.get("/")
	lacks(t, now, `id="sentence" data-waiting="Waiting for you: ">Heat is off`)
}
