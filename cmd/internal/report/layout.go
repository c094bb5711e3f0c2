package report

import "strings"

// style is the page's own, after the pictures'.
const style = `*{box-sizing:border-box}
html{color-scheme:light dark;-webkit-text-size-adjust:100%;text-size-adjust:100%}
body{margin:0;background:var(--mw-paper);color:var(--mw-ink);font:1.0625rem/1.5 system-ui,"Segoe UI",Roboto,"Helvetica Neue",Arial,sans-serif}
header,main,footer{max-width:62rem;margin:0 auto;padding:0 .75rem}
.simulated{max-width:none;margin:0 0 1rem;padding:.6rem 0;border-bottom:3px double var(--mw-ink);font-weight:700}
.simulated strong{letter-spacing:.12em}
h1{font-size:1.75rem;line-height:1.2;margin:1.5rem 0 .5rem;overflow-wrap:anywhere}
h2{font-size:1.25rem;line-height:1.3;margin:2.5rem 0 .6rem}
h3{font-size:1.0625rem;margin:1.5rem 0 .5rem}
p,ul,ol,table,pre,figure{margin:.5rem 0 1rem}
p,li,dd{max-width:44rem}
.lead{font-size:1.1875rem}
.quiet{color:var(--mw-quiet)}
figure{padding:0}
figcaption{color:var(--mw-quiet);max-width:44rem;margin-top:.25rem}
.wide{display:none}
.narrow{max-width:34rem}
.mw-mark{display:inline-block;width:auto;vertical-align:middle;flex:none}
ol.marks{list-style:none;padding:0}
ol.marks li{display:grid;grid-template-columns:3rem 1fr;gap:.5rem;padding:.2rem 0;max-width:46rem}
ol.marks .mw-mark{justify-self:end;margin-top:.1rem}
time,td,.at{font-variant-numeric:tabular-nums}
.scroll{overflow-x:auto}
table{border-collapse:collapse;min-width:min(100%,24rem)}
caption{text-align:left;color:var(--mw-quiet);padding:0 0 .5rem;max-width:44rem}
th,td{padding:.35rem .8rem .35rem 0;text-align:right;vertical-align:baseline;border-bottom:1px solid var(--mw-grid)}
thead th{vertical-align:bottom;border-bottom:1px solid var(--mw-ink);line-height:1.25}
th:first-child,tbody th{text-align:left;font-weight:600}
tbody th b,tbody th span{white-space:nowrap}
tbody th span{font-weight:400}
tr>:last-child{padding-right:0}
dl.troubles{display:grid;grid-template-columns:auto 1fr;gap:.4rem 1rem;margin:.5rem 0 1rem}
dl.troubles dt{font-variant-numeric:tabular-nums;font-weight:600}
dl.troubles dd{margin:0}
pre{font:.9375rem/1.45 ui-monospace,"DejaVu Sans Mono",Menlo,Consolas,monospace;white-space:pre-wrap;overflow-wrap:anywhere;padding:.8rem 0 .8rem 1rem;border-left:3px solid var(--mw-grid)}
code{font:.9375em ui-monospace,"DejaVu Sans Mono",Menlo,Consolas,monospace;overflow-wrap:anywhere}
footer{padding-bottom:3rem}
footer ul{padding-left:1.2rem;overflow-wrap:anywhere}
@media (max-width:47.99rem){
body{font-size:1rem}
th,td{padding-right:.3rem;font-size:.8125rem}
.extra{display:none}
}
@media (min-width:48rem){
header,main,footer{padding:0 1.5rem}
.wide{display:block}
.narrow{display:none}
}
@media print{
@page{size:A4;margin:15mm}
body{font-size:10.5pt}
header,main,footer{max-width:none;padding:0}
.wide{display:block}
.narrow{display:none}
th,td{padding:.2rem .8rem .2rem 0;font-size:inherit}
.extra{display:table-cell}
.scroll{overflow:visible}
pre{white-space:pre-wrap}
figure,table,tr,li{break-inside:avoid}
h2,h3,caption{break-after:avoid}
}
`

