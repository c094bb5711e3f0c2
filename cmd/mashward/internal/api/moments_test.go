package api

import (
	"net/http"
	"testing"
	"time"

	"mashward/cmd/internal/late"
	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
)

func TestWhenSomebodyIsNeededIsToldLive(t *testing.T) {
	inBubble(t, settings{files: map[string]string{"day": day}}, func(b *bench) {
		pass(10 * time.Second)
		if m := into[view.Needed](b, b.get("moments")); len(m.Moments) != 0 || m.Batch != nil || m.Finish != nil || m.Text == "" {
			b.Errorf("without a batch: %+v", m)
		}
		b.run("day")
		pass(time.Minute)
		m := into[view.Needed](b, b.get("moments"))
		if m.Batch == nil || m.Source != "forecast" || m.Finish == nil || len(m.Moments) < 4 || m.Moments[0].ID != "0-pour" {
			b.Fatalf("%+v", m)
		}
		made, err := time.Parse(time.RFC3339, m.Made)
		if err != nil {
			b.Fatal(err)
		}
		clock := b.state().Batch.Clock
		for _, one := range m.Moments {
			at, err := time.Parse(time.RFC3339, one.At)
			if ahead := at.Sub(made).Seconds() - (one.Seconds - clock); err != nil || ahead > 2 || ahead < -2 || one.Title == "" || one.What == "" {
				b.Errorf("%+v: %g s off the batch clock", one, ahead)
			}
		}
		free := m.Free
		if free == nil || *free != m.Moments[0].Early {
			b.Errorf("free until %v", free)
		}
	})
}

// The state tells how late the batch is, and the causes add up: STOP is a person's.
func TestTheStateTellsHowLateItIs(t *testing.T) {
	inBubble(t, settings{files: map[string]string{"day": day}}, func(b *bench) {
		pass(10 * time.Second)
		if s := b.state(); s.Late != nil {
			b.Errorf("without a batch: %+v", s.Late)
		}
		b.run("day")
		pass(time.Minute)
		before := b.state().Late
		if before == nil {
			b.Fatal("nothing is told")
		}
		b.post("stop", "", http.StatusOK)
		pass(10 * time.Minute)
		told := b.state().Late
		sum := int64(0)
		for _, n := range told.By {
			sum += n
		}
		if sum != told.Seconds || len(told.By) != late.Causes {
			b.Errorf("%+v", told)
		}
		if by := told.By[late.Person.String()] - before.By[late.Person.String()]; by < 595 || by > 605 {
			b.Errorf("stopped for ten minutes, %d s of them a person's: %+v", by, told)
		}
		if s := b.state(); s.Batch.State != controller.Held.String() {
			b.Error(s.Batch.State)
		}
	})
}
