package schema

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"mashward/profile/strict"
)

// odd is like no key and no word of any file.
const odd = "qqqqqqqqqqqqqqqqqqqqqqqq"

func TestTheFullFilesAreGoodAndUseEveryKey(t *testing.T) {
	for _, kind := range Kinds() {
		read, check := reader(t, kind), judge(t, kind)
		used := map[string]bool{}
		for _, text := range full[kind] {
			v, err := tree([]byte(text))
			if err != nil {
				t.Fatal(err)
			}
			if err := check(v); err != nil {
				t.Errorf("%s: %v", kind, err)
			}
			if _, faults := read([]byte(text)); len(faults) > 0 {
				t.Errorf("%s: %s", kind, said(faults))
			}
			// The readers must see the same in the JSON that the other tests write.
			if _, faults := read(written(t, v)); len(faults) > 0 {
				t.Errorf("%s as JSON: %s", kind, said(faults))
			}
		}
		each(t, kind, func(_ any, s spot) {
			for key := range s.m {
				used[s.path+"/"+s.n.Title+"/"+key] = true
			}
		})
		for _, want := range every("", root(kind)) {
			if !used[want] {
				t.Errorf("%s: no full file uses %s", kind, want)
			}
		}
	}
}

// every lists all keys of a schema by path and form.
func every(path string, n *node) []string {
	var all []string
	for _, one := range n.OneOf {
		all = append(all, every(path, one)...)
	}
	for _, k := range n.Properties {
		all = append(all, path+"/"+n.Title+"/"+k.name)
		all = append(all, every(strings.TrimPrefix(path+"."+k.name, "."), k.is)...)
	}
	if n.Items != nil {
		all = append(all, every(path+"[]", n.Items)...)
	}
	return all
}

// A reader names the keys it knows when it meets one that is like none of them.
func TestEverySchemaKnowsTheKeysItsReaderKnows(t *testing.T) {
	known := regexp.MustCompile(`unknown key "` + odd + `".*; known here: (.*)`)
	for _, kind := range Kinds() {
		read, check := reader(t, kind), judge(t, kind)
		each(t, kind, func(root any, s spot) {
			s.with(odd, "1", func() {
				_, faults := read(written(t, root))
				m := known.FindStringSubmatch(said(faults))
				if m == nil {
					t.Fatalf("%s %s: the reader takes any key: %s", kind, s.path, said(faults))
				}
				keys := strings.Split(m[1], ", ")
				slices.Sort(keys)
				if !slices.Equal(keys, s.all) {
					t.Errorf("%s %s: the reader knows\n%v\nand the schema\n%v", kind, s.path, keys, s.all)
				}
				if check(root) == nil {
					t.Errorf("%s %s: the schema takes any key", kind, s.path)
				}
			})
		})
	}
}

// An entry of a list has one of several forms, each with its own keys.
func TestEveryFormHasTheKeysItsReaderTakes(t *testing.T) {
	for _, kind := range Kinds() {
		read, check := reader(t, kind), judge(t, kind)
		each(t, kind, func(root any, s spot) {
			for _, key := range s.all {
				if _, there := s.m[key]; there {
					continue
				}
				s.with(key, "1 K", func() {
					_, faults := read(written(t, root))
					if takes := slices.Contains(names(s.n), key); !takes && !strict.Refused(faults) {
						t.Errorf("%s %s, %s: the reader takes %s, the schema does not know it", kind, s.path, s.n.Title, key)
					} else if !takes && check(root) == nil {
						t.Errorf("%s %s, %s: the schema takes %s", kind, s.path, s.n.Title, key)
					}
				})
			}
		})
	}
}

func TestWhatMustBeThereMustBeThereForBoth(t *testing.T) {
	// What a reader refuses for another reason than the missing key.
	beyond := map[string]string{
		"profile grain": "the steps have a mash-in, which needs it; a schema sees one value at a time",
	}
	for _, kind := range Kinds() {
		read, check := reader(t, kind), judge(t, kind)
		each(t, kind, func(root any, s spot) {
			for _, k := range s.n.Properties {
				if _, there := s.m[k.name]; !there {
					continue
				}
				path := strings.TrimPrefix(s.path+"."+k.name, ".")
				s.with(k.name, nil, func() {
					_, faults := read(written(t, root))
					reader, schema := !strict.Refused(faults), check(root) == nil
					if _, skip := beyond[kind+" "+path]; skip {
						if reader || !schema {
							t.Errorf("%s %s is no exception any more", kind, path)
						}
						return
					}
					if reader != schema {
						t.Errorf("%s without %s: the reader takes it: %v, the schema: %v\n%s", kind, path, reader, schema, said(faults))
					}
				})
			}
		})
	}
}

// A reader names the range when a value lies far outside.
func TestEveryRangeIsTheReaders(t *testing.T) {
	outside := regexp.MustCompile(`is outside (.*) to (.*); write a value within`)
	for _, kind := range Kinds() {
		read := reader(t, kind)
		each(t, kind, func(root any, s spot) {
			for _, k := range s.n.Properties {
				if _, there := s.m[k.name]; !there || k.is.from == "" && k.is.OneOf == nil {
					continue
				}
				leaf := form(k.is, "42 min") // a value, where several forms are known
				if leaf.from == "" {
					continue
				}
				for _, far := range farOff(leaf) {
					s.with(k.name, far, func() {
						_, faults := read(written(t, root))
						m := outside.FindStringSubmatch(said(faults))
						if m == nil {
							t.Errorf("%s %s.%s: %s is within the reader's range: %s", kind, s.path, k.name, far, said(faults))
						} else if m[1] != leaf.from || m[2] != leaf.to && leaf.to != longest {
							t.Errorf("%s %s.%s: the reader has %s to %s, the schema %s to %s", kind, s.path, k.name, m[1], m[2], leaf.from, leaf.to)
						}
					})
				}
			}
		})
	}
}

