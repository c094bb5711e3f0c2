package api

import (
	"encoding/json"
	"net/http"
	"regexp"
	"runtime"
	"strings"
	"testing"
)

// deep is so many lists inside one another.
func deep(n int) string { return strings.Repeat("[", n) + strings.Repeat("]", n) }

func TestBodiesThatOnlyNearlySayWhatWasMeantAreRefused(t *testing.T) {
	for body, says := range map[string]string{
		``:                                     "not one JSON value",
		` `:                                    "not one JSON value",
		`{`:                                    "not one JSON value",
		`{"profile": "warm"} {}`:               "not one JSON value",
		`{"profile": "warm"},`:                 "not one JSON value",
		`{"profile": "warm",}`:                 "not one JSON value",
		`{'profile': 'warm'}`:                  "not one JSON value",
		`{"profile": NaN}`:                     "not one JSON value",
		`{"profile": "warm" /* */}`:            "not one JSON value",
		"\ufeff{\"profile\": \"warm\"}":        "not one JSON value",
		"{\"profile\": \"w\xffarm\"}":          "not UTF-8",
		`null`:                                 "null says nothing",
		`{"profile": null}`:                    "null says nothing",
		`[]`:                                   "must be a JSON object",
		`"warm"`:                               "must be a JSON object",
		`3`:                                    "must be a JSON object",
		`{"profile": 3}`:                       `"profile" cannot be a number`,
		`{"profile": ["warm"]}`:                `"profile" cannot be a array`,
		`{"profile": "warm", "x": 1}`:          `there is no "x"`,
		`{"Profile": "warm"}`:                  `there is no "Profile"`,
		`{"profile": "a", "profile": "warm"}`:  `"profile" stands there twice`,
		`{"profile": "a", "pr\u006ffile": ""}`: `"profile" stands there twice`,
		`{"profile": {"a": 1, "a": 2}}`:        `"a" stands there twice`,
		`{"profile": 1e999}`:                   `"1e999" is out of the range of numbers`,
		`{"profile": -1e999}`:                  `"-1e999" is out of the range of numbers`,
		deep(16):                               "must be a JSON object",
		deep(17):                               "nested more than 16 deep",
		`{"profile": ` + deep(15) + `}`:        `"profile" cannot be a array`,
		`{"profile": ` + deep(16) + `}`:        "nested more than 16 deep",
		`{"` + strings.Repeat("x", 9999) + `": 1}`: `there is no "` + strings.Repeat("x", 64) + `..."`,
	} {
		var ask ToRehearse
		err := decode([]byte(body), &ask)
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%.40q: %v, want %q", body, err, says)
		}
	}
	for _, body := range []string{`{}`, `{"profile": "warm"}`, " {\n\"profile\"\t: \"w\\u00e4rm\" } \n"} {
		var ask ToRehearse
		if err := decode([]byte(body), &ask); err != nil {
			t.Errorf("%q: %v", body, err)
		}
	}
}

func TestABodyMayHave64KiBAndNoMore(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		pad := func(n int) string { return `{"wish": "pause"` + strings.Repeat(" ", n-17) + `}` }
		if w := b.ask("POST", "command", pad(64<<10)); w.Code != http.StatusUnprocessableEntity { // understood, and refused by the core
			b.Error(w.Code, w.Body)
		}
		for _, path := range []string{"command", "what-if", "arm", "start", "go-on", "rehearsal", "pair", "phones/invite", "phones/revoke"} {
			no(b, b.ask("POST", path, pad(64<<10+1)), http.StatusRequestEntityTooLarge, "too-large")
		}
	})
}

// Ten megabytes, and nesting as deep as a body goes, cost no memory to speak of.
func TestALargeOrDeepBodyCostsLittle(t *testing.T) {
	large, sunk := strings.Repeat(" ", 10<<20), deep(32<<10)
	inBubble(t, settings{}, func(b *bench) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		no(b, b.ask("POST", "command", large), http.StatusRequestEntityTooLarge, "too-large")
		no(b, b.ask("POST", "command", sunk), http.StatusBadRequest, "bad-request")
		runtime.ReadMemStats(&after)
		if grown := after.TotalAlloc - before.TotalAlloc; grown > 8<<20 {
			b.Errorf("%d KiB", grown>>10)
		}
	})
}

// profileName is the name of a profile of the folder, of its water brew, or of water
// by hand.
var profileName = regexp.MustCompile(`\A(?:(?:~water-brew~)?[A-Za-z0-9_-]{1,64}|~(?:by-hand|cleaning)~[0-9]{1,12}(?:~[0-9]{1,12}){2,3})\z`)

