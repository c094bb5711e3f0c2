package picture

import "strings"

// Tone is one colour of the pictures, on light and on dark paper, and the
// custom property that carries it. A page may set the property itself.
type Tone struct {
	Property    string
	Light, Dark string // #rrggbb
	Text        bool   // letters are written in it
}

// Tones are all colours. Letters have a contrast of 4.5 to 1 or more against
// the paper, lines that carry meaning 3 to 1 or more (WCAG 2.2, 1.4.3 and
// 1.4.11); grid and tint only please.
var Tones = [...]Tone{
	{"--mw-paper", "#ffffff", "#14181d", false},
	{"--mw-ink", "#1b1f24", "#e8ebee", true},
	{"--mw-quiet", "#59626c", "#a7b0ba", true},
	{"--mw-actual", "#0a4f9e", "#86bbff", true},
	{"--mw-plan", "#7a828b", "#8d97a2", false},
	{"--mw-heat", "#6d4a9c", "#b79ce0", true},
	{"--mw-grave", "#a3123f", "#ff8ca6", true},
	{"--mw-grid", "#d9dde2", "#323a43", false},
	{"--mw-tint", "#e9eef4", "#25303c", false},
}

// rules are the style of everything in a picture.
const rules = `.mw-pic{display:block;width:100%;height:auto;overflow:visible}
.mw-pic text{font-family:system-ui,"Segoe UI",Roboto,"Helvetica Neue",Arial,sans-serif;font-variant-numeric:tabular-nums;fill:var(--mw-ink)}
.mw-pic path{fill:none}
.mw-small text{font-size:16px}
.mw-large text{font-size:16px}
.mw-pic .mw-quiet{fill:var(--mw-quiet)}
.mw-pic .mw-bold{font-weight:600}
.mw-pic .mw-grid{stroke:var(--mw-grid);stroke-width:1}
.mw-pic .mw-axis{stroke:var(--mw-plan);stroke-width:1}
.mw-pic .mw-flag{stroke:var(--mw-plan);stroke-width:1}
.mw-pic .mw-stem{stroke:var(--mw-plan);stroke-width:1;stroke-dasharray:1 4}
.mw-pic .mw-plan{stroke:var(--mw-plan);stroke-width:5;stroke-dasharray:9 4;stroke-linejoin:round}
.mw-pic .mw-actual{stroke:var(--mw-actual);stroke-width:2;stroke-linejoin:round}
.mw-pic .mw-guess{stroke:var(--mw-actual);stroke-width:2;stroke-dasharray:2 3}
.mw-pic .mw-heat{fill:var(--mw-heat);stroke:none}
.mw-pic .mw-alpha{fill:var(--mw-tint);stroke:var(--mw-plan);stroke-width:1}
.mw-pic .mw-beta{stroke:var(--mw-actual);stroke-width:1}
.mw-pic .mw-rail{fill:none;stroke:var(--mw-plan);stroke-width:1}
.mw-pic .mw-planned{stroke:var(--mw-plan);stroke-width:1.5;stroke-dasharray:5 3}
.mw-pic .mw-went{stroke:var(--mw-actual);stroke-width:1.5}
.mw-pic .mw-hold{fill:var(--mw-tint)}
.mw-pic .mw-none{fill:none}
.mw-pic .mw-off{stroke:var(--mw-grave);stroke-width:.6}
.mw-pic .mw-offtext{fill:var(--mw-grave);paint-order:stroke;stroke:var(--mw-paper);stroke-width:5px}
.mw-pic .mw-hatch{stroke:var(--mw-plan);stroke-width:1.6}
.mw-pic .mw-hatch2{stroke:var(--mw-actual);stroke-width:1.6}
.mw-pic .mw-cross{stroke:var(--mw-grave);stroke-width:1}
.mw-pic .mw-now{stroke:var(--mw-ink);stroke-width:1.5}
.mw-pic .mw-halo{paint-order:stroke;stroke:var(--mw-paper);stroke-width:5px;stroke-linejoin:round}
.mw-pic .mw-badge{fill:var(--mw-paper);stroke:var(--mw-ink);stroke-width:1.3}
.mw-pic .mw-grave{fill:var(--mw-grave);stroke:var(--mw-grave);stroke-width:1.3}
.mw-pic .mw-warn{fill:var(--mw-paper);stroke:var(--mw-grave);stroke-width:2.2}
.mw-pic .mw-soft{fill:var(--mw-paper);stroke:none}
.mw-pic .mw-later{fill:none;stroke:var(--mw-plan);stroke-width:1.3}
.mw-pic .mw-inverse{fill:var(--mw-paper)}
.mw-pic .mw-actualtext{fill:var(--mw-actual)}
.mw-pic .mw-heattext{fill:var(--mw-heat)}
.mw-pic .mw-watermark{fill:var(--mw-grid);font-weight:700;letter-spacing:.06em}
.mw-small .mw-watermark{font-size:46px}
.mw-large .mw-watermark{font-size:92px}
`

// CSS is the style a page needs for its pictures: the colours of light and
// dark paper, and the rules. It belongs into the page once.
func CSS() string {
	return ":root{" + properties(false) + "}\n@media (prefers-color-scheme:dark){:root{" + properties(true) + "}}\n" +
		"@media print{:root{" + properties(false) + "}}\n" + rules
}

func properties(dark bool) string {
	var b strings.Builder
	for _, t := range Tones {
		colour := t.Light
		if dark {
			colour = t.Dark
		}
		b.WriteString(t.Property + ":" + colour + ";")
	}
	return b.String()
}
