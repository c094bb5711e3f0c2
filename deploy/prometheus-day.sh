#!/usr/bin/env bash
# Prometheus looks at a day: promtool lints the live set, a simulated brew day is
# loaded into a real Prometheus, and its rests are read back by query and held
# to what the rehearsal itself tells. What deploy/prometheus ships is held to the
# same days: each rule to its trials and to a day that goes well and one that does
# not, the dashboard's queries to data, its form to Grafana's own types. Meanwhile
# a kettle of files loses its probe, and an Alertmanager has to call a webhook.
#
#   bash deploy/prometheus-day.sh [--install] [START]
#
# START is when the day begins, such as 2026-01-10T08:00:00Z, the default.
# Debian's prometheus, prometheus-alertmanager, jq and curl are installed only when told so: with --install, or
# with CI=true as root. Without them this is skipped with exit code 75; with
# CI=true or MASHWARD_CI=1 that is a failure.
# Nothing of a Prometheus that runs on this machine is touched: own port on
# loopback, own folder, both gone at the end.
set -uo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.." || exit 70

start=2026-01-10T08:00:00Z install=no
for word in "$@"; do
  case "$word" in
    --install) install=yes ;;
    -*) echo "prometheus-day.sh: unknown option $word; write --install" >&2; exit 64 ;;
    *) start=$word ;;
  esac
done
if [ "${CI:-}" = true ] && [ "$(id -u)" = 0 ]; then install=yes; fi

profile=testdata/profiles/rye-four-rests.yaml
rig=testdata/rigs/yard-kettle.yaml
every=15   # s between two samples of the export
scratch=$(mktemp -d) || exit 70
running="" policy="" calling=""
# Only what was started here is stopped, by its id. The test that waits for the call
# ends by itself, and all that it has started.
tidy() {
  [ -z "$calling" ] || wait "$calling" 2>/dev/null
  for id in $running; do kill "$id" 2>/dev/null; wait "$id" 2>/dev/null; done
  if [ -n "$policy" ]; then rm -f "$policy"; fi
  rm -rf "$scratch"
}
trap tidy EXIT
trap 'exit 130' INT TERM

die() { echo "FAILED: $1" >&2; exit 1; }

