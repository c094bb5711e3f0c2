package report

import "strings"

// sections are the parts of the page that tell what is known after the batch, each
// under its name. Where they stand is layout's; what belongs to a day's lateness, its
// forecasts and its gravity comes between energy and enzymes.
var sections = strings.TrimSpace(`
{{define "plan"}}
<section aria-labelledby="planned">
<h2 id="planned">Plan and day</h2>
<div class="scroll" role="group" aria-labelledby="planned" tabindex="0">
<table>
<caption>How long each step was to take and took, in minutes:seconds, and the energy that went in, in kWh. “Waited” is the time that a person was asked for something.</caption>
<thead><tr><th scope="col">step</th><th scope="col">plan</th><th scope="col">went</th><th scope="col">waited</th><th scope="col">kWh, plan</th><th scope="col">kWh, went</th></tr></thead>
<tbody>
{{- range .Steps}}
<tr><th scope="row">{{.Title}}</th><td>{{.Planned}}</td><td>{{.Went}}</td><td>{{.Waited}}</td><td>{{.PlannedEnergy}}</td><td>{{.Energy}}</td></tr>
{{- end}}
</tbody>
</table>
</div>
{{- with .NoPlan}}
<p>{{.}}</p>
{{- end}}
</section>
{{end}}
{{define "energy"}}
<section aria-labelledby="energy">
<h2 id="energy">Energy</h2>
<p>{{.Energy}}</p>
</section>
{{end}}
{{define "windows"}}
{{- if .Windows}}
<section aria-labelledby="windows">
<h2 id="windows">Where the mash was</h2>
<div class="scroll" role="group" aria-labelledby="windows" tabindex="0">
<table>
<caption>Minutes:seconds of the mash in windows of temperature, by the estimate. A window reaches 0.3 °C beyond its figures, as a rest counts from there on; where two meet, the upper one begins there.</caption>
<thead><tr><th scope="col">window</th><th scope="col">time</th></tr></thead>
<tbody>
{{- range .Windows}}
<tr><th scope="row">{{.Title}}</th><td>{{.Minutes}}</td></tr>
{{- end}}
</tbody>
</table>
</div>
</section>
{{- end}}
{{end}}
{{define "enzymes"}}
{{- if .Enzymes}}
<section aria-labelledby="enzymes">
<h2 id="enzymes">Enzymes: an estimate</h2>
<div class="scroll" role="group" aria-labelledby="enzymes" tabindex="0">
<table>
<caption>In %, by the estimated temperature of the mash; in brackets where published figures disagree (Brandam 2003, Muller 1990). What is left is a share of what came with the malt, what was made of the starch that beta-amylase can reach.</caption>
<thead><tr><th scope="col">step</th><th scope="col">beta left</th><th scope="col">alpha left</th><th scope="col">sugar made</th><th scope="col">dextrin made</th></tr></thead>
<tbody>
{{- range .Enzymes}}
<tr><th scope="row">{{.Title}}</th><td>{{.Beta}}</td><td>{{.Alpha}}</td><td>{{.Sugar}}</td><td>{{.Dextrin}}</td></tr>
{{- end}}
</tbody>
</table>
</div>
{{- range .EnzymeWords}}
<p>{{.}}</p>
{{- end}}
</section>
{{- end}}
{{end}}
{{define "told"}}
{{- if .Told}}
<section aria-labelledby="told">
<h2 id="told">What a person said and did, and notes</h2>
<dl class="troubles">
{{- range .Told}}
<dt>{{.At}}</dt><dd>{{.Text}}</dd>
{{- end}}
</dl>
</section>
{{- end}}
{{end}}
{{define "taught"}}
{{- if .Taught}}
<section aria-labelledby="taught">
<h2 id="taught">What the kettle taught</h2>
<ul>
{{- range .Taught}}
<li>{{.}}</li>
{{- end}}
</ul>
</section>
{{- end}}
{{end}}
`)
