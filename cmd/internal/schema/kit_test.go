package schema

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"gopkg.in/yaml.v3"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/notice"
	"mashward/profile"
	"mashward/profile/strict"
	"mashward/sim"
	"mashward/sim/fault"
)

const testdata = "../../../testdata/"

// full are files that together use every key of their kind.
var full = map[string][]string{
	"profile": {`
profile: Everything
water: 26 L
grain: {mass: 4.6 kg, temperature: 18 °C, moisture: 5 %, slaking: 12 kJ/kg, extract: 79 %, conversion: 90 %}
trub: 6 %
use: brew
steps:
  - {mash-in: 44 °C, for: 15 min, name: a, floor: 2 K, additions: [{at: strike, add: salts}, {at: 1 min, add: acid}, {left: 5 min, add: more}]}
  - {rest: 63 °C, for: 35 min, ramp: 1 K/min, name: b, floor: 2 K, additions: [{at: 10 min, add: dark malt}, {left: 5 min, add: more}]}
  - {mash-out: 77 °C, for: 10 min, ramp: 0.5 K/min, name: c, floor: 2 K, additions: [{at: 1 min, add: salts}, {left: 5 min, add: more}]}
  - {lift: , additions: [{add: first hops}]}
  - {boil: 75 min, name: d, boil_off: 2.4 L/h, additions: [{left: 60 min, add: bitter}, {at: 30 min, add: more}, {at: flame-out, add: last}]}
  - {stand: 80 °C, for: 1h15, name: e, floor: 2 K, additions: [{left: 20 min, add: late}, {at: 1 min, add: more}]}
  - {chill: 18 °C, name: f, additions: [{add: yeast}]}
expect:
  - {step: 2, never_above: 64.5 °C}
  - {step: 2, reached_within: 45 min}
  - {step: 2, counted_at_least: 34 min}
  - {strike_at_most: 71 °C}
  - {done_within: 5h20}
  - {energy_at_most: 9.5 kWh}
`},
	"rig": {`
rig: Everything
kettle: {capacity: 50 L, diameter: 40 cm, element_covered_at: 12 L, vessel: 8 kg steel, loss: 7.5 W/K}
element: {power: 2900 W, relay: {driver: gpio, line: GPIO17, type: solid-state}}
pump: {relay: {driver: gpio, line: GPIO27, type: solid-state}, in_boil: yes}
probe: {driver: w1, id: 28-0000075a1c3f, place: outlet, covered_at: 9 L}
supply: {voltage: 231 V, fuse: 17 A, tariff: 0.31 EUR/kWh}
site: {altitude: 341 m, room: 19 °C, tap: 13 °C}
bag: {retention: 0.9 L/kg, stirring: 0.1 K}
limits: {over_temperature: 102 °C, hot_side: 0.8 K}
tuning: yard.tuning.yaml
contactor: {relay: {driver: sysfs, line: 4, type: solid-state}}
inputs: {go: GPIO5, off: GPIO6, level: GPIO13, flow: GPIO19, emergency: GPIO26}
signals: {buzzer: GPIO12, lamp: GPIO16}
`, `
rig: In the hose
kettle: {capacity: 50 L, element_covered_at: 12 L}
element: {power: 2900 W, relay: {driver: gpio, line: GPIO17, type: mechanical}}
pump: {relay: {driver: gpio, line: GPIO27}}
probe: {driver: sysfs, id: /sys/bus/iio/devices/iio:device0/in_temp_input, place: return}
`},
	"plant": {`
plant: Everything
element: {power: 2931 W, capacity: 901 J/K, transfer: 141 W/K}
vessel: {capacity: 4301 J/K, transfer: 181 W/K}
loss: {lid_on: 6.6 W/K, lid_off: 9.6 W/K}
evaporation: {lid_on: 0.7 W/kPa, lid_off: 6.1 W/kPa}
circulation: {flow: 6.1 L/min, bed_transfer: 261 W/K, outside_bed: 31 %, delay: 6 s, pipe_loss: 0.9 W/K}
probe: {place: bed, lag: 8 s, noise: 0.06 K, step: 0.1 K, offset: 0.1 K, conversion: 0.8 s}
supply: {nominal: 231 V, actual: 229 V}
water: {error: 1 %, temperature: 13 °C}
grain: {error: -1 %, slaking: 1 kJ/kg, retention: 0.9 L/kg}
chiller: {transfer: 301 W/K, water: 13 °C}
site: {room: 16 °C, altitude: 341 m}
`},
	"notify": {`
notify:
  - target: bench
    url: https://messages.example/brewhouse
    tell: [prompt, alarm]
    as: json
    body: '{"title": "{title}", "message": "{text}"}'
    headers: [{name: Title, value: "{title}"}, {name: Authorization, file: bench.token}]
    timeout: 5 s
    once: yes
  - target: board
    url: {file: board.url}
`},
	"faults": {`
faults:
  - {at: 42 min, fault: relay-welded, for: 11 min}
  - {at: {step: 3, after: 5 min}, fault: power-cut, for: 9 min}
  - {at: {step: 0}, fault: probe-offset, value: 4 K, for: 11 min}
  - {at: 1 s, fault: probe-drift, value: 2 K/h, for: 11 min}
  - {at: 1 s, fault: probe-noise, value: 1 K, for: 11 min}
  - {at: 1 s, fault: probe-spike, value: 1 K, for: 11 min, chance: 6 %}
  - {at: 1 s, fault: drained, value: 4 L/min, for: 11 min}
  - {at: 1 s, fault: supply-sag, value: 11 %, for: 11 min}
  - {at: 1 s, fault: tick-late, value: 4 s, for: 11 min}
  - {at: 1 s, fault: low-volume, value: 34 %}
  - {at: 1 s, fault: cold-water, value: 4 L}
  - {at: 1 s, fault: clock-step, value: 13 d}
`},
}

