// Command dashboard writes what a Prometheus and a Grafana need to watch over
// kettles: recording and alerting rules with their tests, and a dashboard.
//
//	go run ./cmd/dashboard [FOLDER]
//
// The folder is deploy/prometheus where none is named. All names of metrics come
// from the table by which mashward tells them, so that none is misspelt; what is
// written stays in git, and a test compares it with what this program makes.
package main

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
)

// Exit codes, as the program's own.
const (
	exitUsage = 64
	exitIO    = 74
)

const folder = "deploy/prometheus"

func main() {
	to := folder
	switch len(os.Args) {
	case 1:
	case 2:
		to = os.Args[1]
	default:
		fmt.Fprintln(os.Stderr, "dashboard: write go run ./cmd/dashboard [FOLDER]")
		os.Exit(exitUsage)
	}
	all := files()
	for _, name := range slices.Sorted(maps.Keys(all)) {
		if err := os.WriteFile(filepath.Join(to, name), []byte(all[name]), 0o644); err != nil {
			fmt.Fprintln(os.Stderr, "dashboard:", err)
			os.Exit(exitIO)
		}
	}
}

// files are what is written, by name.
func files() map[string]string {
	all := map[string]string{
		"rules.yml":      rules(),
		"dashboard.json": drawn(),
	}
	for name, every := range map[string]string{"rules_test.yml": scrape, "wear_test.yml": hourly} {
		all[name] = tests(every)
	}
	return all
}
