package enzymes

import "mashward/profile/enzyme"

// Told is a batch in the form in which programs get it.
type Told struct {
	*enzyme.Report
	Rests []Rest `json:"rests"` // in order; one that was repeated is there twice
}

// Rest is one of its rests.
type Rest struct {
	Step int         `json:"step"` // entry of the profile
	Did  enzyme.Rest `json:"did"`
}

// Tell puts a course into that form; nil where no grain went in.
func Tell(c *enzyme.Course) *Told {
	report := c.Report()
	if report == nil {
		return nil
	}
	out := &Told{report, []Rest{}}
	for _, r := range c.Rests() {
		out.Rests = append(out.Rests, Rest{r.Step, r})
	}
	return out
}
