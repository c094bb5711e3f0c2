package record

import (
	"bytes"
	"encoding/json"
	"testing"
)

// A head that another version wrote is read as far as it is known; one that is no
// head, or says what cannot be, is refused as ever.
func TestAHeadOfAnotherVersionIsReadAsFarAsItIsKnown(t *testing.T) {
	text, err := Head{Program: "test", Profile: "Brown", Order: 3}.encode()
	if err != nil {
		t.Fatal(err)
	}
	changed := func(change func(map[string]any)) []byte {
		var tree map[string]any
		if err := json.Unmarshal(text, &tree); err != nil {
			t.Fatal(err)
		}
		change(tree)
		out, err := json.Marshal(tree)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	for name, c := range map[string]struct {
		text             []byte
		foreign, refused bool
	}{
		"ours":                     {text, false, false},
		"a figure more":            {changed(func(m map[string]any) { m["Weather"] = "rain" }), true, false},
		"a figure of another kind": {changed(func(m map[string]any) { m["Began"] = map[string]any{"Year": 2031} }), true, false},
		"a figure less":            {changed(func(m map[string]any) { delete(m, "Began") }), false, false},
		"steps that cannot be":     {changed(func(m map[string]any) { m["Config"].(map[string]any)["Count"] = 99 }), false, true},
		"cut off":                  {text[:len(text)-5], false, true},
		"something else":           {[]byte("nothing of ours"), false, true},
	} {
		h, foreign, err := decodeHead(c.text)
		if (foreign != nil) != c.foreign || (err != nil) != c.refused {
			t.Errorf("%s: foreign %v, refused %v", name, foreign, err)
		}
		if err == nil && (h.Profile != "Brown" || h.Order != 3) {
			t.Errorf("%s: %+v", name, h)
		}
		out, sum := seal([]byte(magic), firstSum(), KindHead, c.text)
		out, _ = seal(out, sum, KindEnd, nil)
		if r, err := Read(&Memory{Bytes: bytes.Clone(out)}); (err != nil) != c.refused {
			t.Errorf("%s: read as %v, %v", name, r, err)
		} else if err == nil && (r.Foreign() != nil) != c.foreign {
			t.Errorf("%s: foreign %v", name, r.Foreign())
		}
	}
}
