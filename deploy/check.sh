#!/usr/bin/env bash
# The one test command: format, vet, static checks, the rules of the house, tests
# with and without the race detector, code broken on purpose, a browser, short
# fuzzing, scenarios, Prometheus, benchmarks, the comparison of controllers; and at
# the end what each took.
#
#   bash deploy/check.sh [--install] [--fix] [STAGE...]
#
# What it needs beyond Go it installs only when told so: with --install, or with
# CI=true as root. Otherwise it names what it skips, and why. With CI=true or
# MASHWARD_CI=1 nothing may be skipped: what is missing is a failure.
# --fix formats the code instead of complaining about it.
# Stages may be named to run only those; `all` of them is the default.
# MASHWARD_FUZZ is the time for each fuzz target, 4s by default.
set -uo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.." || exit 70

stages="format vet static house race tests mutants browser fuzz scenarios prometheus speed bench"
install=no fix=no wanted=""
for word in "$@"; do
  case "$word" in
    --install) install=yes ;;
    --fix) fix=yes ;;
    all) wanted="$stages" ;;
    -*) echo "check.sh: unknown option $word; write --install or --fix" >&2; exit 64 ;;
    *)
      case " $stages " in
        *" $word "*) wanted="$wanted $word" ;;
        *) echo "check.sh: unknown stage $word; write one of: $stages" >&2; exit 64 ;;
      esac ;;
  esac
done
[ -n "$wanted" ] || wanted="$stages"

# Tests look at CI alone, so that `go test` by itself knows what it may skip.
strict=no
if [ "${CI:-}" = true ] || [ -n "${MASHWARD_CI:-}" ]; then
  strict=yes
  export CI=true
fi
if [ "${CI:-}" = true ] && [ "$(id -u)" = 0 ]; then install=yes; fi

scratch=$(mktemp -d) || exit 70
trap 'rm -rf "$scratch"' EXIT
failed="" skipped="" times=""
export GOTOOLCHAIN=local GOFLAGS=-mod=readonly

# skip names what is left out; in CI that is a failure.
skip() {
  echo "skipped: $1"
  skipped="$skipped
  $1"
  [ "$strict" = no ]
}

# has_scipy asks the system's own Python, which is the one the test runs.
has_scipy() { /usr/bin/python3 -c 'import numpy, scipy.integrate' 2>/dev/null; }
has_icalendar() { /usr/bin/python3 -c 'import icalendar' 2>/dev/null; }

# has_browser looks for the browser that the tests of the page find.
has_browser() { command -v chromium || command -v chromium-browser || command -v google-chrome; } >/dev/null

# has_c looks for the C compiler of this Go; the race detector is linked with it.
has_c() { command -v "$(go env CC)" >/dev/null; }

