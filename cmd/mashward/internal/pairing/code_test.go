package pairing

import (
	"errors"
	"fmt"
	"net/netip"
	"strings"
	"testing"
	"time"
)

func TestACodeIsGoodForTenMinutesAndOnce(t *testing.T) {
	h := newHall(t, t.TempDir())
	from := netip.MustParseAddr(known)
	for _, c := range []struct {
		after time.Duration
		good  bool
	}{{0, true}, {10*time.Minute - time.Second, true}, {10 * time.Minute, false}, {24 * time.Hour, false}} {
		i, err := h.Invite()
		if err != nil {
			t.Fatal(err)
		}
		h.now = h.now.Add(c.after)
		if _, _, err := h.Pair(from, i.Code, "x"); (err == nil) != c.good {
			t.Errorf("after %v: %v", c.after, err)
		}
		if _, _, err := h.Pair(from, i.Code, "x"); !errors.Is(err, ErrCode) {
			t.Errorf("used twice, or after its time: %v", err)
		}
		h.now = h.now.Add(time.Minute)
	}
	before, _ := h.Invite()
	after, _ := h.Invite()
	if _, _, err := h.Pair(from, before.Code, "x"); !errors.Is(err, ErrCode) {
		t.Errorf("another was shown: %v", err)
	}
	if _, _, err := h.Pair(from, after.Code, "x"); err != nil {
		t.Error(err)
	}
	if _, _, err := newHall(t, t.TempDir()).Pair(from, "", ""); !errors.Is(err, ErrCode) {
		t.Errorf("no code was shown, and none brought: %v", err)
	}
}

func TestACodeMayBeTypedAsPeopleType(t *testing.T) {
	for text, want := range map[string]string{"abcd-ef01": "ABCDEF01", " aBcd ef o l ": "ABCDEF01", "ABCDEFOI": "ABCDEF01", strings.Repeat("-", 65): ""} {
		if got := plain(text); got != want {
			t.Errorf("%q: %q", text, got)
		}
	}
	h, seen := newHall(t, t.TempDir()), map[rune]bool{}
	for range 500 {
		i, err := h.Invite()
		if err != nil || len(i.Code) != 9 || plain(strings.ToLower(i.Code)) != strings.ReplaceAll(i.Code, "-", "") {
			t.Fatal(i.Code, err)
		}
		for _, r := range i.Code {
			seen[r] = true
		}
	}
	if len(seen) != 32+1 { // 40 bits want each of 32 letters to come up
		t.Errorf("%d letters", len(seen))
	}
}

// Whoever guesses has five tries a minute, whoever has a network of addresses
// too, and all of them together fifty: 550 of 2^40 while a code is good.
func TestGuessingHasAnEnd(t *testing.T) {
	h := newHall(t, t.TempDir())
	i, err := h.Invite()
	if err != nil {
		t.Fatal(err)
	}
	try := func(from, code string) error {
		_, _, err := h.Pair(netip.MustParseAddr(from), code, "x")
		return err
	}
	wrong := func(from string, n int) {
		t.Helper()
		for range n {
			if err := try(from, "0000-0000"); !errors.Is(err, ErrCode) {
				t.Fatalf("%s: %v", from, err)
			}
		}
	}
	wrong(known, perMinute)
	if err := try(known, i.Code); !errors.Is(err, ErrTooMany) {
		t.Errorf("the sixth is looked at: %v", err)
	}
	for n := range perMinute { // one machine has many addresses of IPv6
		wrong(fmt.Sprintf("fd00::%x", n+1), 1)
	}
	if err := try("fd00::ffff", i.Code); !errors.Is(err, ErrTooMany) {
		t.Errorf("the sixth of a network: %v", err)
	}
	for n := range (perMinuteAll - 2*perMinute) / perMinute {
		wrong(fmt.Sprintf("198.51.100.%d", n), perMinute)
	}
	if err := try("203.0.113.1", i.Code); !errors.Is(err, ErrTooMany) {
		t.Errorf("the fifty-first of all: %v", err)
	}
	h.now = h.now.Add(time.Minute)
	if err := try("203.0.113.1", i.Code); err != nil {
		t.Errorf("a minute later: %v", err)
	}
	if Tries > 1000 {
		t.Errorf("%d tries while a code is good", Tries)
	}
}

// Ten thousand guesses, from as many addresses: what is kept of them is bounded.
func TestGuessersDoNotFillTheMemory(t *testing.T) {
	h := newHall(t, t.TempDir())
	for n := range 10_000 {
		h.ask(fmt.Sprintf("10.0.%d.%d:1", n/256, n%256), "GET", "/api/v1/state", "Authorization", fmt.Sprintf("Bearer guess-%d", n))
	}
	if len(h.tokens.from) > mostWrong || h.came > 0 {
		t.Errorf("%d addresses are kept, %d came in", len(h.tokens.from), h.came)
	}
	for n := range 10_000 {
		_, _, _ = h.Pair(netip.AddrFrom4([4]byte{10, 0, byte(n / 256), byte(n)}), "0000-0000", "x")
	}
	if lines := strings.Count(h.log.String(), "\n"); lines != 2 {
		t.Errorf("%d lines of log in a minute", lines)
	}
}
