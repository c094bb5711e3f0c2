package house

import (
	"bytes"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"strconv"
	"strings"
	"testing"
)

// source is one Go file of the house.
type source struct {
	dir, name string // dir without the module; "." is the top
	test      bool
	lines     int
	fset      *token.FileSet
	file      *ast.File
}

// at is where a node stands, as file:line.
func (s *source) at(n ast.Node) string {
	return path.Join(s.dir, s.name) + ":" + strconv.Itoa(s.fset.Position(n.Pos()).Line)
}

// imports are the paths a file imports, with the name each goes by.
func (s *source) imports() map[string]string {
	all := map[string]string{}
	for _, spec := range s.file.Imports {
		p, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			continue
		}
		name := path.Base(p)
		if strings.HasPrefix(name, "v") && strings.Trim(name[1:], "0123456789") == "" && name != "v" {
			name = path.Base(path.Dir(p)) // math/rand/v2 is rand
		}
		if spec.Name != nil {
			name = spec.Name.Name
		}
		all[p] = name
	}
	return all
}

// taken are the names a file takes from an imported package, with their place.
func (s *source) taken(importPath string) map[string]ast.Node {
	name, ok := s.imports()[importPath]
	if !ok {
		return nil
	}
	names := map[string]ast.Node{}
	ast.Inspect(s.file, func(n ast.Node) bool {
		if sel, ok := n.(*ast.SelectorExpr); ok {
			if x, ok := sel.X.(*ast.Ident); ok && x.Name == name {
				names[sel.Sel.Name] = sel
			}
		}
		return true
	})
	return names
}

// calls tells whether a file calls a function of an imported package, rather
// than handing it on.
func (s *source) calls(importPath, function string) (found bool) {
	name := s.imports()[importPath]
	ast.Inspect(s.file, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok {
			return true
		}
		if sel, ok := call.Fun.(*ast.SelectorExpr); ok && sel.Sel.Name == function {
			x, ok := sel.X.(*ast.Ident)
			found = found || ok && x.Name == name
		}
		return true
	})
	return found
}

// read parses all Go files below a directory, whatever system or processor they
// are for. A directory with a go.mod of its own is another house.
func read(fsys fs.FS) ([]*source, error) {
	var all []*source
	err := fs.WalkDir(fsys, ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if p != "." && (strings.HasPrefix(d.Name(), ".") || exists(fsys, path.Join(p, "go.mod"))) {
				return fs.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(p, ".go") {
			return nil
		}
		text, err := fs.ReadFile(fsys, p)
		if err != nil {
			return err
		}
		fset := token.NewFileSet()
		file, err := parser.ParseFile(fset, p, text, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		all = append(all, &source{
			dir: path.Dir(p), name: path.Base(p), test: strings.HasSuffix(p, "_test.go"),
			lines: bytes.Count(text, []byte("\n")), fset: fset, file: file,
		})
		return nil
	})
	return all, err
}

func exists(fsys fs.FS, p string) bool {
	_, err := fs.Stat(fsys, p)
	return err == nil
}

// top is the root of the house: the tests of a package run in its directory.
const top = "../../.."

// house reads the real one.
func house(t *testing.T) []*source {
	t.Helper()
	all, err := read(os.DirFS(top))
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 50 {
		t.Fatalf("only %d Go files found: the house is not where it is looked for", len(all))
	}
	return all
}
