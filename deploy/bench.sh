#!/usr/bin/env bash
# mashward against what could be picked instead, on random kettles in simulation:
# one table, its method above it, the goals and where another does better below.
#
#   bash deploy/bench.sh [--quick] [--unseen SEED] [--kettles N] [--world N]
#
# The full run takes some minutes on two cores, --quick half a minute. The table
# goes to standard output and is the same on each run of the same code; what it
# took goes to standard error. Exit code 1: mashward misses a goal.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT

go build -o "$scratch/bench" ./cmd/bench || exit 70
SECONDS=0 code=0
"$scratch/bench" "$@" || code=$?
echo "bench: $SECONDS s on $(nproc) cores" >&2
exit "$code"
