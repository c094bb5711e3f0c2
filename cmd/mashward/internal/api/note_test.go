package api

import (
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/profile"
)

// noteBody is one body for each wish that tells of something weighed or read.
var noteBody = map[string]string{
	"grain-is":         `{"wish": "grain-is", "kilograms": 3.9, "celsius": 10}`,
	"thermometer-says": `{"wish": "thermometer-says", "celsius": 62.4}`,
	"ph-is":            `{"wish": "ph-is", "value": 5.38, "celsius": 63, "spot": "middle"}`,
	"gravity-is":       `{"wish": "gravity-is", "value": 11.9, "celsius": 22, "instrument": "refractometer"}`,
}

const noted = `profile: Noted
water: 25 L
grain: {mass: 4 kg, temperature: 18 °C}
steps:
  - {mash-in: 63 °C, for: 20 min}
  - lift
  - {boil: 30 min, boil_off: 2.4 L/h}
`

// What was weighed moves plan, strike and expectation at once; what was read is said
// and expected from, and is in the record.
func TestWhatWasWeighedAndReadIsSeenAtOnce(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.write("noted", noted)
		b.run("noted")
		before := b.state()
		b.post("command", noteBody["grain-is"], 200)
		after := b.state()
		// 3.9 kg of 10 °C need less than 4 kg of 18 °C would at 0.3 K each, by mixture:
		// 1.6744 kJ/(kg K): 3.9·53/4·45 = 1.148 times the heat.
		rise := func(s State) float64 { return *s.Target - 63 }
		if got := rise(after) / rise(before); math.Abs(got-3.9*53/(4*45)) > 0.01 {
			b.Errorf("the strike stands %.3f times as far above the mash", got)
		}
		if after.Batch.Grain != 3.9 || after.Batch.GrainAt != 10 || after.Batch.Told != before.Batch.Told+1 {
			b.Errorf("%+v", after.Batch)
		}
		if a, z := before.Wort, after.Wort; a == nil || z == nil || !(z.Original.Gravity < a.Original.Gravity) || z.Target != a.Target {
			b.Errorf("%+v, %+v", a, z)
		}
		b.until("ready to pour", func(s *daemon.Snapshot) bool { return s.Decision.Prompt == controller.AskPour })
		b.post("command", `{"wish": "pouring-now"}`, 200)
		b.post("command", `{"wish": "grain-in"}`, 200)
		no(b, b.ask("POST", "command", noteBody["grain-is"]), http.StatusUnprocessableEntity, "refused")
		b.until("resting", func(s *daemon.Snapshot) bool {
			return s.Decision.Kind == profile.MashIn && s.Decision.Stage == controller.Count
		})
		pass(12 * time.Minute)
		for _, wish := range []string{"thermometer-says", "ph-is", "gravity-is"} {
			b.post("command", noteBody[wish], 200)
		}
		w := b.ask("POST", "command", `{"wish": "gravity-is", "value": 1.05, "celsius": 63, "instrument": "hydrometer"}`)
		if no(b, w, http.StatusUnprocessableEntity, "refused"); !strings.Contains(w.Body.String(), "let the sample cool") {
			b.Error(w.Body)
		}
		s := b.state()
		// 11.9/1.04 = 11.44 °P, which ASBC's polynomial has at 1.04603.
		if math.Abs(s.Wort.Gravity-1.04603) > 0.0001 || s.Wort.ReadIn != "mash" || len(s.Wort.Readings) != 1 || s.Wort.Remedy.Text == "" {
			b.Errorf("%+v", s.Wort)
		}
		told := ""
		for _, e := range s.Events {
			told += e.Text + "\n"
		}
		for _, want := range []string{
			"Another thermometer says 62.4 °C.", "pH 5.38 in a sample of 63.0 °C, from the middle of the bed. So warm it reads lower: cooled to 20 °C the sample would show about 5.7",
			"11.9 °Bx by refractometer in a sample of 22.0 °C.", "That is a gravity of 1.0460 at 20 °C.", "Refused: at that temperature the instrument reads false",
		} {
			if !strings.Contains(told, want) {
				b.Errorf("%q is not said:\n%s", want, told)
			}
		}
		b.post("stop", "", 200)
		b.post("command", `{"wish": "end"}`, 200)
		pass(30 * time.Second)
		list := into[struct{ Records []Brief }](b, b.get("records"))
		r := into[Record](b, b.get("records/"+list.Records[0].ID))
		if r.Wort == nil || r.Wort.Gravity != s.Wort.Gravity || r.Advice == nil {
			b.Errorf("the record has %+v, %v", r.Wort, r.Advice)
		}
	})
}

// What does not belong together, or cannot be, is said before the loop hears of it.
func TestANoteThatCannotBeIsRefusedBeforeTheLoop(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		for _, body := range []string{
			`{"wish": "grain-is", "celsius": 20}`, `{"wish": "grain-is", "kilograms": 4}`, `{"wish": "grain-is", "kilograms": 0, "celsius": 20}`,
			`{"wish": "pause", "kilograms": 4}`, `{"wish": "ph-is", "celsius": 20}`, `{"wish": "ph-is", "value": 5.4}`,
			`{"wish": "ph-is", "value": 5.4, "celsius": 20, "spot": "bucket"}`, `{"wish": "gravity-is", "value": 1.05, "celsius": 20}`,
			`{"wish": "gravity-is", "value": 1.05, "celsius": 20, "instrument": "spoon"}`, `{"wish": "pause", "calibrated_celsius": 20}`,
			`{"wish": "gravity-is", "value": 11, "celsius": 20, "instrument": "refractometer", "calibrated_celsius": 20}`,
			`{"wish": "gravity-is", "value": 1.05, "celsius": 20, "instrument": "hydrometer", "calibrated_celsius": 65}`, `{"wish": "thermometer-says"}`,
			`{"wish": "gravity-is", "value": 1.05, "celsius": 20, "instrument": "hydrometer", "spot": "top"}`, `{"wish": "thermometer-says", "celsius": 20, "value": 1}`,
		} {
			no(b, b.ask("POST", "command", body), http.StatusBadRequest, "bad-request")
		}
	})
}
