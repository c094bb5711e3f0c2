// Package metrics answers scrapes: the newest sample of the loop, and what
// belongs to the process around it, in a registry of its own.
//
// Nothing is counted or stored here. Everything is asked for when a scrape
// comes, and nothing of it can hold up the loop. There is no histogram of how
// long the probe takes to read until there is a driver that measures it.
package metrics

import (
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"mashward/cmd/internal/metricset"
	"mashward/cmd/mashward/internal/wall"
)

// Source gives the newest sample of the loop; a *metricset.Tracker is one.
// False says that there is none, or that it is not the present any more: the
// loop stands still. Its counters are shown even so, its gauges are not.
type Source interface {
	Latest() (metricset.Sample, bool)
}

// Shell is the process around the loop. All may be called at any time.
type Shell interface {
	Clients() int         // open streams of events
	Overruns() uint64     // ticks skipped since the start
	Late() *wall.Lateness // how late ticks began; nil where it is not known
	// FinishForecast is when the batch that runs is thought to be done; false: not known.
	FinishForecast() (early, at, late time.Time, ok bool)
	// ForecastOff is how far the last batch lay from its forecasts; false: none has ended.
	ForecastOff() (time.Duration, bool)
	Stored() bool  // what happens is on storage, or no records are kept
	Answers() bool // the lines of all relays do
	// Notifications gives the messages to each target by what became of them.
	Notifications(emit func(target, result string, count uint64))
}

// atOnce is how many scrapes are answered at once; more are told to come back.
const atOnce = 4

// New answers GET requests with all metrics, each with the kettle's name, as OpenMetrics or as the older
// text where the client asks for that.
func New(source Source, shell Shell, about metricset.About) http.Handler {
	return promhttp.HandlerFor(registry(source, shell, about), promhttp.HandlerOpts{
		EnableOpenMetrics: true, MaxRequestsInFlight: atOnce,
	})
}

func registry(source Source, shell Shell, about metricset.About) *prometheus.Registry {
	r := prometheus.NewRegistry()
	named := prometheus.WrapRegistererWith(prometheus.Labels{metricset.LabelRig: about.Rig.Label()}, r)
	named.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}),
		newCollector(source, shell, about))
	return r
}

// collector is a prometheus.Collector over the table of metricset.
type collector struct {
	source Source
	shell  Shell
	about  metricset.About
	descs  []*prometheus.Desc // by Metric
	late   *prometheus.Desc
}

func newCollector(source Source, shell Shell, about metricset.About) *collector {
	c := &collector{source: source, shell: shell, about: about}
	c.late = prometheus.NewDesc(metricset.Lateness,
		"How late the ticks of the control loop began, since the start of the process.", nil, nil)
	for _, m := range metricset.All() {
		f := m.Family()
		c.descs = append(c.descs, prometheus.NewDesc(f.Name, f.Help, f.Labels, nil))
	}
	return c
}

// Describe implements prometheus.Collector.
func (c *collector) Describe(to chan<- *prometheus.Desc) {
	for _, d := range c.descs {
		to <- d
	}
	to <- c.late
}

// Collect implements prometheus.Collector.
func (c *collector) Collect(to chan<- prometheus.Metric) {
	emit := func(m metricset.Metric, value float64, labels ...string) {
		kind := prometheus.GaugeValue
		if m.Family().Kind == metricset.Counter {
			kind = prometheus.CounterValue
		}
		metric, err := prometheus.NewConstMetric(c.descs[m], kind, value, labels...)
		if err != nil { // a scrape tells of our bug; it must not end the process
			metric = prometheus.NewInvalidMetric(c.descs[m], err)
		}
		to <- metric
	}
	sample, current := c.source.Latest()
	sample.Live = sample.Live && current
	sample.Each(emit)

	c.about.Each(emit)
	emit(metricset.RecordStored, truth(c.shell.Stored()))
	emit(metricset.RelayUp, truth(c.shell.Answers()))
	emit(metricset.Overruns, float64(c.shell.Overruns()))
	emit(metricset.Clients, float64(c.shell.Clients()))
	c.forecast(emit, current)
	c.shell.Notifications(func(target, result string, count uint64) {
		emit(metricset.Notifications, float64(count), target, result)
	})
	if late := c.shell.Late(); late != nil {
		ticks, within, sum := late.Read()
		to <- prometheus.MustNewConstHistogram(c.late, ticks, sum, within)
	}
}

// forecast is how the day goes on. Its finish is told only while the loop runs.
func (c *collector) forecast(emit metricset.Emit, current bool) {
	unix := func(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }
	if early, at, late, ok := c.shell.FinishForecast(); ok && current {
		emit(metricset.ForecastEarly, unix(early))
		emit(metricset.ForecastFinish, unix(at))
		emit(metricset.ForecastLate, unix(late))
	}
	if off, ok := c.shell.ForecastOff(); ok {
		emit(metricset.ForecastError, off.Seconds())
	}
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
