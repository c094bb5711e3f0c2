// Command dashboard has Grafana's own types judge a dashboard: what they do not
// know is lost when it is read and written again, and a word that is misspelt is
// something they do not know.
//
//	go -C deploy/tools run ./dashboard FILE
//
// Exit code 0: nothing is lost; 1: something is, or a mistake that was planted is
// not found; 64, 66: wrong call, no file. It renders nothing: no Grafana is here.
// Nothing else of the library is of use for that: what it calls its strict reading
// drops the panels, and fails without a word (v0.0.22).
package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"reflect"

	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
	"github.com/grafana/grafana-foundation-sdk/go/prometheus"
	"github.com/grafana/grafana-foundation-sdk/go/stat"
	"github.com/grafana/grafana-foundation-sdk/go/statetimeline"
	"github.com/grafana/grafana-foundation-sdk/go/table"
	"github.com/grafana/grafana-foundation-sdk/go/timeseries"
)

// planted are words of the format, each of which is misspelt once to see that this
// finds it.
var planted = []string{
	"title", "gridPos", "targets", "expr", "legendFormat", "instant", "fieldConfig", "unit", "decimals", "mappings",
	"spanNulls", "colorMode", "mergeValues", "cellHeight", "templating", "definition", "annotations", "iconColor",
}

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "dashboard: which file?")
		os.Exit(64)
	}
	text, err := os.ReadFile(os.Args[1])
	if err != nil {
		fmt.Fprintln(os.Stderr, "dashboard:", err)
		os.Exit(66)
	}
	types := cog.NewRuntime()
	types.RegisterDataqueryVariant(prometheus.VariantConfig())
	types.RegisterPanelcfgVariant(timeseries.VariantConfig())
	types.RegisterPanelcfgVariant(statetimeline.VariantConfig())
	types.RegisterPanelcfgVariant(stat.VariantConfig())
	types.RegisterPanelcfgVariant(table.VariantConfig())

	if err := lost(text); err != nil {
		fmt.Fprintln(os.Stderr, "dashboard:", err)
		os.Exit(1)
	}
	for _, word := range planted {
		wrong := bytes.Replace(text, []byte(`"`+word+`":`), []byte(`"`+word+`s":`), 1)
		if bytes.Equal(wrong, text) || lost(wrong) == nil {
			fmt.Fprintf(os.Stderr, "dashboard: %s misspelt is not found: this proves nothing\n", word)
			os.Exit(1)
		}
	}
	fmt.Printf("Grafana's types know all of the dashboard, and miss each of %d words misspelt\n", len(planted))
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
			if err := differ(at+"."+key, value, is[key]); err != nil {
				return err
			}
		}
		for key := range is {
			if _, ok := was[key]; !ok {
				return fmt.Errorf("%s.%s is missing", at, key)
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
	if !reflect.DeepEqual(was, is) {
		return fmt.Errorf("%s is %v, and comes back as %v", at, was, is)
	}
	return nil
}
