package view

import (
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/profile"
)

// Addition is one thing that is thrown in during the day.
type Addition struct {
	Number int    `json:"number"` // from 1, in the order of the day; what a press names
	Step   int    `json:"step"`   // 0: the strike water
	What   string `json:"what"`
	Where  string `json:"where"`  // its step, in words
	Called bool   `json:"called"` // it has been called out, or went in before that
	In     bool   `json:"in"`     // a person said that it is in
}

// additionsOf lists what is thrown in, in the order of the day.
func additionsOf(s *daemon.Snapshot) []Addition {
	list := []Addition{}
	d := &s.Decision
	all, steps := s.Batch.Profile.Order()
	for i, a := range all {
		bit := uint32(1) << i
		list = append(list, Addition{
			Number: i + 1, Step: steps[i], What: a.Add, Where: s.Batch.Say.Step(uint8(steps[i])), Called: d.Called&bit != 0, In: d.In&bit != 0,
		})
	}
	return list
}

// boiling are the wishes of additions, boil and chill that make sense now.
func boiling(d *controller.Decision, add func(bool, controller.Wish)) {
	running := d.Mode == controller.Running
	under := d.Mode.Heats() || d.Mode == controller.Held
	add(under && d.Called&^d.In != 0, controller.AdditionDone)
	add(running && d.Late > 0, controller.ExtendByDelay)
	add(running && d.Stage == controller.Climb, controller.HereLidOff)
	add(running && d.Stage == controller.Boil && !d.Hung && d.Prompt != controller.AskScald, controller.ChillerIn)
	cooling := d.Stage == controller.Connect || d.Stage == controller.Cool
	add(running && d.Kind == profile.Chill && cooling && d.Prompt != controller.AskColdest, controller.ChillDone)
}
