package notify

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"mashward/cmd/internal/notice"
)

// Examples is what would be sent to each target of a file, with an example of each
// event that it is told of. No secret is in it.
func Examples(f notice.File) string {
	var b strings.Builder
	for i := range f.Targets {
		t := &f.Targets[i]
		p := newPoster(t, nil, nil)
		for _, kind := range t.Kinds {
			p.example(&b, kind)
		}
	}
	return b.String()
}

// example writes one request as it would go out.
func (p *poster) example(b *strings.Builder, kind string) {
	s := sight{rig: "Yard kettle", profile: "Rye, four rests", batch: "example", step: "rest at 63.0 °C", clock: "1:12", reading: "62.9 °C", hot: true}
	w := word{thing: thing{kind: kind, id: "example", said: exampleSaid[kind], do: "Look at the kettle."}, state: isNew, times: 1}
	m := write(w, &s, time.Date(2026, 11, 27, 10, 41, 0, 0, time.UTC))
	r, err := p.request(context.Background(), &m, "example")
	if err != nil {
		fmt.Fprintf(b, "%s: %v\n", p.target.Name, err)
		return
	}
	fmt.Fprintf(b, "%s, %s: POST %s/...\n", p.target.Name, kind, p.target.Host())
	names := make([]string, 0, len(r.Header))
	for name := range r.Header {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		fmt.Fprintf(b, "  %s: %s\n", name, p.hidden(r.Header.Get(name)))
	}
	body, _ := io.ReadAll(r.Body) // it is a text in memory
	fmt.Fprintf(b, "\n  %s\n\n", strings.ReplaceAll(strings.TrimSpace(string(body)), "\n", "\n  "))
}

var exampleSaid = map[string]string{
	notice.Prompt:   "The mash is done. When you are at the hoist, say that you lift: heat and pump go off before the bag moves.",
	notice.Addition: "Add now: 28 g bittering hops (boil).",
	notice.Soon:     "You will be needed about 10:51 (10:49 to 10:54). Then: lift the grain.",
	notice.Alarm:    "Alarm: the mash is more than 0.5 °C too hot.",
	notice.Trip:     "Heat is cut and stays off: probe-stuck. The probe's reading no longer moves.",
	notice.Cut:      "Heat is cut for now. The probe has given no good reading for more than 5 s.",
	notice.Held:     "Held: heat and pump are off. A person stopped it.",
	notice.Ended:    "Finished: all steps are done. Not heating; still live: isolate before opening or reaching in.",
	notice.Finish:   "It is nearly over: finish about 15:40 (15:36 to 15:48).",
}
