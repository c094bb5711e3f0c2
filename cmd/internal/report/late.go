package report

import (
	"fmt"

	"mashward/cmd/internal/late"
)

// latePart is one row of what made the day late.
type latePart struct{ Minutes, Text string }

// fillLate adds how late the day was, and each cause that took half a minute or more.
func (p *page) fillLate(t *late.Told) {
	if t == nil {
		return
	}
	p.Late = tied(sentence(t.Text) + ".")
	for _, part := range t.Parts {
		if part.Seconds >= 30 || part.Seconds <= -30 {
			p.LateParts = append(p.LateParts, latePart{fmt.Sprintf("%.1f min", float64(part.Seconds)/60), tied(part.Text)})
		}
	}
}
