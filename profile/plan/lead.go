package plan

import "time"

// leastMargin is what strike water takes to stand still at its temperature, and who
// comes to look at it.
const leastMargin = 5 * time.Minute

// Margin is by how much earlier a heat-up that needs so long is begun, where its water
// has to be hot at a time of day: mains 5 % low are 10 % of the power, and loss takes its
// part of what is left.
func Margin(needs time.Duration) time.Duration { return needs*3/20 + leastMargin }

// Lead is what the strike heat-up needs, and the margin before it; 0 where no strike
// waits for a person.
func (p Plan) Lead() (needs, margin time.Duration) {
	if !p.HasStrike || len(p.Steps) == 0 {
		return 0, 0
	}
	needs = p.Steps[0].Heat()
	return needs, Margin(needs)
}
