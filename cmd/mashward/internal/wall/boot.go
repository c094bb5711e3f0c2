package wall

import "fmt"

// Boot tells one start of the computer from another, and whether its wall clock
// could be trusted. The zero value knows nothing and trusts nothing.
type Boot struct {
	ID     string // differs from start to start of the kernel; "" is not known
	Synced bool   // the wall clock was kept by a time server
}

const bootNote = "computer started as %s and its clock %s by a time server"

var kept = map[bool]string{true: "kept", false: "not-kept"}

// String is it as a sentence for the record.
func (b Boot) String() string {
	id := b.ID
	if id == "" {
		id = "unknown"
	}
	return fmt.Sprintf(bootNote, id, kept[b.Synced])
}

// ParseBoot reads what String wrote.
func ParseBoot(note string) (Boot, bool) {
	var b Boot
	var how string
	if _, err := fmt.Sscanf(note, bootNote, &b.ID, &how); err != nil {
		return Boot{}, false
	}
	if b.ID == "unknown" {
		b.ID = ""
	}
	b.Synced = how == kept[true]
	return b, note == b.String()
}

// Trusts tells whether the wall clock may be asked how long ago something was
// that happened under then: a time server kept it at both ends, or the computer
// has not been started anew and nobody has begun to keep its clock meanwhile. A
// board without a clock battery comes up years in the past, and jumps.
func (b Boot) Trusts(then Boot) bool {
	same := b.ID != "" && b.ID == then.ID
	return b.Synced && then.Synced || same && b.Synced == then.Synced
}

// Cause is what ended a process that ran under then, as far as that is known;
// "" if it is not.
func (b Boot) Cause(then Boot) string {
	switch {
	case b.ID == "" || then.ID == "":
		return ""
	case b.ID == then.ID:
		return "mashward ended, and the computer did not"
	}
	return "the computer was started anew"
}
