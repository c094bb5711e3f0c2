package api

import (
	"bytes"
	"encoding/json"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// promise is openapi.json as the tests hold the handlers to it: JSON Schema
// 2020-12 by a validator that knows nothing of this package.
type promise struct {
	mu       sync.Mutex
	root     map[string]any
	compiler *jsonschema.Compiler
	compiled map[string]*jsonschema.Schema
	seen     map[string]bool // "operation status"
}

const documentURL = "http://test.invalid/openapi.json"

func newPromise() *promise {
	root, err := jsonschema.UnmarshalJSON(bytes.NewReader(document))
	if err != nil {
		panic(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	c.AssertFormat()
	if err := c.AddResource(documentURL, root); err != nil {
		panic(err)
	}
	return &promise{root: root.(map[string]any), compiler: c, compiled: map[string]*jsonschema.Schema{}, seen: map[string]bool{}}
}

// promised is shared, so that what was seen adds up over all tests.
var promised = newPromise()

// at follows a path of keys through the document, and references.
func (p *promise) at(keys ...string) (any, string) {
	var here any = p.root
	pointer := ""
	for _, k := range keys {
		here, pointer = p.deref(here, pointer)
		object, ok := here.(map[string]any)
		if !ok {
			return nil, ""
		}
		if here, ok = object[k]; !ok {
			return nil, ""
		}
		pointer += "/" + strings.ReplaceAll(strings.ReplaceAll(k, "~", "~0"), "/", "~1")
	}
	return p.deref(here, pointer)
}

func (p *promise) deref(here any, pointer string) (any, string) {
	object, ok := here.(map[string]any)
	if !ok {
		return here, pointer
	}
	ref, ok := object["$ref"].(string)
	if !ok || !strings.HasPrefix(ref, "#/components/") || strings.HasPrefix(ref, "#/components/schemas/") {
		return here, pointer
	}
	return p.at(strings.Split(ref[2:], "/")...)
}

func (p *promise) schema(pointer string) (*jsonschema.Schema, error) {
	if s := p.compiled[pointer]; s != nil {
		return s, nil
	}
	s, err := p.compiler.Compile(documentURL + "#" + (&url.URL{Path: pointer}).EscapedPath())
	if err == nil {
		p.compiled[pointer] = s
	}
	return s, err
}

// fits validates a JSON text against the schema at a path of keys.
func (p *promise) fits(text []byte, keys ...string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	_, pointer := p.at(keys...)
	s, err := p.schema(pointer)
	if err != nil {
		return err
	}
	value, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		return err
	}
	return s.Validate(value)
}

// pathOf is the path of the document that a request goes to; "" if none.
func (p *promise) pathOf(asked string) string {
	paths, _ := p.at("paths")
	best := ""
	for path := range paths.(map[string]any) {
		want, got := strings.Split(path, "/"), strings.Split(asked, "/")
		same := func(w, g string) bool { return w == g || w == "{id}" && g != "" }
		if slices.EqualFunc(want, got, same) && (best == "" || !strings.Contains(path, "{")) {
			best = path
		}
	}
	return best
}

// hold checks one request and its answer against the document.
func (p *promise) hold(t testing.TB, r *http.Request, body string, w *httptest.ResponseRecorder) {
	t.Helper()
	path, method := p.pathOf(r.URL.Path), strings.ToLower(r.Method)
	if method == "head" {
		method = "get"
	}
	status := strconv.Itoa(w.Code)
	if path == "" || w.Code == http.StatusMethodNotAllowed {
		p.holdProblem(t, w)
		return
	}
	p.mu.Lock()
	answer, _ := p.at("paths", path, method, "responses", status, "content")
	p.seen[method+" "+path+" "+status] = true
	p.mu.Unlock()
	media, _, _ := strings.Cut(w.Header().Get("Content-Type"), ";")
	contents, ok := answer.(map[string]any)
	if !ok || contents[media] == nil {
		t.Errorf("%s %s: the document knows no %s with %q: %s", method, path, status, media, w.Body)
		return
	}
	if strings.HasSuffix(media, "json") && r.Method != http.MethodHead {
		if err := p.fits(w.Body.Bytes(), "paths", path, method, "responses", status, "content", media, "schema"); err != nil {
			t.Errorf("%s %s %s: %v\n%s", method, path, status, err, w.Body)
		}
	}
	if w.Code >= 400 {
		p.holdProblem(t, w)
	}
	p.holdHeaders(t, path, method, status, w)
	if request, _ := p.at("paths", path, method, "requestBody"); request != nil && w.Code < 300 && body != "" && json.Valid([]byte(body)) {
		if err := p.fits([]byte(body), "paths", path, method, "requestBody", "content", jsonKind, "schema"); err != nil {
			t.Errorf("%s %s: taken although the document forbids it: %v\n%s", method, path, err, body)
		}
	}
}

// holdProblem checks what every error has: a type, and the status twice alike.
func (p *promise) holdProblem(t testing.TB, w *httptest.ResponseRecorder) {
	t.Helper()
	if got := w.Header().Get("Content-Type"); got != problemKind {
		t.Errorf("%d as %q", w.Code, got)
	}
	if err := p.fits(w.Body.Bytes(), "components", "schemas", "Problem"); err != nil {
		t.Errorf("%v\n%s", err, w.Body)
	}
	var said Problem
	if err := json.Unmarshal(w.Body.Bytes(), &said); err != nil || said.Status != w.Code {
		t.Errorf("status %d, in the body %d", w.Code, said.Status)
	}
}

// holdHeaders checks the headers that the document names.
func (p *promise) holdHeaders(t testing.TB, path, method, status string, w *httptest.ResponseRecorder) {
	t.Helper()
	headers, _ := p.at("paths", path, method, "responses", status, "headers")
	all, _ := headers.(map[string]any)
	for name := range all {
		value := w.Header().Get(name)
		if value == "" && name == "Retry-After" {
			continue // where it is known
		}
		text, _ := json.Marshal(value)
		if name == "Retry-After" {
			text = []byte(value)
		}
		if err := p.fits(text, "paths", path, method, "responses", status, "headers", name, "schema"); err != nil {
			t.Errorf("%s of %s: %v", name, path, err)
		}
	}
}

func TestEveryRouteIsInTheDocumentAndTheOtherWayRound(t *testing.T) {
	var mounted, named []string
	for _, r := range routes() {
		mounted = append(mounted, strings.ToLower(r.method)+" "+Prefix+r.path)
	}
	paths, _ := promised.at("paths")
	for path, item := range paths.(map[string]any) {
		for method := range item.(map[string]any) {
			if method != "parameters" {
				named = append(named, method+" "+path)
			}
		}
	}
	slices.Sort(mounted)
	slices.Sort(named)
	if !slices.Equal(mounted, named) {
		t.Errorf("mounted: %q\nnamed:   %q", mounted, named)
	}
	if len(mounted) < 14 {
		t.Errorf("%d routes", len(mounted))
	}
}

func TestTheDocumentIsWholeInItself(t *testing.T) {
	if promised.root["openapi"] != "3.1.0" {
		t.Error(promised.root["openapi"])
	}
	used := map[string]bool{}
	operations := map[string]bool{}
	var walk func(v any)
	walk = func(v any) {
		switch v := v.(type) {
		case map[string]any:
			if ref, ok := v["$ref"].(string); ok {
				used[ref] = true
				if target, _ := promised.at(strings.Split(strings.TrimPrefix(ref, "#/"), "/")...); target == nil {
					t.Errorf("%s leads nowhere", ref)
				}
			}
			if alternatives, ok := v["security"].([]any); ok {
				for _, one := range alternatives {
					for name := range one.(map[string]any) { // schemes are meant by name
						used["#/components/securitySchemes/"+name] = true
					}
				}
			}
			if id, ok := v["operationId"].(string); ok {
				if operations[id] {
					t.Errorf("%s stands there twice", id)
				}
				operations[id] = true
			}
			for _, inner := range v {
				walk(inner)
			}
		case []any:
			for _, inner := range v {
				walk(inner)
			}
		}
	}
	walk(promised.root)
	components, _ := promised.at("components")
	for kind, all := range components.(map[string]any) {
		for name := range all.(map[string]any) {
			if !used["#/components/"+kind+"/"+name] {
				t.Errorf("%s %s is used nowhere", kind, name)
			}
			if kind == "schemas" {
				if _, err := promised.schema("/components/schemas/" + name); err != nil {
					t.Errorf("%s: %v", name, err)
				}
			}
		}
	}
}

func TestTheDocumentNamesEveryWish(t *testing.T) {
	list, _ := promised.at("components", "schemas", "Wish", "enum")
	named := map[string]bool{}
	for _, w := range list.([]any) {
		named[w.(string)] = true
	}
	if all := wishes(); len(all) != len(named) {
		t.Errorf("%d wishes, %d named", len(all), len(named))
	}
	for w := range wishes() {
		if !named[w] {
			t.Errorf("%s is not named", w)
		}
	}
}

// rare are answers that no test can bring about: they need a fault inside.
var rare = map[string]bool{"500": true}

// unseen are the answers of the document that no test has met.
func (p *promise) unseen() []string {
	var missed []string
	paths, _ := p.at("paths")
	for path, item := range paths.(map[string]any) {
		for method := range item.(map[string]any) {
			answers, _ := p.at("paths", path, method, "responses")
			if method == "parameters" {
				continue
			}
			for status := range maps.Keys(answers.(map[string]any)) {
				if !p.seen[method+" "+path+" "+status] && !rare[status] {
					missed = append(missed, method+" "+path+" "+status)
				}
			}
		}
	}
	slices.Sort(missed)
	return missed
}