// layout is the page. Its comments do not reach the reader.
var layout = strings.TrimSpace(`
<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{{.Title}}</title>
<style>{{.Style}}</style>
</head>
<body>
<header>
{{- if .Simulated}}
<p class="simulated"><strong>SIMULATED</strong> {{if .Recorded}}This is the record of a day on a simulated kettle.{{else}}This is a rehearsal on a simulated kettle.{{end}} Nothing was heated.</p>
{{- end}}
<h1>{{.Name}}</h1>
<p class="lead">{{.Summary}}</p>
</header>
<main>
<section aria-labelledby="day">
<h2 id="day">The day</h2>
<figure>
{{- range .Strips}}
<div class="{{.Class}}">{{.SVG}}</div>
{{- end}}
<figcaption>Above the plan, below what became of it. Hatched: on the way to a temperature; plain: there. The numbers are those of the steps.</figcaption>
</figure>
</section>
<section aria-labelledby="chart">
<h2 id="chart">Temperature and heat</h2>
<figure>
{{- range .Charts}}
<div class="{{.Class}}">{{.SVG}}</div>
{{- end}}
<figcaption>The temperature is what the probe read. The strip below it is the share of time the element was on.</figcaption>
</figure>
{{- if .Marks}}
<h3 id="marks">The marks in the pictures</h3>
<ol class="marks" aria-labelledby="marks">
{{- range .Marks}}
<li>{{.Badge}}<span><span class="at">{{.At}}</span> <span class="quiet">{{.Kind}}:</span> {{.Text}}</span></li>
{{- end}}
</ol>
{{- end}}
</section>
<section aria-labelledby="steps">
<h2 id="steps">Step by step</h2>
<div class="scroll" role="group" aria-labelledby="steps" tabindex="0">
<table>
<caption>Times in minutes:seconds, differences in °C. “Way” is the time to the target, planned and as it went; “counted” the time there that counted. {{if .Recorded}}Temperatures are those of the estimate, made of the probe’s readings. {{else if .Simulated}}These are the true temperatures of the simulated kettle, not the probe’s readings. {{end}}“Too hot” is the highest above target, “strays” the largest distance from it in the second half of the time there.</caption>
<thead>
<tr><th scope="col">step</th><th scope="col" class="extra">began</th><th scope="col">way, plan</th><th scope="col">way, went</th><th scope="col">counted</th><th scope="col">too hot</th><th scope="col">strays</th></tr>
</thead>
<tbody>
{{- range .Rows}}
<tr><th scope="row"><b>{{.Index}} {{.Title}}</b>{{.Name}} <span>{{.Target}}</span></th><td class="extra">{{.Began}}</td><td>{{.Planned}}</td><td>{{.Went}}</td><td>{{.Counted}}</td><td>{{.TooHot}}</td><td>{{.Strays}}</td></tr>
{{- end}}
</tbody>
</table>
</div>
</section>
{{- with .After}}
{{template "plan" .}}
{{- end}}
{{- if .Late}}
<section aria-labelledby="late">
<h2 id="late">Against the plan</h2>
<p>{{.Late}}</p>
<dl class="troubles">
{{- range .LateParts}}
<dt>{{.Minutes}}</dt><dd>{{.Text}}</dd>
{{- end}}
</dl>
<p class="quiet">Minutes with a minus were gained. All parts, with those below half a minute, add up to the whole.</p>
</section>
{{- end}}
{{- with .After}}
{{template "energy" .}}
{{template "windows" .}}
{{template "enzymes" .}}
{{template "told" .}}
{{- end}}
<section aria-labelledby="wrong">
<h2 id="wrong">What went wrong</h2>
{{- if .Troubles}}
<dl class="troubles">
{{- range .Troubles}}
<dt>{{.At}}</dt><dd>{{.Text}}</dd>
{{- end}}
</dl>
{{- else}}
<p>Nothing: no heat was cut and no alarm was raised.</p>
{{- end}}
{{- if .Promises}}
<h3>What the profile expects</h3>
<ul>
{{- range .Promises}}
<li>{{.}}</li>
{{- end}}
</ul>
{{- end}}
{{- if .Problems}}
<h3>Said before it began</h3>
<ul>
{{- range .Problems}}
<li>{{.}}</li>
{{- end}}
</ul>
{{- end}}
</section>
{{- with .After}}
{{template "taught" .}}
{{- end}}
{{- with .Suggestion}}
<section aria-labelledby="kettle">
<h2 id="kettle">What the strike heat-up showed</h2>
<p>Another kettle than the rig declares. {{.Text}}</p>
<p>Nothing has been changed. This takes it over:</p>
<pre>{{.Command}}</pre>
</section>
{{- end}}
{{- with .Advice}}
<section aria-labelledby="advice">
<h2 id="advice">What the readings showed</h2>
{{- range .}}
<p>{{.}}</p>
{{- end}}
<p>Nothing has been changed.</p>
</section>
{{- end}}
{{- with .Wort}}
<section aria-labelledby="wort">
<h2 id="wort">Gravity and volume, an estimate</h2>
{{- range .}}
<p>{{.}}</p>
{{- end}}
</section>
{{- end}}
{{- if .Forecasts}}
<section aria-labelledby="forecasts">
<h2 id="forecasts">How the forecasts did</h2>
<ul>
{{- range .Forecasts}}
<li>{{.}}</li>
{{- end}}
</ul>
</section>
{{- end}}
{{- if .Volumes}}
<section aria-labelledby="volumes">
<h2 id="volumes">Volumes, as planned</h2>
{{- if .Strike}}
<p>{{.Strike}}</p>
{{- end}}
<div class="scroll" role="group" aria-labelledby="volumes" tabindex="0">
<table>
<caption>What stands in the kettle. Cold is at 20 °C; hot is what the dipstick shows at the temperature beside it.</caption>
<thead><tr><th scope="col">stage</th><th scope="col">cold, L</th><th scope="col">hot, L</th><th scope="col">at °C</th>{{if .HasDepth}}<th scope="col">deep, cm</th><th scope="col" class="extra">below the rim, cm</th>{{end}}</tr></thead>
<tbody>
{{- $depth := .HasDepth}}
{{- range .Volumes}}
<tr><th scope="row">{{.Stage}}</th><td>{{.Cold}}</td><td>{{.Hot}}</td><td>{{.At}}</td>{{if $depth}}<td>{{.Depth}}</td><td class="extra">{{.Below}}</td>{{end}}</tr>
{{- end}}
</tbody>
</table>
</div>
{{- range .Boils}}
<p>{{.}}</p>
{{- end}}
{{- if .Retention}}
<p>{{.Retention}}</p>
{{- end}}
</section>
{{- end}}
{{- if .Profile}}
<section aria-labelledby="profile">
<h2 id="profile">The profile</h2>
{{- with .After}}{{with .Hash}}
<p class="hash">SHA-256 of its text: <code>{{.}}</code></p>
{{- end}}{{end}}
<pre>{{.Profile}}</pre>
</section>
{{- end}}
{{- if .Cautions}}
<section aria-labelledby="mind">
<h2 id="mind">Mind</h2>
<ul>
{{- range .Cautions}}
<li>{{.}}</li>
{{- end}}
</ul>
</section>
{{- end}}
</main>
<footer>
<h2>What this was made from</h2>
<ul>
{{- if .Simulated}}
<li>A simulation. A real kettle differs: volumes, power and losses are never quite as written.</li>
{{- end}}
{{- range .Origins}}
<li>{{.}}</li>
{{- end}}
</ul>
</footer>
</body>
</html>
`) + "\n"
