package interlock

// Rule is the reason why heat is withheld. Its text is the row in SAFETY.md,
// the label in the metrics and the name of the test. The numbers are part of a
// saved Guard: new rules are appended, none is renumbered.
type Rule uint8

// The rules. The first seven are judged here; the others are findings of the
// model-based checks, which hand them in as Facts.Finding.
const (
	NoRule          Rule = iota
	Stale                // no accepted reading of the last 5 s
	Implausible          // a reading that physics does not allow
	OverTemperature      // at or above the limit in force
	NotArmed             // heat wanted but no person stands behind it
	Empty                // level switch, or the volume balance of the boil
	OnTooLong            // longer without a pause than the plan can need
	TickLate             // the loop was away for longer than the lease
	NotHeating           // power without a rise
	HeatingWhileOff      // a rise without power: a welded relay
	TooFast              // a rise that the load does not allow: low or dry
	ProbeOut             // the probe has left the liquid
	ProbeStuck           // the reading no longer moves
	PumpStopped          // no flow where flow is needed
	EnergyBudget         // more energy than the whole batch can need

	ruleEnd
)

var ruleIDs = [ruleEnd]string{
	"none", "stale", "implausible", "over-temperature", "not-armed", "empty", "on-too-long", "tick-late",
	"not-heating", "heating-while-off", "too-fast", "probe-out", "probe-stuck", "pump-stopped", "energy-budget",
}

// String is the id of the rule, "none" for NoRule.
func (r Rule) String() string {
	if r < ruleEnd {
		return ruleIDs[r]
	}
	return "unknown rule"
}

// Rules are all rules in the order of their numbers, without NoRule.
func Rules() [ruleEnd - 1]Rule {
	var all [ruleEnd - 1]Rule
	for i := range all {
		all[i] = Rule(i + 1)
	}
	return all
}

// isFinding tells whether the rule is judged outside and handed in.
func (r Rule) isFinding() bool { return r >= NotHeating && r < ruleEnd }

// cuts tells whether the rule can take heat away without latching.
func (r Rule) cuts() bool {
	switch r {
	case Stale, Implausible, NotArmed, Empty, TickLate, ProbeOut:
		return true
	}
	return false
}

// persists tells whether a cut of this rule becomes a trip when it lasts: the
// person has to look at a probe that does not come back.
func (r Rule) persists() bool { return r == Stale || r == Implausible || r == ProbeOut }