tools="prometheus promtool prometheus-alertmanager amtool jq curl"
needs() {
  local missing=""
  for tool in $tools; do command -v "$tool" >/dev/null || missing="$missing $tool"; done
  [ -n "$missing" ] || return 0
  if [ "$install" = yes ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
    export DEBIAN_FRONTEND=noninteractive
    # The package would start a service of its own, which nobody asked for.
    if [ ! -e /usr/sbin/policy-rc.d ]; then
      policy=/usr/sbin/policy-rc.d
      printf '#!/bin/sh\nexit 101\n' >"$policy" && chmod 755 "$policy"
    fi
    apt-get update -qq && apt-get -o DPkg::Lock::Timeout=300 install -y -qq --no-install-recommends prometheus prometheus-alertmanager jq curl >/dev/null
    [ -z "$policy" ] || rm -f "$policy"
    policy=""
    missing=""
    for tool in $tools; do command -v "$tool" >/dev/null || missing="$missing $tool"; done
    [ -n "$missing" ] || return 0
  fi
  echo "skipped: Prometheus looks at a day: not here:$missing; --install brings it"
  [ "${CI:-}" = true ] || [ -n "${MASHWARD_CI:-}" ] && exit 1
  exit 75
}

# lint has promtool look at a scrape in the middle of a rest.
lint() {
  MASHWARD_SCRAPE="$scratch/scrape" go test -count=1 -run '^TestTheLintersOfPrometheusFindNothing$' ./cmd/mashward/internal/metrics >/dev/null ||
    die "the test that writes a scrape fails"
  [ "$(grep -c '^mashward_' "$scratch/scrape")" -ge 90 ] || die "the scrape is too short to be one"
  promtool check metrics <"$scratch/scrape" || die "promtool finds fault with the metrics of a batch"
  # A linter that finds nothing anywhere proves nothing.
  printf '# TYPE mashward_planted_total gauge\nmashward_planted_total 1\n' | promtool check metrics >/dev/null 2>&1 &&
    die "promtool lets a planted mistake pass"
  echo "in a rest: $(grep -c '^mashward_' "$scratch/scrape") series, promtool finds nothing"
}

# await waits up to 20 s for a line in a log and gives what the pattern keeps of it.
await() {
  local id=$1 log=$2 pattern=$3 found
  for _ in $(seq 100); do
    found=$(sed -n "s/$pattern/\\1/p" "$log" | head -n 1)
    if [ -n "$found" ]; then echo "$found"; return; fi
    kill -0 "$id" 2>/dev/null || break
    sleep 0.2
  done
  cat "$log" >&2
  return 1
}

# live scrapes the daemon itself, idle on the simulator.
live() {
  local id address text
  "$scratch/mashward" serve --rig "$rig" --profiles testdata/profiles --simulate --listen 127.0.0.1:0 >"$scratch/serving" 2>&1 &
  id=$!
  running="$running $id"
  address=$(await "$id" "$scratch/serving" '.*address=\(http:[^ ]*\).*') || die "the daemon does not come up within 20 s"
  curl -fsS --max-time 10 --retry 20 --retry-delay 1 --retry-all-errors -o /dev/null "$address/-/ready" 2>/dev/null || die "the daemon is not ready within 20 s"
  curl -fsS --max-time 10 "$address/metrics" >"$scratch/live" || die "the daemon does not answer a scrape"
  promtool check metrics <"$scratch/live" || die "promtool finds fault with the metrics of the daemon"
  for text in 'probe_up{rig="Yard kettle"} 1' 'element_on{rig="Yard kettle"} 0' 'simulated{rig="Yard kettle"} 1' 'batch_state{rig="Yard kettle",state="idle"} 1'; do
    grep -qxF "mashward_$text" "$scratch/live" || die "an idle daemon does not say: $text"
  done
  text=$(curl -fsS --max-time 10 -H 'Accept: application/openmetrics-text; version=1.0.0' "$address/metrics" | tail -n 1)
  [ "$text" = "# EOF" ] || die "as OpenMetrics a scrape ends in: $text"
  kill -TERM "$id"
  wait "$id" || die "the daemon ends with code $?"
  running=${running/ $id/}
  echo "the daemon: $(grep -c '^mashward_' "$scratch/live") series while idle, promtool finds nothing"
}

# rules has promtool and amtool look at what is shipped: rules, their trials, examples.
rules() {
  local shipped=$scratch/shipped tests
  cp -r deploy/prometheus "$shipped"
  touch "$scratch/token"
  sed -i "s|/etc/prometheus/mashward.token|$scratch/token|" "$shipped/prometheus.yml"
  promtool check config "$shipped/prometheus.yml" >"$scratch/checked" 2>&1 || { cat "$scratch/checked" >&2; die "promtool refuses prometheus.yml or its rules"; }
  amtool check-config "$shipped/alertmanager.yml" >"$scratch/checked" 2>&1 || { cat "$scratch/checked" >&2; die "amtool refuses alertmanager.yml"; }
  (cd "$shipped" && promtool test rules rules_test.yml wear_test.yml) >"$scratch/checked" 2>&1 || { cat "$scratch/checked" >&2; die "a rule fails its trial"; }
  # Without what makes them wait, rules tell of what is none: the trials have to see it.
  sed -i '/^        for: /d' "$shipped/rules.yml"
  (cd "$shipped" && promtool test rules rules_test.yml) >/dev/null 2>&1 && die "the trials do not see that no rule waits"
  tests=$(grep -c '^  - name: ' deploy/prometheus/rules_test.yml deploy/prometheus/wear_test.yml | awk -F: '{ n += $2 } END { print n }')
  [ "$tests" -ge 38 ] || die "only $tests trials"
  echo "rules: $(grep -c '^      - alert: ' deploy/prometheus/rules.yml) alerts, $tests trials"
}

# blocks loads an export into the database.
blocks() {
  promtool tsdb create-blocks-from openmetrics "$1" "$2" >"$scratch/blocks" 2>&1 ||
    { cat "$scratch/blocks" >&2; die "promtool cannot make blocks of the export $1"; }
}

# bad_day has a person come late, the probe fail for a while, and a relay weld.
bad_day() {
  printf 'faults:\n  - {at: 50 min, fault: probe-open, for: 50 s}\n  - {at: {step: 3, after: 5 min}, fault: relay-welded}\n' >"$scratch/faults.yaml"
  bad_begin=$((begin + 172800))
  "$scratch/mashward" dryrun --rig "$rig" --faults "$scratch/faults.yaml" --person-delay '12 min' --export openmetrics \
    --start "$(date -u -d "@$bad_begin" +%FT%TZ)" --format json "$profile" >"$scratch/bad" 2>"$scratch/said"
  [ "$(sed -n '/^{/,$p' "$scratch/said" | jq -r .outcome)" = held ] || die "the day with faults is not held"
  blocks "$scratch/bad" "$scratch/tsdb"
  bad_end=$((bad_begin + $(sed -n '/^{/,$p' "$scratch/said" | jq '.duration_seconds | floor')))
}

# export_day writes the day as metrics, as told, as a trace and as a record.
export_day() {
  "$scratch/mashward" dryrun --rig "$rig" --export openmetrics --start "$start" --format json --trace "$scratch/trace" --record "$scratch/day.batch" \
    "$profile" >"$scratch/day" 2>"$scratch/said" || { cat "$scratch/said" >&2; die "the rehearsal falls short"; }
  sed -n '/^{/,$p' "$scratch/said" >"$scratch/result" # warnings of the files may stand before it
  [ "$(tail -n 1 "$scratch/day")" = "# EOF" ] || die "the export has no end mark"
  blocks "$scratch/day" "$scratch/tsdb"
  "$scratch/mashward" record export --format openmetrics --start "$start" "$scratch/day.batch" >"$scratch/recorded" || die "the record cannot be exported"
  blocks "$scratch/recorded" "$scratch/recorded.tsdb"
  begin=$(date -d "$start" +%s) || die "START is no date: $start"
  end=$(jq -r '.duration_seconds' "$scratch/result")
  end=$((begin + ${end%.*}))
}

# serve starts Prometheus on the blocks, at a port that it finds itself. A gauge
# that ends is gone with the next sample, not after the usual five minutes: an
# export has no mark for "no longer".
serve() {
  local id
  printf 'global: {scrape_interval: 1h}\n' >"$scratch/config"
  prometheus --config.file="$scratch/config" --storage.tsdb.path="$scratch/tsdb" --storage.tsdb.retention.time=100y \
    --web.listen-address=127.0.0.1:0 --query.lookback-delta=$((every * 1000 - 1))ms >"$scratch/log" 2>&1 &
  id=$!
  running="$running $id"
  url=http://$(await "$id" "$scratch/log" '.*msg="Listening on" address=\(127\.0\.0\.1:[0-9]*\).*') || die "Prometheus does not come up within 20 s"
  await "$id" "$scratch/log" '.*msg="Server is ready to receive \(web\) requests.*' >/dev/null || die "Prometheus is not ready within 20 s"
}

# ask gives the one figure of a query at the end of the day.
ask() {
  local answer
  answer=$(timeout 20 promtool query instant --time="$end" -o json "$url" "$1") || die "the query $1"
  [ "$(jq length <<<"$answer")" = 1 ] || die "the query $1 gives $(jq length <<<"$answer") series, not one"
  jq -r '.[0].value[1]' <<<"$answer"
}

# compare prints one line, and notes it if two figures are too far apart.
bad=0 compared=0
compare() {
  local what=$1 got=$2 want=$3 within=$4
  compared=$((compared + 1))
  if awk -v g="$got" -v w="$want" -v d="$within" 'BEGIN { x = g - w; if (x < 0) x = -x; exit !(g != "" && w != "" && x <= d) }'; then
    printf '  %-46s %12.1f %12.1f\n' "$what" "$got" "$want"
  else
    printf '  %-46s %12s %12s  TOO FAR APART (%s)\n' "$what" "$got" "$want" "$within"
    bad=1
  fi
}

# told is a figure of the rehearsal's own account.
told() { jq -r "$1" "$scratch/result"; }

read_back() {
  local span=$((end - begin + every)) index kind target near
  printf '  %-46s %12s %12s\n' "" "Prometheus" "rehearsal"
  compare "energy of the element, kJ" "$(ask 'mashward_element_energy_joules_total / 1000')" "$(told '.energy_joules / 1000')" 0.01
  compare "closings of its relay" "$(ask mashward_element_switches_total)" "$(told .element_switches)" 0
  compare "highest batch state but complete" "$(ask 'max(mashward_batch_state{state!="complete"})')" 0 0
  compare "heat cuts and trips" "$(ask "max(max_over_time(mashward_heat_cut_active[${span}s]) or max_over_time(mashward_heat_trip_active[${span}s]))")" \
    "$(told '.cuts + .trips | length')" 0
  while read -r index kind target; do
    # A step shorter than a sample may have none.
    compare "step $index $kind: minutes in all" \
      "$(ask "(sum(count_over_time((mashward_step_index == $index)[${span}s:${every}s])) or vector(0)) * $every / 60")" \
      "$(told ".steps[] | select(.index == $index) | (.end_seconds - .start_seconds) / 60")" 0.6
    [ "$kind" != rest ] && [ "$kind" != mash-out ] && continue
    compare "step $index $kind: minutes earned" "$(ask "mashward_rest_earned_seconds{step=\"$index\"} / 60")" \
      "$(told ".steps[] | select(.index == $index) | .earned_seconds / 60")" 0.02
    compare "step $index $kind: minutes to heat" "$(ask "mashward_step_heating_seconds{step=\"$index\"} / 60")" \
      "$(told ".steps[] | select(.index == $index) | .reached_seconds / 60")" 1.5
    near=$(ask "count_over_time((abs(mashward_probe_temperature_celsius - $target) <= 0.3)[${span}s:${every}s]) * $every / 60")
    # The trace has every second; at those of the samples both saw one reading.
    compare "step $index $kind: minutes at $target °C ± 0.3, trace" "$near" \
      "$(awk -F, -v t="$target" -v e="$every" 'NR > 1 && $1 % e == 0 && $9 != "" && $9 - t <= 0.3 && t - $9 <= 0.3 { n++ }
        END { print n * e / 60 }' "$scratch/trace")" 0
    # The judge of the rehearsal looks at the true mash, the probe at its place.
    compare "step $index $kind: the same, true mash" "$near" \
      "$(told ".steps[] | select(.index == $index) | (.end_seconds - .start_seconds - .reached_seconds) / 60")" 3
  done < <(told '.steps[] | "\(.index) \(.kind) \(.target_celsius)"')
  [ "$compared" -ge 24 ] || die "only $compared figures were compared: the day has no steps"
  [ "$bad" = 0 ] || die "Prometheus and the rehearsal do not agree"
}

# called waits for the kettle whose probe is dead.
called() {
  wait "$calling" || { cat "$scratch/called" >&2; die "a dead probe is not called out"; }
  calling=""
  sed -n 's/^ *prometheus_linux_test.go:[0-9]*: //p' "$scratch/called"
}

# shown wants an answer to each query of the dashboard, from the day or from the kettle
# that lives. Only what the forecasts came to needs a batch that is complete, and
# somebody has to be named before he is told.
rare='mashward_(forecast_error_seconds|notifications_total)'
shown() {
  local none
  jq -r '.panels[].targets[]?.expr, .annotations.list[].expr' deploy/prometheus/dashboard.json | sort -u >"$scratch/queries"
  none=$(sort -u "$scratch/day-answered" "$scratch/live-answered" | comm -23 "$scratch/queries" - | grep -vE "$rare")
  [ -z "$none" ] || die "nothing is shown by: $none"
  echo "dashboard: $(wc -l <"$scratch/queries") queries answered, but for $(grep -cE "$rare" "$scratch/queries")"
}

# grafana has the types of Grafana judge the form. Nothing is rendered.
grafana() {
  ([ "$install" = yes ] || export GOPROXY=off; go -C deploy/tools test -count=1 ./dashboard) >"$scratch/typed" 2>&1 ||
    { cat "$scratch/typed" >&2; die "Grafana's types do not know the dashboard, or they are not here; --install brings them"; }
  echo "dashboard: Grafana's types know all of it"
}

needs
MASHWARD_PROMETHEUS="$scratch/live-answered" go test -count=1 -run '^TestScenarioADeadProbe' -v ./cmd/internal/house >"$scratch/called" 2>&1 &
calling=$!
rules
go build -o "$scratch/mashward" ./cmd/mashward || die "the program does not build"
lint
live
export_day
bad_day
echo "day of $(date -u -d "@$begin" +%FT%TZ): $(grep -vc '^#' "$scratch/day") samples, $(wc -c <"$scratch/day") bytes"
serve
read_back
echo "Prometheus: $compared figures agree"
MASHWARD_PROMETHEUS_DAY="$url $begin $end $bad_begin $bad_end $scratch/day-answered" go test -count=1 -run '^TestScenario' -v ./cmd/dashboard >"$scratch/asked" 2>&1 ||
  { cat "$scratch/asked" >&2; die "the rules or the dashboard do not fit the days"; }
sed -n 's/^ *day_test.go:[0-9]*: //p' "$scratch/asked"
grafana
called
shown
