#!/usr/bin/env bash
# Figures of the daemon on this machine: start to ready, memory, processor time,
# and how late its ticks begin, idle and while every core is kept busy.
#
#   bash deploy/figures.sh [SECONDS]     60 for each part by default
#
# Method: the stripped binary on the simulator at real time (1 x), a batch under
# way, one client of the event stream; /proc for memory and processor time, the
# daemon's own histogram for lateness.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
span=${1:-60}
scratch=$(mktemp -d)
pids=""
trap 'for p in $pids; do kill "$p" 2>/dev/null || :; done; wait 2>/dev/null || :; rm -rf "$scratch"' EXIT

go build -trimpath -ldflags "-s -w" -o "$scratch/mashward" ./cmd/mashward
echo "binary: $(($(stat -c %s "$scratch/mashward") / 1024)) KiB, stripped"

port=$((20000 + RANDOM % 20000))
at=http://127.0.0.1:$port
begin=$(date +%s%N)
"$scratch/mashward" serve --simulate --rig testdata/rigs/yard-kettle.yaml --profiles testdata/profiles \
  --state "$scratch/state" --listen 127.0.0.1:$port 2>"$scratch/log" &
daemon=$!
pids="$daemon"
for _ in $(seq 200); do
  curl -fs "$at/-/ready" >/dev/null 2>&1 && break
  sleep 0.02
done
curl -fs "$at/-/ready" >/dev/null || { cat "$scratch/log"; exit 1; }
echo "start to ready: $((($(date +%s%N) - begin) / 1000000)) ms (the first simulated second has to pass: 1000 ms of it)"

post() { curl -fsS -H 'Content-Type: application/json' -d "$2" "$at/api/v1/$1"; }
hash=$(post rehearsal '{"profile": "rye-four-rests"}' | sed -n 's/.*"hash": *"\([0-9a-f]*\)".*/\1/p' | head -1)
nonce=$(post arm "{\"profile\": \"rye-four-rests\", \"hash\": \"$hash\", \"litres\": 26, \"bag_clear\": true, \"valve_shut\": true, \"rcd_tested\": true}" |
  sed -n 's/.*"nonce": *"\([A-Z0-9]*\)".*/\1/p')
post start "{\"nonce\": \"$nonce\"}" >/dev/null
curl -Ns "$at/api/v1/events" >/dev/null &
pids="$pids $!"

ticks_of() { awk '{print $14 + $15}' /proc/$daemon/stat; }
lateness() { # bound that 99 of 100 ticks since the first reading keep, and the largest
  curl -fs "$at/metrics" | awk -v before="$1" '
    /^mashward_control_loop_lateness_seconds_bucket/ { split($1, a, "\""); le[++n] = a[2]; c[n] = $2 }
    END {
      m = split(before, b, " ")
      for (i = 1; i <= n; i++) c[i] -= (i <= m ? b[i] : 0)
      for (i = 1; i <= n && !p; i++) if (c[i] >= 0.99 * c[n]) p = le[i]
      for (i = 1; i <= n && !w; i++) if (c[i] >= c[n]) w = le[i]
      printf "%d ticks, 99 of 100 at most %s s late, the worst at most %s s\n", c[n], p, w
    }'
}
counts() { curl -fs "$at/metrics" | awk '/^mashward_control_loop_lateness_seconds_bucket/ { printf "%s ", $2 }'; }

before=$(counts)
cpu=$(ticks_of)
sleep "$span"
used=$(($(ticks_of) - cpu))
echo "idle machine, $span s: $(awk -v u=$used -v h="$(getconf CLK_TCK)" -v s=$span 'BEGIN { printf "%.2f %% of one core", 100 * u / h / s }'), $(awk '/VmRSS/ {print $2}' /proc/$daemon/status) kB resident; $(lateness "$before")"

before=$(counts)
for _ in $(seq $((4 * $(nproc)))); do
  timeout "$span" sh -c 'while :; do :; done' &
  pids="$pids $!"
done
sleep "$span"
echo "every core kept busy by four, $span s: $(lateness "$before")"
grep -c 'level=ERROR' "$scratch/log" | sed 's/^/errors in the log: /' || :