// bodies are all that can be asked, by the path that takes it.
func bodies() map[string]func([]byte) error {
	wants := func(err error, ok bool) error {
		if err == nil && !ok {
			return http.ErrNotSupported // any error: refused
		}
		return err
	}
	return map[string]func([]byte) error{
		"rehearsal": func(text []byte) error {
			var v ToRehearse
			err := decode(text, &v)
			return wants(err, v.Profile != nil && profileName.MatchString(*v.Profile))
		},
		"arm": func(text []byte) error {
			var v ToArm
			err := decode(text, &v)
			return wants(err, err == nil && v.incomplete() == "" && profileName.MatchString(*v.Profile))
		},
		"start": func(text []byte) error {
			var v ToStart
			err := decode(text, &v)
			return wants(err, v.Nonce != nil && *v.Nonce != "")
		},
		"go-on": func(text []byte) error {
			var v ToGoOn
			err := decode(text, &v)
			return wants(err, err == nil && v.incomplete() == "" && goodName(*v.Batch))
		},
		"command": func(text []byte) error {
			var v ToDo
			err := decode(text, &v)
			if err == nil {
				_, bad := v.command()
				return wants(nil, bad == "")
			}
			return err
		},
	}
}

// FuzzDecode holds the decoder to the document from both sides: what it takes
// the schema allows, and what the schema allows it takes, unless the text hides
// something that a schema cannot see (a key that is there twice, a figure that
// changes when it is read).
func FuzzDecode(f *testing.F) {
	for _, seed := range []string{
		`{"profile":"warm"}`, `{"nonce":"x"}`, `{"wish":"pause"}`, `{"wish":"extend","minutes":-3.5}`, `{"wish":"drained","litres":21.5}`, `{"wish":"added","litres":2,"celsius":60}`, `{"wish":"took-out","litres":3}`, `{"wish":"volume-is","litres":23.1}`,
		`{"profile":"warm","hash":"x","litres":25,"bag_clear":true,"valve_shut":true,"rcd_tested":false}`, `{"profile":"warm","hash":"x","litres":25,"bag_clear":true,"valve_shut":true,"rcd_tested":true,"resume_minutes":15}`,
		`{"batch":"x","litres":25,"bag_clear":true,"valve_shut":true,"rcd_tested":true}`, `{"wish":"drained"}`, `{"wish":"pause","litres":1}`, `{"wish":"extend","minutes":0}`, `{"wish":"pause","wish":"skip"}`, `{"wish":null}`,
		`{"wish":"grain-is","kilograms":4.4,"celsius":12}`, `{"wish":"gravity-is","value":1.04,"celsius":20,"instrument":"hydrometer","calibrated_celsius":15.56}`,
		`{"wish":"ph-is","value":5.4,"celsius":20,"spot":"top"}`, `{"wish":"thermometer-says","celsius":62.4}`,
		`{"wish":"extend","minutes":1e999}`, `{"Wish":"pause"}`, `[[[[]]]]`, `{}`, ``, `{"wish":"extend","minutes":360.0000000001}`,
		"{\"wish\":\"pause\",\"\xff\":1}", `{"wish":"extend","minutes":5e-324}`, `{"profile":"a/../b"}`, `{"profile":"wa~m"}`, `{"profile":"~water-brew~warm"}`, `{"profile":"~by-hand~20000~65000~7200"}`,
	} {
		f.Add([]byte(seed))
	}
	all := bodies()
	f.Fuzz(func(t *testing.T, text []byte) {
		for path, take := range all {
			err := take(text)
			plain, ok := normal(text)
			if !ok {
				if err == nil {
					t.Fatalf("%s takes %q, which is no JSON", path, text)
				}
				continue
			}
			allowed := promised.fits(plain, "paths", Prefix+path, "post", "requestBody", "content", jsonKind, "schema")
			if err == nil && allowed != nil {
				t.Fatalf("%s takes %q; the document: %v", path, text, allowed)
			}
			if err != nil && allowed == nil && !hidden(err) {
				t.Fatalf("%s refuses %q (%v), which the document allows", path, text, err)
			}
		}
	})
}

// normal is the text as any reader of JSON would understand it.
func normal(text []byte) (plain []byte, ok bool) {
	var v any
	if json.Unmarshal(text, &v) != nil {
		return nil, false
	}
	plain, err := json.Marshal(v)
	return plain, err == nil
}

// hidden tells whether that was refused for something that normal takes away.
func hidden(err error) bool {
	for _, why := range []string{"twice", "not UTF-8", "out of the range"} {
		if strings.Contains(err.Error(), why) {
			return true
		}
	}
	return false
}

func TestNumbersAreFiniteOrRefused(t *testing.T) {
	for text, fine := range map[string]bool{"0": true, "1.7976931348623157e308": true, "1.8e308": false, "-1e400": false, "5e-324": true} {
		if err := finite(json.Number(text)); (err == nil) != fine {
			t.Errorf("%s: %v", text, err)
		}
	}
}
