package page

import (
	"bytes"
	"embed"
	"html/template"
	"log/slog"
	"net/http"
	"path"
	"strings"
	"sync"
	"time"

	"mashward/cmd/internal/moments"
	"mashward/cmd/internal/picture"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/notify"
)

// Options are what the page is made of.
type Options struct {
	Daemon  *daemon.Daemon
	Records string // folder of records; "" keeps none
	Now     func() time.Time
	Log     *slog.Logger
	Notify  *notify.Notifier // nil: nobody is told of anything
}

//go:embed html/*.html
var htmlFiles embed.FS

//go:embed static
var staticFiles embed.FS

// site answers for every page.
type site struct {
	o     Options
	pages *template.Template
	book  moments.Book // what the calendar has said

	reading sync.Mutex // held while a record is read through

	mu    sync.Mutex
	armed armed
}

// armed is the arming that waits for its start.
type armed struct {
	nonce string
	batch *daemon.Batch
}

// New is the page, to be mounted at /. It relies on who stands before it for
// the Host, the origin and the size of what comes in.
func New(o Options) http.Handler {
	if o.Notify == nil {
		o.Notify = notify.New(notify.Options{Latest: o.Daemon.Latest, Now: o.Now, Log: o.Log})
	}
	s := &site{o: o, pages: template.Must(template.ParseFS(htmlFiles, "html/*.html"))}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.now)
	mux.HandleFunc("POST /do", s.do)
	mux.HandleFunc("POST /stop", s.stop)
	mux.HandleFunc("POST /unit", s.unit)
	mux.HandleFunc("GET /end", s.end)
	mux.HandleFunc("POST /call-off", s.callOff)
	mux.HandleFunc("GET /by-hand", s.byHandForm)
	mux.HandleFunc("POST /by-hand", s.byHand)
	mux.HandleFunc("GET /did", s.did)
	mux.HandleFunc("GET /what-if", s.whatIfForm)
	mux.HandleFunc("POST /what-if", s.whatIfAsk)
	mux.HandleFunc("GET /additions", s.additions)
	mux.HandleFunc("GET /go-on", s.goOnForm)
	mux.HandleFunc("POST /go-on", s.goOn)
	mux.HandleFunc("GET /profiles", s.profiles)
	mux.HandleFunc("GET /profile/{id}", s.profile)
	mux.HandleFunc("GET /profile/{id}/edit", s.editForm)
	mux.HandleFunc("POST /profile/{id}/edit", s.edit)
	mux.HandleFunc("GET /profile/{id}/scale", s.scaleForm)
	mux.HandleFunc("POST /profile/{id}/scale", s.scaleTo)
	mux.HandleFunc("GET /profile/{id}/sheet", s.sheet)
	mux.HandleFunc("POST /profile/{id}/rehearse", s.rehearse)
	mux.HandleFunc("GET /profile/{id}/arm", s.armForm)
	mux.HandleFunc("POST /profile/{id}/arm", s.arm)
	mux.HandleFunc("GET /confirm/{nonce}", s.confirm)
	mux.HandleFunc("POST /confirm/{nonce}", s.begin)
	mux.HandleFunc("GET /notifications", s.notifications)
	mux.HandleFunc("POST /notifications/test", s.tryNotifications)
	mux.HandleFunc("POST /notifications/seen", s.seenNotifications)
	mux.HandleFunc("GET /kettle", s.kettle)
	mux.HandleFunc("POST /kettle/restore", s.restoreTuning)
	mux.HandleFunc("GET /alarms", s.alarms)
	mux.HandleFunc("POST /alarms/seen", s.alarmsSeen)
	mux.HandleFunc("GET /records", s.records)
	mux.HandleFunc("GET /records/compare", s.compare)
	mux.HandleFunc("GET /chart", s.chartPage)
	mux.HandleFunc("GET /course.json", s.course)
	mux.HandleFunc("GET /needed", s.needed)
	mux.HandleFunc("GET /calendar.ics", s.calendar)
	mux.HandleFunc("GET /strip.svg", s.strip)
	mux.HandleFunc("GET /chart.svg", s.chart)
	mux.HandleFunc("GET /static/pictures.css", pictureStyle)
	mux.HandleFunc("GET /static/{file}", file)
	mux.HandleFunc("/", s.nothing)
	return mux
}

// base is what every page carries.
type base struct {
	Title     string
	Rig       string
	Simulated bool
	Scale     scale
	Here      string // where a change of scale leads back to; "": it cannot be changed here
	Message   string
	Grave     bool   // the message is bad news
	Refresh   string // of a page without script; "" keeps it as it is
	Live      bool   // the script follows the kettle
	Stale     string // "" while the kettle's loop answers
	Halted    bool   // nothing that changes the kettle may be pressed
}

// Words turns a sentence for the viewer.
func (b base) Words(sentence string) string { return b.Scale.words(sentence) }

func (s *site) base(r *http.Request, title string) base {
	snap := s.o.Daemon.Latest()
	b := base{Title: title, Rig: snap.Rig, Simulated: snap.Simulated, Scale: scaleOf(r), Here: r.URL.Path}
	b.Message, b.Grave = message(r.URL.Query().Get("said"))
	return b
}

// bare is what is left when a page cannot be made: words, and STOP.
const bare = `<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>mashward</title>
<p>This page could not be made. The kettle goes on as before.</p><form method="post" action="/stop"><button>STOP: heat and pump off</button></form></html>
`

// show renders a page whole before it writes: half a page would be a lie.
func (s *site) show(w http.ResponseWriter, status int, name string, model any) {
	var out bytes.Buffer
	if err := s.pages.ExecuteTemplate(&out, name, model); err != nil {
		s.o.Log.Error("page", "name", name, "error", err)
		status = http.StatusInternalServerError
		out.Reset()
		out.WriteString(bare)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(out.Bytes()) // whoever has gone needs no answer
}

// back sends the viewer to a page, with a code of what to say there.
func back(w http.ResponseWriter, r *http.Request, to, code string) {
	if code != "" {
		to += "?said=" + code
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// sorry is a page that has only one thing to say.
type sorry struct {
	base
	Text string
}

func (s *site) refuse(w http.ResponseWriter, r *http.Request, status int, text string) {
	s.show(w, status, "sorry.html", sorry{s.base(r, "Not here"), text})
}

func (s *site) nothing(w http.ResponseWriter, r *http.Request) {
	s.refuse(w, r, http.StatusNotFound, "There is no such page.")
}

// unit changes the viewer's scale and leads back to where he was.
func (s *site) unit(w http.ResponseWriter, r *http.Request) {
	to := celsius
	if r.PostFormValue("unit") == string(fahrenheit) {
		to = fahrenheit
	}
	http.SetCookie(w, &http.Cookie{Name: scaleCookie, Value: string(to), Path: "/", MaxAge: 365 * 24 * 3600, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	back(w, r, local(r.PostFormValue("here")), "")
}

// local is a path of ours, or the first page: an address from a form leads
// nowhere else.
func local(p string) string {
	if !strings.HasPrefix(p, "/") || path.Clean(p) != p || strings.ContainsAny(p, "\\?#%:") {
		return "/"
	}
	return p
}

var types = map[string]string{".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}

// file gives out one of the few files that pages need.
func file(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("file")
	text, err := staticFiles.ReadFile("static/" + name)
	if err != nil {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", types[path.Ext(name)])
	_, _ = w.Write(text)
}

func pictureStyle(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", types[".css"])
	_, _ = w.Write([]byte(picture.CSS()))
}
