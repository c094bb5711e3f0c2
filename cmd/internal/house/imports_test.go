package house

import (
	"fmt"
	"go/ast"
	"go/token"
	"slices"
	"strings"
	"testing"
)

func TestEveryPackageImportsOnlyWhatItsRowNames(t *testing.T) {
	for _, c := range judge(house(t), policy) {
		t.Error(c)
	}
}

func TestEachRowIsOneAndEveryExceptionHasAReason(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range policy {
		if seen[r.path] {
			t.Errorf("%s has two rows", r.path)
		}
		seen[r.path] = true
		if (r.outside != "" || r.clock || r.hands != "") && r.why == "" {
			t.Errorf("%s: write down why it is an exception", r.path)
		}
		if r.clock && r.kind == pure {
			t.Errorf("%s: a pure package has no clock", r.path)
		}
	}
}

// judge returns a complaint for each rule that is broken.
func judge(all []*source, rows []row) []string {
	var bad []string
	byPath := map[string]row{}
	for _, r := range rows {
		byPath[r.path] = r
	}
	graph := map[string][]string{} // direct imports within the house
	for _, s := range all {
		if s.test {
			bad = append(bad, sleeps(s)...)
			continue
		}
		r, ok := byPath[s.dir]
		if !ok {
			bad = append(bad, fmt.Sprintf("%s is not in the table: add its row to policy_test.go", s.dir))
			graph[s.dir] = append(graph[s.dir], within(s)...)
			continue
		}
		bad = append(bad, direct(s, r)...)
		bad = append(bad, touch(s, r)...)
		bad = append(bad, state(s, r)...)
		graph[s.dir] = append(graph[s.dir], within(s)...)
	}
	for _, r := range rows {
		if _, ok := graph[r.path]; !ok && !r.coming {
			bad = append(bad, fmt.Sprintf("%s has a row but no Go file: take the row out", r.path))
		}
	}
	bad = append(bad, forbidden(graph)...)
	slices.Sort(bad)
	return slices.Compact(bad)
}

// within are the packages of the house that a file imports.
func within(s *source) []string {
	var mine []string
	for p := range s.imports() {
		if rest, ok := strings.CutPrefix(p, module+"/"); ok {
			mine = append(mine, rest)
		}
	}
	return mine
}

// direct holds imports of the house, and of other modules, to the row.
func direct(s *source, r row) (bad []string) {
	house := strings.Fields(r.house)
	outside := strings.Fields(r.outside)
	for _, p := range within(s) {
		if !slices.Contains(house, p) {
			bad = append(bad, fmt.Sprintf("%s/%s imports %s, which its row does not name", s.dir, s.name, p))
		}
	}
	for p := range s.imports() {
		first, _, _ := strings.Cut(p, "/")
		if strings.Contains(first, ".") && !covered(outside, p) {
			bad = append(bad, fmt.Sprintf("%s/%s imports %s, which is not of the standard library", s.dir, s.name, p))
		}
	}
	return bad
}

// covered tells whether a path is named, itself or by a module's path and /...
func covered(named []string, p string) bool {
	return slices.ContainsFunc(named, func(n string) bool {
		stem, whole := strings.CutSuffix(n, "/...")
		return p == n || whole && strings.HasPrefix(p, stem+"/")
	})
}

// touch holds a file to its kind: what of the outside it may touch.
func touch(s *source, r row) (bad []string) {
	complain := func(n ast.Node, format string, args ...any) {
		bad = append(bad, s.at(n)+": "+fmt.Sprintf(format, args...))
	}
	for name, n := range s.taken("time") {
		switch {
		case r.kind == pure && !slices.Contains(durations, name):
			complain(n, "time.%s in a pure package; time comes in as a Duration", name)
		case r.kind == shell && slices.Contains(strings.Fields(r.hands), name) && !s.calls("time", name):
		case r.kind == shell && !r.clock && slices.Contains(clocks, name):
			complain(n, "time.%s in a package that may not read a clock", name)
		}
	}
	for name, n := range s.taken("math/rand/v2") {
		if !slices.Contains(generators, name) {
			complain(n, "rand.%s draws from the global generator; use one with a seed", name)
		}
	}
	for _, spec := range s.file.Imports {
		p := strings.Trim(spec.Path.Value, "`\"")
		if spec.Name != nil && spec.Name.Name == "." {
			complain(spec, "dot import of %s", p)
		}
		if r.kind == pure && !slices.Contains(strings.Fields(r.outside), p) && touchesWorld(p) {
			complain(spec, "a pure package imports %s", p)
		}
	}
	return bad
}

func touchesWorld(p string) bool {
	return slices.ContainsFunc(world, func(w string) bool { return p == w || strings.HasPrefix(p, w+"/") })
}

// state finds what would make a package remember: init functions, variables
// that begin empty, and, in pure packages, goroutines and channels.
func state(s *source, r row) (bad []string) {
	for _, d := range s.file.Decls {
		switch d := d.(type) {
		case *ast.FuncDecl:
			if d.Recv == nil && d.Name.Name == "init" {
				bad = append(bad, s.at(d)+": func init runs before anyone asked; give the table its value where it is declared")
			}
		case *ast.GenDecl:
			if d.Tok == token.VAR && d.Doc != nil && strings.Contains(comment(d.Doc), "//go:embed") {
				continue // its value is the embedded file
			}
			bad = append(bad, emptyVariables(s, d)...)
		}
	}
	if r.kind == shell {
		return bad
	}
	ast.Inspect(s.file, func(n ast.Node) bool {
		switch n.(type) {
		case *ast.GoStmt, *ast.ChanType, *ast.SelectStmt:
			bad = append(bad, s.at(n)+": a goroutine or channel in a pure package")
		}
		return true
	})
	return bad
}

func emptyVariables(s *source, d *ast.GenDecl) (bad []string) {
	if d.Tok != token.VAR {
		return nil
	}
	for _, spec := range d.Specs {
		v, ok := spec.(*ast.ValueSpec)
		if ok && len(v.Values) == 0 {
			bad = append(bad, s.at(v)+": a package variable that begins empty is hidden state; hand it in")
		}
	}
	return bad
}

func comment(g *ast.CommentGroup) string {
	var b strings.Builder
	for _, c := range g.List {
		b.WriteString(c.Text + "\n")
	}
	return b.String()
}

// sleeps finds tests that wait for real time.
func sleeps(s *source) (bad []string) {
	if n, ok := s.taken("time")["Sleep"]; ok {
		bad = append(bad, s.at(n)+": a sleep in a test")
	}
	return bad
}

// forbidden follows the graph to what must never be reached.
func forbidden(graph map[string][]string) (bad []string) {
	for _, rule := range never {
		reached := reach(graph, rule.path)
		for _, other := range strings.Fields(rule.others) {
			if way, ok := reached[other]; ok {
				bad = append(bad, fmt.Sprintf("%s must never reach %s (%s), but does: %s", rule.path, other, rule.why, way))
			}
		}
	}
	return bad
}

// reach returns every package that a package imports, directly or through
// others, with the way to it.
func reach(graph map[string][]string, from string) map[string]string {
	ways := map[string]string{}
	queue := []string{from}
	for len(queue) > 0 {
		at := queue[0]
		queue = queue[1:]
		way := ways[at]
		if at == from {
			way = from
		}
		for _, next := range graph[at] {
			if _, seen := ways[next]; !seen && next != from {
				ways[next] = way + " > " + next
				queue = append(queue, next)
			}
		}
	}
	return ways
}
