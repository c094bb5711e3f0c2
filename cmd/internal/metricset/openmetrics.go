package metricset

import (
	"bufio"
	"io"
	"strconv"
	"strings"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
)

// Every is the time between two samples of an export, that of a usual scrape.
const Every = 15 * time.Second

// Export collects the samples of one batch from its arming on, rehearsed or recorded. It is
// a Watcher.
type Export struct {
	tracker *Tracker
	start   time.Time // wall clock at arming
	about   About

	begun   bool
	armed   time.Duration // run clock
	last    time.Duration // since arming, of the newest sample
	sampled bool
	series  [metricCount][]*series
}

// series is one metric with one set of labels over time.
type series struct {
	labels string // as written, with braces
	name   string
	text   []byte
}

// NewExport samples what the tracker makes of a batch that is armed at start.
func NewExport(t *Tracker, about About, start time.Time) *Export {
	return &Export{tracker: t, start: start, about: about}
}

// Watch takes one frame, and a sample where one is due.
func (x *Export) Watch(f *loop.Frame) {
	x.tracker.Watch(f)
	for _, e := range f.Decision.Events[:f.Decision.Count] {
		if e.Kind == controller.BatchStarted && !x.begun {
			x.begun, x.armed = true, f.Tick.Now
		}
	}
	if !x.begun {
		return
	}
	since := f.Tick.Now - x.armed
	if !x.sampled || since >= x.last+Every || f.Decision.Mode.Ended() && since > x.last {
		x.take(since)
	}
}

// take adds a sample to all series.
func (x *Export) take(since time.Duration) {
	x.sampled, x.last = true, since
	at := timestamp(x.start.Add(since))
	emit := func(m Metric, value float64, labels ...string) {
		s := x.find(m, labels)
		s.text = append(s.text, s.name...)
		s.text = append(s.text, s.labels...)
		s.text = append(s.text, ' ')
		s.text = strconv.AppendFloat(s.text, value, 'g', -1, 64)
		s.text = append(s.text, ' ')
		s.text = append(s.text, at...)
		s.text = append(s.text, '\n')
	}
	x.tracker.sample.Each(emit)
	x.about.Each(emit)
}

// find is the series of a metric with these values of its labels.
func (x *Export) find(m Metric, values []string) *series {
	written := braces(append([]string{LabelRig}, families[m].Labels...), append([]string{x.about.Rig.Label()}, values...))
	for _, s := range x.series[m] {
		if s.labels == written {
			return s
		}
	}
	s := &series{labels: written, name: families[m].Name}
	x.series[m] = append(x.series[m], s)
	return s
}

// WriteTo writes all of it in the text form of OpenMetrics 1.0: families one
// after another, the series of each in the order of their first sample, and
// the end mark. It implements io.WriterTo; the error is the writer's.
func (x *Export) WriteTo(w io.Writer) (n int64, err error) {
	out := &counted{to: w}
	b := bufio.NewWriterSize(out, 1<<16)
	for m, all := range x.series {
		if len(all) == 0 {
			continue
		}
		b.WriteString(heading(Metric(m)))
		for _, s := range all {
			b.Write(s.text)
		}
	}
	b.WriteString("# EOF\n")
	err = b.Flush() // tells of every write before it, too
	return out.n, err
}

// heading is the metadata of a family. In OpenMetrics a counter's family goes
// without the _total of its samples.
func heading(m Metric) string {
	f := m.Family()
	name, kind := f.Name, "gauge"
	if f.Kind == Counter {
		name, kind = strings.TrimSuffix(f.Name, "_total"), "counter"
	}
	text := "# TYPE " + name + " " + kind + "\n"
	if f.Unit != "" {
		text += "# UNIT " + name + " " + f.Unit + "\n"
	}
	return text + "# HELP " + name + " " + escape(f.Help) + "\n"
}

// braces writes labels and their values.
func braces(names, values []string) string {
	if len(names) == 0 {
		return ""
	}
	pairs := make([]string, len(names))
	for i, name := range names {
		pairs[i] = name + `="` + escape(values[i]) + `"`
	}
	return "{" + strings.Join(pairs, ",") + "}"
}

// escape writes what would end a value early.
func escape(s string) string {
	return strings.NewReplacer(`\`, `\\`, "\n", `\n`, `"`, `\"`).Replace(s)
}

// timestamp is in seconds since 1970, with milliseconds where there are any.
func timestamp(t time.Time) string {
	ms := t.UnixMilli()
	text := strconv.FormatInt(ms/1000, 10)
	if part := ms % 1000; part != 0 {
		text += "." + strconv.FormatInt(1000+part, 10)[1:]
	}
	return text
}

// counted counts what goes through it.
type counted struct {
	to io.Writer
	n  int64
}

func (c *counted) Write(p []byte) (int, error) {
	n, err := c.to.Write(p)
	c.n += int64(n)
	return n, err
}
