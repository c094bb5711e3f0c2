package api

import (
	_ "embed"
	"encoding/json"
	"log/slog"
	"net/http"
	"strconv"
	"strings"
	"time"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/notify"
)

// Prefix is where the interface lives.
const Prefix = "/api/v1/"

//go:embed openapi.json
var document []byte

// Options are what the interface needs.
type Options struct {
	Daemon  *daemon.Daemon
	Records string           // folder of the records; "" where none are kept
	Now     func() time.Time // with its monotonic reading: keys and ages survive a jump of the wall clock
	Log     *slog.Logger
	Notify  *notify.Notifier // nil: nobody is told of anything
}

// API answers everything below Prefix. It is an http.Handler.
type API struct {
	o      Options
	mux    *http.ServeMux
	memory memory        // answers by idempotency key
	pace   pace          // of the stream
	seats  chan struct{} // one for each client of the stream
	shelf  shelf         // records that were summed up before
}

// route is one method on one path.
type route struct {
	method, path string // path below Prefix
	serve        func(*API) http.HandlerFunc
}

// routes is everything there is. The document names the same.
func routes() []route {
	return []route{
		{"GET", "state", get((*API).state)},
		{"GET", "moments", get((*API).moments)},
		{"GET", "profiles", get((*API).profiles)},
		{"POST", "profiles", post((*API).saveText)},
		{"POST", "profiles/check", post((*API).checkText)},
		{"GET", "profiles/{id}", get((*API).profile)},
		{"GET", "plan/{id}", get((*API).plan)},
		{"POST", "by-hand", post((*API).byHand)},
		{"POST", "rehearsal", post((*API).rehearsal)},
		{"POST", "arm", post((*API).arm)},
		{"POST", "start", post((*API).start)},
		{"POST", "go-on", post((*API).goOn)},
		{"POST", "command", post((*API).command)},
		{"POST", "what-if", post((*API).whatIf)},
		{"POST", "stop", (*API).stop},
		{"GET", "rig", get((*API).rig)},
		{"POST", "tuning/restore", post((*API).restoreTuning)},
		{"GET", "alarms", get((*API).alarms)},
		{"POST", "alarms/seen", post((*API).alarmsSeen)},
		{"GET", "events", func(a *API) http.HandlerFunc { return a.events }},
		{"GET", "records", get((*API).records)},
		{"GET", "records/compare", get((*API).compare)},
		{"GET", "records/{id}", get((*API).record)},
		{"GET", "records/{id}/report.html", get((*API).report)},
		{"GET", "records/{id}/bundle.tar", get((*API).bundle)},
		{"GET", "records/{id}/ticks.csv", func(a *API) http.HandlerFunc { return a.ticks }},
		{"GET", "notifications", get((*API).notifications)},
		{"POST", "notifications/test", post((*API).tryNotifications)},
		{"POST", "notifications/seen", post((*API).seen)},
		{"GET", "openapi.json", get((*API).openapi)},
	}
}

// New is the interface of one daemon.
func New(o Options) *API {
	if o.Notify == nil {
		o.Notify = notify.New(notify.Options{Latest: o.Daemon.Latest, Now: o.Now, Log: o.Log})
	}
	a := &API{o: o, mux: http.NewServeMux(), pace: realPace, seats: make(chan struct{}, MaxClients)}
	a.shelf.busy = make(chan struct{}, readers)
	for _, r := range routes() {
		a.mux.HandleFunc(r.method+" "+Prefix+r.path, r.serve(a))
	}
	return a
}

// ServeHTTP answers one request.
func (a *API) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if _, pattern := a.mux.Handler(r); pattern == "" {
		a.lost(r).write(w)
		return
	}
	a.mux.ServeHTTP(w, r)
}

// lost answers a request that fits no route.
func (a *API) lost(r *http.Request) answer {
	var allowed []string
	for _, method := range []string{"GET", "POST"} {
		other := r.Clone(r.Context())
		other.Method = method
		if _, pattern := a.mux.Handler(other); pattern != "" {
			allowed = append(allowed, method)
		}
	}
	if len(allowed) == 0 {
		return problem(http.StatusNotFound, "no-such-thing", "There is nothing here", "Look into "+Prefix+"openapi.json for what there is.")
	}
	out := problem(http.StatusMethodNotAllowed, "method", "That is not how it is asked", "Use "+strings.Join(allowed, " or ")+".")
	out.allow = strings.Join(allowed, ", ")
	return out
}

// answer is one whole answer. Streams write for themselves.
type answer struct {
	status int
	kind   string // of the content
	body   []byte
	etag   string
	allow  string
	policy string // instead of the content security policy of pages
	save   string // name of a file to save it as
	retry  int    // seconds after which it makes sense to ask again; 0: none
	again  bool   // nothing was done: the same request may be carried out anew
}

// answerWithin is how long a client may take for an answer.
const answerWithin = 5 * time.Second

const jsonKind = "application/json"

func (a answer) write(w http.ResponseWriter) {
	h := w.Header()
	h.Set("Content-Type", a.kind)
	h.Set("Content-Length", strconv.Itoa(len(a.body)))
	if a.etag != "" {
		h.Set("ETag", `"`+a.etag+`"`)
	}
	if a.allow != "" {
		h.Set("Allow", a.allow)
	}
	if a.policy != "" {
		h.Set("Content-Security-Policy", a.policy)
	}
	if a.save != "" {
		h.Set("Content-Disposition", `attachment; filename="`+a.save+`"`)
	}
	if a.retry > 0 {
		h.Set("Retry-After", strconv.Itoa(a.retry))
	}
	w.WriteHeader(a.status)
	_, _ = w.Write(a.body) // a client that has gone needs no answer
}

// found is a good answer.
func found(v any) answer {
	body, err := json.Marshal(v)
	if err != nil {
		return bug()
	}
	return answer{status: http.StatusOK, kind: jsonKind, body: body}
}

// get serves what only looks.
func get(f func(*API, *http.Request) answer) func(*API) http.HandlerFunc {
	return func(a *API) http.HandlerFunc {
		return func(w http.ResponseWriter, r *http.Request) { f(a, r).write(w) }
	}
}

// post serves what does something: one JSON object, carried out once a key.
func post(f func(*API, *http.Request, []byte) answer) func(*API) http.HandlerFunc {
	return func(a *API) http.HandlerFunc {
		return func(w http.ResponseWriter, r *http.Request) {
			body, bad := read(w, r)
			if bad != nil {
				bad.write(w)
				return
			}
			out := a.memory.once(r, a.o.Now(), body, func() answer { return f(a, r, body) })
			// The server's deadline counts from the request on; a rehearsal on a
			// slow board may take most of it.
			_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(answerWithin))
			out.write(w)
		}
	}
}

func (a *API) openapi(*http.Request) answer {
	return answer{status: http.StatusOK, kind: jsonKind, body: document}
}
