package main

import (
	"bytes"
	"encoding/json"
	"regexp"
	"slices"
	"strings"

	"mashward/cmd/internal/metricset"
)

// What the dashboard is, as Grafana's classic format has it. Which panels there are
// stands in panels.go.
const (
	title         = "Mashward: how the brew day goes"
	ownUID        = "mashward-day"
	schemaVersion = 42
)

// object and list are JSON.
type (
	object map[string]any
	list   []any
)

// source is the data source that the reader chooses; no other is ever named, for it
// would be there on one machine only.
var source = object{"type": "prometheus", "uid": "${datasource}"}

// query is one line, or one set of lines, of a panel. Once: the newest value alone.
type query struct {
	expr, legend string
	once         bool
}

// panel is one picture. Its title is the sentence that it shows the figures of.
type panel struct {
	kind        string // as Grafana calls it
	title, says string
	unit        string // as Grafana calls it; "" for a plain number
	wide, high  int    // of 24 columns; rows
	queries     []query
	options     object
	custom      object // how lines are drawn
	defaults    object // further ones of its fields
	hidden      list   // columns of a table that tell nothing
}

// section is a row of the dashboard with its panels, laid from left to right.
type section struct {
	title  string
	panels []panel
}

// drawn is the dashboard as JSON.
func drawn() string {
	var panels list
	id, y := 0, 0
	next := func() int { id++; return id }
	for _, s := range slices.Concat(sections, others()) {
		panels = append(panels, object{
			"type": "row", "id": next(), "title": s.title, "collapsed": false, "panels": list{},
			"gridPos": object{"h": 1, "w": 24, "x": 0, "y": y},
		})
		y++
		x, high := 0, 0
		for i := range s.panels {
			p := &s.panels[i]
			if x+p.wide > 24 {
				x, y, high = 0, y+high, 0
			}
			panels = append(panels, p.json(next(), x, y))
			x, high = x+p.wide, max(high, p.high)
		}
		y += high
	}
	var text bytes.Buffer
	out := json.NewEncoder(&text)
	out.SetEscapeHTML(false)
	out.SetIndent("", "  ")
	if err := out.Encode(object{
		"uid": ownUID, "title": title, "tags": list{"mashward"}, "schemaVersion": schemaVersion, "editable": true, "graphTooltip": 1,
		"description": "One kettle at a time. It only shows: nothing here can heat or stop. STOP is at the kettle, on its page, and as `mashward element-off`.",
		"time":        object{"from": "now-8h", "to": "now"}, "refresh": "15s", "panels": panels,
		"templating": object{"list": variables()}, "annotations": object{"list": notes()},
	}); err != nil {
		panic(err) // our own tables
	}
	return text.String()
}

// others is what no section shows: a metric that is new is never without a picture.
func others() []section {
	var shown strings.Builder
	for _, s := range sections {
		for _, p := range s.panels {
			for _, q := range p.queries {
				shown.WriteString(q.expr + " ")
			}
		}
	}
	var panels []panel
	for _, m := range metricset.All() {
		if regexp.MustCompile(`\b` + m.Name() + `\b`).MatchString(shown.String()) {
			continue
		}
		f, expr := m.Family(), ask("%s{RIG}", m)
		if f.Kind == metricset.Counter {
			expr = "increase(" + expr + "[1h])"
		}
		var legend []string
		for _, l := range f.Labels {
			legend = append(legend, "{{"+l+"}}")
		}
		by := strings.Join(f.Labels, ", ")
		panels = append(panels, panel{
			kind: "timeseries", title: strings.TrimSuffix(f.Help, "."), wide: 12, high: 8, options: lines, custom: thin,
			queries: []query{{expr: "max by (" + by + ") (" + expr + ")", legend: strings.Join(legend, " ")}},
		})
	}
	if panels == nil {
		return nil
	}
	return []section{{"What else it tells", panels}}
}

// variables are what the reader chooses.
func variables() list {
	return list{
		object{"type": "datasource", "name": "datasource", "label": "Prometheus", "query": "prometheus", "refresh": 1},
		object{
			"type": "query", "name": metricset.LabelRig, "label": "Kettle", "datasource": source, "refresh": 2, "sort": 1,
			"query":      object{"query": askRigs(), "refId": "StandardVariableQuery"},
			"definition": askRigs(),
		},
	}
}

// askRigs asks for the kettles that there are.
func askRigs() string { return ask("label_values(%s, rig)", metricset.RigIdentity) }

// notes are the moments that are marked over every picture.
func notes() list {
	mark := func(name, expr, colour string) object {
		return object{
			"name": name, "enable": true, "hide": false, "iconColor": colour, "datasource": source,
			"expr": strings.ReplaceAll(expr, "RIG", ofRig), "titleFormat": name,
		}
	}
	return list{
		mark("The interlock took the heat away", ask("max by (rule) (%s{RIG}) > 0", metricset.HeatCut), "red"),
		mark("A new step", ask("changes(%s{RIG}[1m]) > 0", metricset.StepIndex), "blue"),
	}
}

// ofRig is what stands for RIG in a query.
const ofRig = `rig="$rig"`

func (p *panel) json(id, x, y int) object {
	made := object{
		"type": p.kind, "id": id, "title": p.title, "gridPos": object{"h": p.high, "w": p.wide, "x": x, "y": y}, "options": p.options,
	}
	if p.says != "" {
		made["description"] = p.says
	}
	if len(p.queries) == 0 {
		return made
	}
	var targets list
	for i, q := range p.queries {
		target := object{
			"refId": string(rune('A' + i)), "datasource": source, "expr": strings.ReplaceAll(q.expr, "RIG", ofRig),
			"legendFormat": q.legend, "range": !q.once, "instant": q.once,
		}
		if p.kind == "table" {
			target["format"] = "table"
		}
		targets = append(targets, target)
	}
	made["datasource"], made["targets"] = source, targets
	defaults := object{}
	for k, v := range p.defaults {
		defaults[k] = v
	}
	if p.unit != "" {
		defaults["unit"] = p.unit
	}
	if p.custom != nil {
		defaults["custom"] = p.custom
	}
	overrides := list{}
	for _, column := range p.hidden {
		overrides = append(overrides, object{
			"matcher": object{"id": "byName", "options": column}, "properties": list{object{"id": "custom.hidden", "value": true}},
		})
	}
	made["fieldConfig"] = object{"defaults": defaults, "overrides": overrides}
	return made
}
