package schema

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
)

// Sources are the comments of Go packages, read as they are asked for.
type Sources struct {
	Root   string // directory of the module
	Module string // its path
	read   map[string]*comments
}

// comments are those of one package.
type comments struct {
	types   map[string]string            // of a type
	fields  map[string]map[string]string // of a field, by type
	tags    map[string]map[string]string // JSON name of a field, by type
	choices map[string][]choice          // constants of a named string
}

type choice struct{ value, about string }

// about is the comment of a type, without its name in front.
func (s *Sources) about(t reflect.Type) string {
	text := s.of(t.PkgPath()).types[t.Name()]
	for _, verb := range []string{" is ", " are ", " says "} {
		if rest, ok := strings.CutPrefix(text, t.Name()+verb); ok {
			if verb == " says " {
				rest = "says " + rest
			}
			return sentence(rest)
		}
	}
	return text
}

// comment is the comment of a field, other fields called by their names in JSON.
func (s *Sources) comment(t reflect.Type, name string) string {
	c := s.of(t.PkgPath())
	text := c.fields[t.Name()][name]
	if rest, ok := strings.CutPrefix(text, name+" is "); ok {
		text = rest
	}
	return goName.ReplaceAllStringFunc(text, func(word string) string {
		if tag := c.tags[t.Name()][word]; tag != "" && tag != "-" && tag != strings.ToLower(word) {
			return tag
		}
		return word
	})
}

var goName = regexp.MustCompile(`\b[A-Z][A-Za-z0-9]*\b`)

// choices are the values that a named string is declared with: its constants, or
// else what a list of its package holds.
func (s *Sources) choices(t reflect.Type) []choice {
	if t.PkgPath() == "" {
		return nil
	}
	return s.of(t.PkgPath()).choices[t.Name()]
}

func (s *Sources) of(pkg string) *comments {
	if c := s.read[pkg]; c != nil {
		return c
	}
	c := &comments{map[string]string{}, map[string]map[string]string{}, map[string]map[string]string{}, map[string][]choice{}}
	if s.read == nil {
		s.read = map[string]*comments{}
	}
	s.read[pkg] = c
	dir, ok := strings.CutPrefix(pkg, s.Module)
	if !ok {
		return c
	}
	files, err := filepath.Glob(filepath.Join(s.Root, filepath.FromSlash(dir), "*.go"))
	if err != nil || len(files) == 0 {
		panic(fmt.Sprint("schema: no sources of ", pkg, err))
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ParseComments)
		if err != nil {
			panic(err)
		}
		for _, d := range f.Decls {
			if g, ok := d.(*ast.GenDecl); ok {
				c.declared(g)
			}
		}
	}
	return c
}

func (c *comments) declared(g *ast.GenDecl) {
	for _, spec := range g.Specs {
		switch spec := spec.(type) {
		case *ast.TypeSpec:
			c.types[spec.Name.Name] = joined(spec.Doc, spec.Comment)
			if len(g.Specs) == 1 {
				c.types[spec.Name.Name] = joined(g.Doc, spec.Doc, spec.Comment)
			}
			if x, ok := spec.Type.(*ast.StructType); ok {
				c.structure(spec.Name.Name, x)
			}
		case *ast.ValueSpec:
			c.value(g.Tok, spec)
		}
	}
}

func (c *comments) structure(name string, x *ast.StructType) {
	c.fields[name], c.tags[name] = map[string]string{}, map[string]string{}
	for _, f := range x.Fields.List {
		for _, n := range f.Names {
			c.fields[name][n.Name] = joined(f.Doc, f.Comment)
			if f.Tag != nil {
				raw, _ := strconv.Unquote(f.Tag.Value)
				tag, _, _ := strings.Cut(reflect.StructTag(raw).Get("json"), ",")
				c.tags[name][n.Name] = tag
			}
		}
	}
}

// value takes constants of a named string, and of a list of such strings its entries.
func (c *comments) value(tok token.Token, spec *ast.ValueSpec) {
	for _, v := range spec.Values {
		if of, ok := spec.Type.(*ast.Ident); ok && tok == token.CONST {
			c.choice(of.Name, v, joined(spec.Doc, spec.Comment))
		}
		list, ok := v.(*ast.CompositeLit)
		if !ok || tok != token.VAR {
			continue
		}
		if of, ok := list.Type.(*ast.ArrayType); ok {
			if name, ok := of.Elt.(*ast.Ident); ok {
				for _, e := range list.Elts {
					c.choice(name.Name, e, "")
				}
			}
		}
	}
}

func (c *comments) choice(of string, v ast.Expr, about string) {
	if lit, ok := v.(*ast.BasicLit); ok && lit.Kind == token.STRING && of != "string" {
		text, _ := strconv.Unquote(lit.Value)
		c.choices[of] = append(c.choices[of], choice{text, about})
	}
}

func joined(groups ...*ast.CommentGroup) string {
	var parts []string
	for _, g := range groups {
		if t := strings.Join(strings.Fields(g.Text()), " "); t != "" {
			parts = append(parts, t)
		}
	}
	return strings.Join(parts, "; ")
}
