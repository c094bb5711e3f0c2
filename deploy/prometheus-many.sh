#!/usr/bin/env bash
# Many kettles on one Prometheus, each a simulated one in a process of its own with a
# batch that heats. Prints how long a scrape takes, how many series there are, and the
# memory of Prometheus and of a daemon. Debian's prometheus has to be there. It is not
# part of the checks.
#
#   bash deploy/prometheus-many.sh [KETTLES [TIME]]
#
# 50 kettles for 2m where nothing is said.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
command -v prometheus >/dev/null || { echo "there is no prometheus: apt-get install prometheus brings it" >&2; exit 75; }
go test -count=1 -run '^TestScenarioManyKettles' -v ./cmd/internal/house -kettles "${1:-50}" -for "${2:-2m}" | grep -v '^=== '
