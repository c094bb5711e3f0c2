package main

import (
	"io"
	"strings"
	"testing"
)

// TestAWrongOptionIsToldInWords: what was most likely meant, or what to write.
func TestAWrongOptionIsToldInWords(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"dryrun --rgi x", "there is no option --rgi; do you mean --rig?"},
		{"dryrun --nonsense x", "there is no option --nonsense; `mashward dryrun --help`"},
		{"dryrun --seed abc x", "--seed abc: write a number"},
		{"dryrun --seed -1 x", "--seed -1: write a number"},
		{"dryrun x --rig", "--rig needs a file behind it"},
		{"dryrun --person-delay 5 x", "--person-delay 5: "},
		{"serve --simulate=perhaps x", "--simulate perhaps: write nothing, or =true or =false"},
		{"record list --format", "--format needs a word behind it"},
	} {
		var errs strings.Builder
		code := run(strings.Fields(c.args), strings.NewReader(""), io.Discard, &errs)
		if said := errs.String(); code != exitUsage || !strings.Contains(said, c.want) || strings.Contains(said, "flag") {
			t.Errorf("%s: code %d, %q; want 64 and %q", c.args, code, said, c.want)
		}
	}
}
