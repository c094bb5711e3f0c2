// Package dashboard has Grafana's own types judge the dashboard: what they do not
// know is lost when it is read and written again, and a word that is misspelt is
// something they do not know.
//
//	go -C deploy/tools test -count=1 ./dashboard
//
// It renders nothing: no Grafana is here. Nothing else of the library is of use for
// that: what it calls its strict reading drops the panels, and fails without a word
// (v0.0.22).
package dashboard

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"testing"

	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
	"github.com/grafana/grafana-foundation-sdk/go/prometheus"
	"github.com/grafana/grafana-foundation-sdk/go/stat"
	"github.com/grafana/grafana-foundation-sdk/go/statetimeline"
	"github.com/grafana/grafana-foundation-sdk/go/table"
	"github.com/grafana/grafana-foundation-sdk/go/timeseries"
)

// shipped is the dashboard as it is imported into Grafana.
func shipped(t *testing.T) []byte {
	t.Helper()
	types := cog.NewRuntime()
	types.RegisterDataqueryVariant(prometheus.VariantConfig())
	types.RegisterPanelcfgVariant(timeseries.VariantConfig())
	types.RegisterPanelcfgVariant(statetimeline.VariantConfig())
	types.RegisterPanelcfgVariant(stat.VariantConfig())
	types.RegisterPanelcfgVariant(table.VariantConfig())
	text, err := os.ReadFile("../../prometheus/dashboard.json")
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func TestGrafanasTypesKnowAllOfTheDashboard(t *testing.T) {
	if err := lost(shipped(t)); err != nil {
		t.Error(err)
	}
}

// Words of the format, each misspelt once where it stands first: types that let one
// of them pass would prove nothing.
func TestAMisspeltWordIsFound(t *testing.T) {
	text := shipped(t)
	for _, word := range []string{
		"title", "gridPos", "targets", "expr", "legendFormat", "instant", "fieldConfig", "unit", "decimals", "mappings",
		"spanNulls", "colorMode", "mergeValues", "cellHeight", "templating", "definition", "annotations", "iconColor",
	} {
		wrong := bytes.Replace(text, []byte(`"`+word+`":`), []byte(`"`+word+`s":`), 1)
		if bytes.Equal(wrong, text) {
			t.Errorf("%s is no word of the dashboard", word)
		} else if lost(wrong) == nil {
			t.Errorf("%s misspelt is not found", word)
		}
	}
}

func TestWhereTwoValuesDiffer(t *testing.T) {
	for _, c := range []struct{ was, is, want string }{
		{`{"a": [1, {"b": null}], "c": "x"}`, `{"c": "x", "a": [1, {"b": null}]}`, ""},
		{`{"a": 1}`, `{}`, ".a is lost"},
		{`{"a": null}`, `{}`, ".a is lost"},
		{`{}`, `{"a": 1}`, ".a is new"},
		{`{"a": {"b": true}}`, `{"a": {"b": false}}`, ".a.b is true, and comes back as false"},
		{`{"a": {}}`, `{"a": []}`, ".a is no object any more"},
		{`[1, 2]`, `[1]`, " is another list"},
		{`[1]`, `{"0": 1}`, " is another list"},
		{`{"a": 1}`, `{"a": {}}`, ".a is 1, and comes back as map[string]interface {}{}"},
		{`[1, [2, 3]]`, `[1, [2, "3"]]`, "[1][1] is 3, and comes back as \"3\""},
	} {
		got := ""
		if err := differ("", value(t, c.was), value(t, c.is)); err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s and %s: %q, want %q", c.was, c.is, got, c.want)
		}
	}
}

func value(t *testing.T, text string) (v any) {
	t.Helper()
	if err := json.Unmarshal([]byte(text), &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// lost is the first thing that does not come back.
func lost(text []byte) error {
	var d dashboard.Dashboard
	if err := json.Unmarshal(text, &d); err != nil {
		return err
	}
	again, err := json.Marshal(d)
	if err != nil {
		return err
	}
	var was, is any
	if err := json.Unmarshal(text, &was); err != nil {
		return err
	}
	if err := json.Unmarshal(again, &is); err != nil {
		return err
	}
	return differ("", was, is)
}

// differ is where two JSON values differ.
func differ(at string, was, is any) error {
	switch was := was.(type) {
	case map[string]any:
		is, ok := is.(map[string]any)
		if !ok {
			return fmt.Errorf("%s is no object any more", at)
		}
		for key, value := range was {
			now, ok := is[key]
			if !ok {
				return fmt.Errorf("%s.%s is lost", at, key)
			}
			if err := differ(at+"."+key, value, now); err != nil {
				return err
			}
		}
		for key := range is {
			if _, ok := was[key]; !ok {
				return fmt.Errorf("%s.%s is new", at, key)
			}
		}
		return nil
	case []any:
		is, ok := is.([]any)
		if !ok || len(is) != len(was) {
			return fmt.Errorf("%s is another list", at)
		}
		for i := range was {
			if err := differ(fmt.Sprintf("%s[%d]", at, i), was[i], is[i]); err != nil {
				return err
			}
		}
		return nil
	}
	if was != is {
		return fmt.Errorf("%s is %#v, and comes back as %#v", at, was, is)
	}
	return nil
}