// bases are two kettles that differ in everything a rig decides, so that what a
// plant file leaves out cannot pass for a default.
func bases(t *testing.T) []sim.Params {
	t.Helper()
	var all []sim.Params
	for _, name := range []string{"yard-kettle.yaml", "small-pot.yaml"} {
		r, faults := config.ParseRig(name, contents(t, testdata+"rigs/"+name))
		if strict.Refused(faults) {
			t.Fatal(faults)
		}
		all = append(all, r.Plant())
	}
	return all
}

func contents(t *testing.T, path string) []byte {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// reader is the strict reader of a kind.
func reader(t *testing.T, kind string) func(text []byte) (any, []strict.Fault) {
	switch kind {
	case "profile":
		return func(text []byte) (any, []strict.Fault) { v, f := profile.Parse("f", text); return v, f }
	case "rig":
		return func(text []byte) (any, []strict.Fault) { v, f := config.ParseRig("f", text); return v, f }
	case "plant":
		all := bases(t)
		return func(text []byte) (any, []strict.Fault) {
			first, f := sim.ParsePlant("f", text, all[0])
			second, _ := sim.ParsePlant("f", text, all[1])
			return [2]sim.Params{first, second}, f
		}
	case "faults":
		return func(text []byte) (any, []strict.Fault) { v, f := fault.Parse("f", text); return v, f }
	case "notify":
		return func(text []byte) (any, []strict.Fault) { v, f := notice.Parse("f", text); return v, f }
	}
	t.Fatalf("%s is no kind", kind)
	return nil
}

// judge compiles a schema, which holds it against the meta-schema of its draft,
// and returns what it says of a value.
func judge(t testing.TB, kind string) func(v any) error {
	t.Helper()
	text, ok := Text(kind)
	if !ok {
		t.Fatalf("there is no schema for %s", kind)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("file:///"+kind+".json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("file:///" + kind + ".json")
	if err != nil {
		t.Fatalf("%s: %v", kind, err)
	}
	return func(v any) error {
		text, err := json.Marshal(v)
		if err != nil {
			return err
		}
		value, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
		if err != nil {
			return err
		}
		return s.Validate(value)
	}
}

// tree is a YAML text as an editor's schema check sees it.
func tree(text []byte) (v any, err error) {
	err = yaml.Unmarshal(text, &v)
	return v, err
}

// written is a tree as text again; JSON is YAML too.
func written(t testing.TB, v any) []byte {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// spot is one mapping of a file with the part of the schema that it answers to.
type spot struct {
	path string
	n    *node
	all  []string // keys of any form that may stand here
	m    map[string]any
}

// walk visits every mapping of a tree.
func walk(path string, n *node, v any, visit func(spot)) {
	all := names(n)
	n = form(n, v)
	if n == nil {
		return
	}
	switch v := v.(type) {
	case map[string]any:
		visit(spot{path, n, all, v})
		for _, k := range n.Properties {
			if inner, ok := v[k.name]; ok {
				walk(strings.TrimPrefix(path+"."+k.name, "."), k.is, inner, visit)
			}
		}
	case []any:
		for _, item := range v {
			walk(path+"[]", n.Items, item, visit)
		}
	}
}

// names are the keys that a part of a schema knows, in any of its forms.
func names(n *node) []string {
	var all []string
	for _, k := range n.Properties {
		all = append(all, k.name)
	}
	for _, one := range n.OneOf {
		if one.Const != "" {
			all = append(all, one.Const)
		}
		all = append(all, names(one)...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// form is the one form that a value is written in.
func form(n *node, v any) *node {
	if n == nil || n.OneOf == nil {
		return n
	}
	for _, one := range n.OneOf {
		m, isMap := v.(map[string]any)
		if !isMap && one.Properties == nil {
			return one
		}
		if isMap && fits(one, m) {
			return one
		}
	}
	return nil
}

func fits(n *node, m map[string]any) bool {
	if n.Properties == nil {
		return false
	}
	for _, k := range n.Properties {
		v, there := m[k.name]
		if k.must && !there || there && k.is.Enum != nil && !slices.Contains(k.is.Enum, fmt.Sprint(v)) {
			return false
		}
	}
	return true
}

// each runs a test on every mapping of the full files, with the file's root.
func each(t *testing.T, kind string, visit func(root any, s spot)) {
	t.Helper()
	in(t, kind, full[kind], visit)
}

// in runs a test on every mapping of some files.
func in(t *testing.T, kind string, texts []string, visit func(root any, s spot)) {
	t.Helper()
	for _, text := range texts {
		v, err := tree([]byte(text))
		if err != nil {
			t.Fatal(err)
		}
		walk("", root(kind), v, func(s spot) { visit(v, s) })
	}
}

// with changes one key for a moment; nil takes it out.
func (s spot) with(key string, value any, look func()) {
	before, there := s.m[key]
	if value == nil {
		delete(s.m, key)
	} else {
		s.m[key] = value
	}
	look()
	if delete(s.m, key); there {
		s.m[key] = before
	}
}

// said is everything a reader says, for a search.
func said(faults []strict.Fault) string {
	var b strings.Builder
	for _, f := range faults {
		fmt.Fprintln(&b, f)
	}
	return b.String()
}
