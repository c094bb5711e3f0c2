package controller_test

import (
	"testing"

	"mashward/controller"
	"mashward/profile"
)

// TestTheFallAtThePourTellsVolumeFromPower: both kettles heat their strike water
// about three tenths faster than declared. The one with too little water falls
// further when the grain goes in: what the mash will do is 1.390 with a third less
// water and 1.3 with a third more power. Without a look at the fall the gains
// would come out as 1.40 and 1.286.
func TestTheFallAtThePourTellsVolumeFromPower(t *testing.T) {
	for name, row := range map[string]struct {
		make        func(*toy)
		least, most float64
	}{
		"a third less water": {func(k *toy) { k.load *= 0.7 }, 1.370, 1.392},
		"a third more power": {func(k *toy) { k.power *= 1.3 }, 1.295, 1.306},
		"as declared":        {func(*toy) {}, 0.995, 1.006},
	} {
		x := started(t, sampleConfig())
		x.answers = true
		row.make(&x.k)
		for i := 0; !(x.d.Kind == profile.Rest && x.d.Stage == controller.Heat && x.d.Way == controller.Full); i++ {
			if i > 4*3600 {
				t.Fatalf("%s: no heat-up of the mash", name)
			}
			x.tick()
		}
		if got := x.s.Law.Gain; got < row.least || got > row.most {
			t.Errorf("%s: gain %.4f at the first heat-up of the mash; want %.3f to %.3f", name, got, row.least, row.most)
		}
		if x.s.Law.Poured != (controller.Poured{}) {
			t.Errorf("%s: the pour is weighed once", name)
		}
	}
}