// longest is the longest time that can be written at all; the one range that
// reaches beyond it is cut there.
const longest = "366 d"

// farOff are values outside a range, above it where they can be written.
func farOff(n *node) []string {
	_, unit, _ := strings.Cut(n.from, " ")
	switch {
	case n.to == longest:
		return nil // and see the test below
	case n.Pattern == durationPattern:
		return []string{"300 d"}
	case n.Minimum != nil:
		return []string{"99999", "-99999"}
	case strings.HasPrefix(n.from, "-"):
		return []string{"99999999 " + unit, "-99999999 " + unit}
	}
	return []string{"99999999 " + unit}
}

// The one range that reaches beyond longest is said as far as it can be written.
func TestNoTimeIsLongerThanALeapYear(t *testing.T) {
	read := reader(t, "faults")
	for _, c := range []struct {
		value string
		good  bool
	}{{longest, true}, {"367 d", false}} {
		_, faults := read([]byte("faults: [{at: 1 s, fault: clock-step, value: " + c.value + "}]"))
		if strict.Refused(faults) == c.good {
			t.Errorf("%s: %s", c.value, said(faults))
		}
	}
}

func TestADefaultIsWhatTheReaderTakesForAMissingKey(t *testing.T) {
	found := 0
	for _, kind := range Kinds() {
		read, check := reader(t, kind), judge(t, kind)
		each(t, kind, func(root any, s spot) {
			for _, k := range s.n.Properties {
				if _, there := s.m[k.name]; !there || k.is.Default == "" {
					continue
				}
				found++
				var with, without any
				s.with(k.name, k.is.Default, func() {
					var faults []strict.Fault
					if with, faults = read(written(t, root)); strict.Refused(faults) || check(root) != nil {
						t.Errorf("%s %s.%s: the default %s is refused: %s", kind, s.path, k.name, k.is.Default, said(faults))
					}
				})
				s.with(k.name, nil, func() { without, _ = read(written(t, root)) })
				if alike(with) != alike(without) {
					t.Errorf("%s %s.%s: %s is not what a missing key stands for:\n%+v\n%+v", kind, s.path, k.name, k.is.Default, with, without)
				}
			}
		})
	}
	if found < 30 {
		t.Errorf("only %d defaults were looked at", found)
	}
}

// alike is a value with its numbers to twelve digits: 35 % is read as
// 35 / 100, and its last bit is not that of 0.35.
func alike(v any) string { return fmt.Sprintf("%.12g", v) }

// A reader lists the words it knows when it meets one that is like none of them.
func TestEveryWordIsTheReaders(t *testing.T) {
	for _, kind := range Kinds() {
		read := reader(t, kind)
		schema, readers := map[string][]string{}, map[string][]string{}
		each(t, kind, func(root any, s spot) {
			for _, k := range s.n.Properties {
				if _, there := s.m[k.name]; !there || k.is.Enum == nil {
					continue
				}
				path := s.path + "." + k.name
				schema[path] = append(schema[path], k.is.Enum...)
				s.with(k.name, odd, func() {
					_, faults := read(written(t, root))
					_, list, ok := strings.Cut(said(faults), `"`+odd+`" is not known; write `)
					if !ok {
						t.Fatalf("%s %s: %s", kind, path, said(faults))
					}
					list, _, _ = strings.Cut(list, "\n")
					readers[path] = strings.Split(strings.ReplaceAll(list, " or ", ", "), ", ")
				})
			}
		})
		for path, words := range schema {
			slices.Sort(words)
			slices.Sort(readers[path])
			if words = slices.Compact(words); !slices.Equal(words, readers[path]) {
				t.Errorf("%s %s: the reader knows\n%v\nand the schema\n%v", kind, path, readers[path], words)
			}
		}
	}
}

func TestEveryExampleIsGood(t *testing.T) {
	for _, kind := range Kinds() {
		read, check := reader(t, kind), judge(t, kind)
		// Further full files leave out what some examples need.
		in(t, kind, full[kind][:1], func(root any, s spot) {
			for _, k := range s.n.Properties {
				if _, there := s.m[k.name]; !there {
					continue
				}
				for _, example := range form(k.is, "42 min").Examples {
					s.with(k.name, example, func() {
						if err := check(root); err != nil {
							t.Errorf("%s %s.%s: %v", kind, s.path, k.name, err)
						}
						_, faults := read(written(t, root))
						// An example of a line may be taken already in the full file.
						if strict.Refused(faults) && !strings.Contains(said(faults), " is both ") {
							t.Errorf("%s %s.%s: %s is refused: %s", kind, s.path, k.name, example, said(faults))
						}
					})
				}
			}
		})
	}
}

func TestEveryPartIsExplainedAndClosed(t *testing.T) {
	for _, kind := range Kinds() {
		explained(t, kind, root(kind))
	}
}

func explained(t *testing.T, path string, n *node) {
	if n.Title == "" || n.Description == "" && n.OneOf == nil {
		t.Errorf("%s has no title or no description: %q %q", path, n.Title, n.Description)
	}
	if n.Properties != nil && !bool(n.Closed) {
		t.Errorf("%s takes keys it does not know", path)
	}
	if n.Pattern != "" && n.Examples == nil && n.Minimum == nil {
		t.Errorf("%s has no example", path)
	}
	for _, k := range n.Properties {
		explained(t, path+"."+k.name, k.is)
	}
	for _, one := range n.OneOf {
		explained(t, path, one)
	}
	if n.Items != nil {
		explained(t, path+"[]", n.Items)
	}
}
