package house

import (
	"fmt"
	"go/ast"
	"strings"
	"testing"
	"testing/fstest"
)

// What can be read in one go.
const (
	functionLines = 70  // from the func to its closing brace
	fileLines     = 450 // comments and blank lines count
)

func TestNothingIsTooLongToRead(t *testing.T) {
	for _, c := range tooLong(house(t)) {
		t.Error(c)
	}
}

func TestEveryExportedNameIsExplained(t *testing.T) {
	for _, c := range unexplained(house(t)) {
		t.Error(c)
	}
}

// tooLong finds files and functions over the limits; a literal function counts
// towards the one it stands in.
func tooLong(all []*source) (bad []string) {
	for _, s := range all {
		if s.lines > fileLines {
			bad = append(bad, fmt.Sprintf("%s/%s has %d lines, more than %d: split it by subject", s.dir, s.name, s.lines, fileLines))
		}
		for _, d := range s.file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok {
				continue
			}
			lines := s.fset.Position(f.End()).Line - s.fset.Position(f.Pos()).Line + 1
			if lines > functionLines {
				bad = append(bad, fmt.Sprintf("%s: %s has %d lines, more than %d", s.at(f), f.Name.Name, lines, functionLines))
			}
		}
	}
	return bad
}

// unexplained finds exported names without a comment: their own, or that of the
// group they stand in, or the one at the end of the line.
func unexplained(all []*source) (bad []string) {
	for _, s := range all {
		if s.test || s.file.Name.Name == "main" {
			continue
		}
		for _, d := range s.file.Decls {
			switch d := d.(type) {
			case *ast.FuncDecl:
				if d.Name.IsExported() && d.Doc == nil && exportedReceiver(d) && !standard[d.Name.Name] {
					bad = append(bad, fmt.Sprintf("%s: %s has no comment", s.at(d), d.Name.Name))
				}
			case *ast.GenDecl:
				for _, name := range bare(d) {
					bad = append(bad, fmt.Sprintf("%s: %s has no comment", s.at(name), name.Name))
				}
			}
		}
	}
	return bad
}

// standard are methods whose meaning an interface of the standard library gives.
var standard = map[string]bool{"String": true, "Error": true, "Unwrap": true, "Write": true, "Read": true, "Close": true, "MarshalJSON": true}

func exportedReceiver(f *ast.FuncDecl) bool {
	if f.Recv == nil {
		return true
	}
	t := f.Recv.List[0].Type
	if star, ok := t.(*ast.StarExpr); ok {
		t = star.X
	}
	name, ok := t.(*ast.Ident)
	return !ok || name.IsExported()
}

// bare are the exported names of a declaration that nothing explains.
func bare(d *ast.GenDecl) (names []*ast.Ident) {
	if d.Doc != nil {
		return nil
	}
	for _, spec := range d.Specs {
		switch v := spec.(type) {
		case *ast.TypeSpec:
			if v.Doc == nil && v.Comment == nil && v.Name.IsExported() {
				names = append(names, v.Name)
			}
		case *ast.ValueSpec:
			for _, n := range v.Names {
				if v.Doc == nil && v.Comment == nil && n.IsExported() {
					names = append(names, n)
				}
			}
		}
	}
	return names
}

func TestWhatIsTooLongOrUnexplainedIsFound(t *testing.T) {
	long := "package a\n\n// F is long.\nfunc F() {\n" + strings.Repeat("\t_ = 1\n", functionLines-2) + "}\n" // just within
	files := fstest.MapFS{
		"a/within.go": &fstest.MapFile{Data: []byte(long)},
		"a/long.go":   &fstest.MapFile{Data: []byte(strings.Replace(long, "{\n", "{\n\t_ = 1\n", 1))},
		"a/file.go":   &fstest.MapFile{Data: []byte("package a\n" + strings.Repeat("\n", fileLines))},
		"a/bare.go":   &fstest.MapFile{Data: []byte("package a\n\nfunc F() {}\n\ntype T int\n\nfunc (t *T) M() {}\n\nvar V = 1\n\nfunc (T) String() string { return \"\" }\n")},
	}
	all, err := read(files)
	if err != nil {
		t.Fatal(err)
	}
	if got := tooLong(all); len(got) != 2 || !strings.HasPrefix(got[0], "a/file.go has 451 lines") || !strings.HasPrefix(got[1], "a/long.go:4: F has 71 lines") {
		t.Errorf("too long: %q", got)
	}
	if got := unexplained(all); len(got) != 4 {
		t.Errorf("unexplained: %q", got)
	}
}