# apt_install brings Debian packages: only as root, only when told to.
apt_install() {
  [ "$install" = yes ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null || return 1
  export DEBIAN_FRONTEND=noninteractive
  apt-get update -qq && apt-get -o DPkg::Lock::Timeout=300 install -y -qq --no-install-recommends "$@" >/dev/null
}

# tool runs a pinned tool; deploy/tools/go.mod keeps it out of our own modules.
tool() { go tool -modfile=deploy/tools/go.mod "$@"; }

# has_tool tells whether the tool can be had: in the module cache, or, when told
# to install, through Go's module proxy.
has_tool() {
  if [ "$install" = yes ]; then
    tool "$1" "$2" >/dev/null
  else
    GOPROXY=off tool "$1" "$2" >/dev/null 2>&1
  fi
}

stage_needs() {
  command -v go >/dev/null || { echo "there is no go: install Go 1.26 or newer"; return 1; }
  go version
  local missing=()
  has_scipy || missing+=(python3-scipy)
  has_icalendar || missing+=(python3-icalendar)
  has_c || missing+=(gcc libc6-dev)
  has_browser || missing+=(chromium)
  [ ${#missing[@]} = 0 ] || apt_install "${missing[@]}" || echo "not here: ${missing[*]}"
  has_c || export CGO_ENABLED=0 # a CC that is named but not there
  if [ "$install" = yes ]; then go mod download || return 1; fi
  go mod verify
}

stage_format() {
  local bad
  if [ "$fix" = yes ]; then
    gofmt -w .
  else
    bad=$(gofmt -l .)
    [ -z "$bad" ] || { echo "not as gofmt writes it: $bad"; return 1; }
  fi
  has_tool gofumpt -version || { skip "gofumpt: not here; --install brings it"; return; }
  if [ "$fix" = yes ]; then
    tool gofumpt -w .
  else
    bad=$(tool gofumpt -l .)
    [ -z "$bad" ] || { printf 'not as gofumpt writes it (check.sh --fix does it):\n%s\n' "$bad"; return 1; }
  fi
}

# The boards are 32 and 64 bit ARM. Vet knows the word size of the first, the
# second has that of this machine; the build finds what only the compiler refuses.
stage_vet() {
  go vet ./... || return 1
  CGO_ENABLED=0 GOOS=linux GOARCH=arm GOARM=6 go vet ./... || return 1
  CGO_ENABLED=0 GOOS=linux GOARCH=arm GOARM=6 go build -o "$scratch/arm" ./cmd/mashward || return 1
  CGO_ENABLED=0 GOOS=linux GOARCH=arm64 go build -o "$scratch/arm64" ./cmd/mashward || return 1
  ls -l "$scratch/arm" "$scratch/arm64" | awk '{ print "binary", $NF, $5 " bytes" }' | sed "s|$scratch/||"
}

stage_static() {
  has_tool staticcheck -version || { skip "staticcheck: not here; --install brings it"; return; }
  tool staticcheck -checks all ./...
}

# The import graph, the sizes, and what README.md and DEVELOPERS.md claim.
stage_house() {
  go test -count=1 -skip '^TestScenario' ./cmd/internal/house
}

# report prints of what `go test -v` writes to standard output the closing line of each package, what was
# skipped and why, and everything of a package that failed.
report() {
  awk '
    /^(=== |PASS$| *--- PASS)/ { next }
    /^(ok|\?) / || /^(ok|\?) *\t/ { printf "%s", skips; print; skips = ""; held = ""; next }
    /^FAIL\t/ { printf "%s", held; print; skips = ""; held = ""; next }
    /^ *--- SKIP/ { skips = skips $0 "\n" before; before = ""; held = held $0 "\n"; next }
    { before = $0 "\n"; held = held $0 "\n" }
    END { printf "%s", held }'
}

# try runs tests, and in CI lets none of them be skipped.
try() {
  go test -count=1 -timeout 20m -v -skip '^TestScenario' "$@" | tee "$scratch/tests" | report
  local code=${PIPESTATUS[0]}
  if [ "$strict" = yes ] && grep -q -- '--- SKIP' "$scratch/tests"; then
    echo "a test was skipped; in CI each one runs"
    return 1
  fi
  return "$code"
}

# What has goroutines, and the page, which has a stage of its own.
page=./cmd/mashward/internal/page
together() { go list ./sensors/sampler ./sensors/w1 ./controller/line/... ./controller/loop ./controller/record ./cmd/mashward/...; }

race_flag() {
  race=-race
  has_c && return
  race=""
  skip "the race detector: no C compiler ($(go env CC)); --install brings gcc"
}

# Calls that rehearse or read a day in one goroutine, and days held against each
# other: they are among what has goroutines, and belong to the tests without.
mostly="./cmd/mashward ./cmd/mashward/internal/notify ./controller/record"
single='^Test(WhatIsPrintedOfRecords|AReportIsMade|ExitCodesOf|TheDemo|EveryLineOfTheDemo|TheLivePictureIsDrawnOver|AKettleThatIsAnother|ARehearsalOnTheShownPlant|WhatAnOvershootCost|ASuggestionInJSON|ACardThatNeedsTwoSeconds|APowerCutCostsAtMost|ADayIsRead|ADayOfASpread|AReplay|TheExportOfARecord)'

# The detector makes arithmetic some ten times slower and finds nothing where
# there is one goroutine: only what has several runs with it, and of the core,
# which they share, the short tests.
stage_race() {
  local race packages
  race_flag || return 1
  packages=$(together | grep -vxF "$(go list $page)")
  # shellcheck disable=SC2086 # an empty $race is no argument, $packages are several
  try -skip "^TestScenario|$single" $race $packages && try $race -short ./controller ./controller/interlock
}

# All that did not run with the race detector.
stage_tests() {
  local packages
  has_scipy || skip "the plant and the observer against SciPy: no python3-scipy; --install brings it" || return 1
  has_icalendar || skip "the calendar by another program: no python3-icalendar; --install brings it" || return 1
  packages=$(go list ./... ./testdata | grep -vxF "$(together)") # ./... leaves testdata out
  # shellcheck disable=SC2086 # several
  try $packages && try -run "$single" $mostly
}

# Forty ways to break what protects whom: the short tests must notice each.
stage_mutants() {
  go run ./deploy/mutants
}

# axe-core looks for what keeps people out of a page. Its licence (MPL-2.0) keeps it out
# of our tree; the sum is of the one file of it that is used.
axe_version=4.14.0 axe_sum=20c09fe157a8a34a30e241aaa1fcdade657734f08ab379ecfbeb7d45cc46e878
bring_axe() {
  [ -f "${MASHWARD_AXE:-}" ] && return
  [ "$install" = yes ] || return 1
  command -v npm >/dev/null || apt_install npm || return 1
  export MASHWARD_AXE="$scratch/package/axe.min.js"
  (cd "$scratch" && npm pack --silent "axe-core@$axe_version" >/dev/null && tar xzf "axe-core-$axe_version.tgz" package/axe.min.js) &&
    sha256sum --check --quiet <<<"$axe_sum  $MASHWARD_AXE"
}

# The page, and a browser that clicks through it: by itself, for it needs both cores.
stage_browser() {
  local race
  race_flag || return 1
  has_browser || skip "the page in a browser: no chromium; --install brings it" || return 1
  bring_axe || skip "what keeps people out of the page: no axe-core; --install brings it" || return 1
  # shellcheck disable=SC2086 # an empty $race is no argument
  try $race $page
}

# fuzz_once runs a fuzz target of a package for its time.
fuzz_once() {
  go test -run '^$' -fuzz "^$2\$" -fuzztime "${MASHWARD_FUZZ:-4s}" -fuzzminimizetime 10x "$1" >"$scratch/fuzz" 2>&1 </dev/null
}

# cut_off tells that the time was up in the middle of a run, which Go 1.26 now
# and then reports as a failure of the target; no input was found to fail.
cut_off() {
  grep -q '^    context deadline exceeded$' "$scratch/fuzz" && ! grep -qE 'Failing input|panic:' "$scratch/fuzz"
}

# Every fuzz target there is, found by name, each for a few seconds. Making new
# inputs small is kept short: left alone it takes the whole time, and nothing is
# fuzzed.
stage_fuzz() {
  local bad=0 package name last runs
  go test -list '^Fuzz' ./... >"$scratch/list" || { cat "$scratch/list"; return 1; }
  # The names come before the line with their package.
  awk '/^Fuzz/ { names = names " " $1 } /^ok/ { n = split(names, a, " "); for (i = 1; i <= n; i++) print $2, a[i]; names = "" }' \
    "$scratch/list" >"$scratch/targets"
  [ -s "$scratch/targets" ] || { echo "no fuzz target found: the search is broken"; return 1; }
  while read -r package name; do
    echo "$package $name"
    if ! fuzz_once "$package" "$name" && ! { cut_off && echo "the time was up in the middle of a run; once more" && fuzz_once "$package" "$name"; }; then
      cat "$scratch/fuzz"
      bad=1
      continue
    fi
    last=$(grep -E '^fuzz: elapsed.* execs: ' "$scratch/fuzz" | tail -n 1)
    runs=$(sed -E 's/.* execs: ([0-9]+).*/\1/' <<<"$last")
    echo "$last"
    [ "${runs:-0}" -ge 100 ] || { echo "only ${runs:-0} runs: it was not fuzzed"; bad=1; }
  done <"$scratch/targets"
  return "$bad"
}

# The program itself, built and run as a person would.
stage_scenarios() {
  go test -count=1 -parallel 8 -v -run '^TestScenario' ./cmd/internal/house 2>&1 | grep -v '^=== '
  return "${PIPESTATUS[0]}"
}

# A real Prometheus is asked about a simulated day.
stage_prometheus() {
  local args=() code
  [ "$install" = yes ] && args=(--install)
  bash deploy/prometheus-day.sh "${args[@]}"
  code=$?
  [ "$code" = 75 ] || return "$code"
  skip "Prometheus looks at a day; --install brings it"
}

# mashward against what could be picked instead, on a few kettles. A goal that a
# kettle misses is said (1); the tests hold the goals, on kettles of their own.
stage_bench() {
  local code=0
  bash deploy/bench.sh --quick || code=$?
  [ "$code" -le 1 ]
}

stage_speed() {
  go test -run '^$' -bench . -benchmem -benchtime 500ms ./... 2>&1 | grep -vE '^(ok|\?|PASS|goos|goarch|pkg)'
  return "${PIPESTATUS[0]}"
}

run_stage() {
  local began=$SECONDS code
  echo
  echo "== $1"
  "stage_$1"
  code=$?
  times="$times$(printf '%-10s %4d s  %s' "$1" $((SECONDS - began)) "$([ "$code" = 0 ] && echo good || echo FAILED)")
"
  [ "$code" = 0 ] || failed="$failed $1"
}

run_stage needs
if [ -z "$failed" ]; then
  for s in $wanted; do run_stage "$s"; done
fi

echo
echo "== times"
printf '%s' "$times"
echo "in all     $(printf '%4d' "$SECONDS") s"
[ -z "$skipped" ] || echo "skipped:$skipped"
if [ -n "$failed" ]; then
  echo "FAILED:$failed"
  exit 1
fi
echo "all good"
