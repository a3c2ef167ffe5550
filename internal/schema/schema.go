// Package schema makes JSON Schemas (draft 2020-12) of tagged Go values. What a
// property means is the comment of its field in the source, so that a value is
// described in one place. It is for the test that keeps docs/schemas.
package schema

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"time"
	"unicode"
)

// Answer is one published form of JSON.
type Answer struct {
	Name    string // firstcue.NAME/1
	Title   string
	Command string // that writes it
	Forms   []any  // a value of each type that it may have
}

// rule is said of every schema.
const rule = "Fields may be added under this schema; none is renamed, removed or given another type. " +
	"Numbers that are not known are null, never 0."

// Maker makes schemas. Types are what it can't see in a type itself.
type Maker struct {
	Sources *Sources
	// Special are types that write themselves, by what they write.
	Special map[reflect.Type]map[string]any
	// Nullable are structs that write null for nothing.
	Nullable []reflect.Type
	// Open are named strings that take more than the values listed beside them.
	Open []reflect.Type

	defs  object // of the schema that is being made
	names map[reflect.Type]string
	bad   []string
}

// Make returns the schema of an answer, indented. It fails where a property has no
// description.
func (m *Maker) Make(a Answer) ([]byte, error) {
	m.defs, m.names, m.bad = nil, map[reflect.Type]string{}, nil
	id := "firstcue." + a.Name + "/1"
	own := member{"schema", object{{"description", "The name of this form."}, {"const", id}}}
	about := "What " + a.Command + " writes. "
	root := object{{"$schema", "https://json-schema.org/draft/2020-12/schema"}, {"$id", id}, {"title", a.Title}}
	var body object
	if len(a.Forms) == 1 {
		t := reflect.TypeOf(a.Forms[0])
		properties, required := m.properties(t, own)
		about += sentence(m.Sources.about(t)) + " "
		body = object{{"properties", properties}, {"required", required}}
	} else {
		var forms []any
		for _, f := range a.Forms {
			t := reflect.TypeOf(f)
			properties, required := m.properties(t, own)
			m.define(t, object{{"description", m.Sources.about(t)}, {"type", "object"}, {"properties", properties}, {"required", required}})
			forms = append(forms, object{{"$ref", "#/$defs/" + m.names[t]}})
		}
		body = object{{"properties", object{own}}, {"required", []string{"schema"}}, {"oneOf", forms}}
	}
	root = append(append(root, member{"description", about + rule}, member{"type", "object"}), body...)
	if len(m.defs) > 0 {
		slices.SortFunc(m.defs, func(a, b member) int { return strings.Compare(a.key, b.key) })
		root = append(root, member{"$defs", m.defs})
	}
	if len(m.bad) > 0 {
		return nil, fmt.Errorf("%s: no description of %s", a.Name, strings.Join(m.bad, ", "))
	}
	raw, err := plain(root)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = json.Indent(&out, raw, "", "  ")
	out.WriteByte('\n')
	return out.Bytes(), err
}

// field is one property as encoding/json finds it: the one that lies least deep wins.
type field struct {
	name     string
	optional bool
	depth    int
	in       reflect.Type
	f        reflect.StructField
}

func fields(t reflect.Type, depth int) []field {
	var out []field
	for i := range t.NumField() {
		f := t.Field(i)
		tag, rest, _ := strings.Cut(f.Tag.Get("json"), ",")
		if f.Anonymous && tag == "" && f.Type.Kind() == reflect.Struct {
			out = append(out, fields(f.Type, depth+1)...)
			continue
		}
		if tag == "-" || tag == "" || !f.IsExported() {
			continue
		}
		out = append(out, field{tag, strings.Contains(rest, "omitempty"), depth, t, f})
	}
	return out
}

// leftOut is the type of a field that only hides one of an embedded value.
var leftOut = reflect.TypeFor[*struct{}]()

func (m *Maker) properties(t reflect.Type, own ...member) (object, []string) {
	out := slices.Clone(object(own))
	required := []string{}
	for _, o := range own {
		required = append(required, o.key)
	}
	all := fields(t, 0)
	for _, f := range all {
		hidden := slices.ContainsFunc(all, func(g field) bool { return g.name == f.name && g.depth < f.depth })
		if hidden || f.f.Type == leftOut || out.has(f.name) {
			continue
		}
		about := cmp.Or(words[f.in.Name()+"."+f.name], m.Sources.comment(f.in, f.f.Name), words[f.name])
		if about == "" {
			m.bad = append(m.bad, f.in.String()+"."+f.f.Name+" ("+f.name+")")
		}
		out = append(out, member{f.name, append(object{{"description", sentence(about)}}, m.value(f.f.Type, about)...)})
		if !f.optional {
			required = append(required, f.name)
		}
	}
	return out, required
}

// value is the schema of a type, as far as the comment of its field settles it.
func (m *Maker) value(t reflect.Type, about string) object {
	if s, ok := m.Special[t]; ok {
		var out object
		for _, k := range []string{"type", "format"} {
			if s[k] != nil {
				out = append(out, member{k, s[k]})
			}
		}
		return out
	}
	if slices.Contains(m.Nullable, t) {
		return orNull(m.structure(t))
	}
	switch {
	case t == reflect.TypeFor[time.Time]():
		return object{{"type", "string"}, {"format", "date-time"}}
	case t.Kind() != reflect.Interface && t.Implements(reflect.TypeFor[json.Marshaler]()):
		panic("schema: " + t.String() + " writes itself; say what")
	}
	switch t.Kind() {
	case reflect.Pointer:
		return orNull(m.value(t.Elem(), about))
	case reflect.Struct:
		return m.structure(t)
	case reflect.Slice:
		return object{{"type", "array"}, {"items", m.value(t.Elem(), about)}}
	case reflect.Bool:
		return object{{"type", "boolean"}}
	case reflect.Int, reflect.Int64:
		return object{{"type", "integer"}}
	case reflect.Float64:
		return object{{"type", "number"}}
	case reflect.String:
		return m.text(t, about)
	}
	panic("schema: no form for " + t.String())
}

func (m *Maker) text(t reflect.Type, about string) object {
	choices := m.Sources.choices(t)
	if len(choices) == 0 || slices.Contains(m.Open, t) {
		if strings.Contains(about, "RFC 3339") {
			return object{{"type", "string"}, {"format", "date-time"}}
		}
		return object{{"type", "string"}}
	}
	if m.names[t] == "" {
		var one []any
		for _, c := range choices {
			x := object{{"const", c.value}}
			if c.about != "" {
				x = append(x, member{"description", sentence(c.about)})
			}
			one = append(one, x)
		}
		m.define(t, object{{"description", m.Sources.about(t)}, {"oneOf", one}})
	}
	ref := object{{"$ref", "#/$defs/" + m.names[t]}}
	if strings.Contains(about, `"" =`) || strings.Contains(m.Sources.about(t), "Empty means") {
		return object{{"anyOf", []any{ref, object{{"const", ""}}}}}
	}
	return ref
}

func (m *Maker) structure(t reflect.Type) object {
	if m.names[t] == "" {
		m.define(t, nil) // first its name: it may hold itself
		properties, required := m.properties(t)
		for i := range m.defs {
			if m.defs[i].key == m.names[t] {
				m.defs[i].value = object{{"description", m.Sources.about(t)}, {"type", "object"}, {"properties", properties}, {"required", required}}
			}
		}
	}
	return object{{"$ref", "#/$defs/" + m.names[t]}}
}

// define gives a type a name of its own in the schema.
func (m *Maker) define(t reflect.Type, body object) {
	name := []rune(strings.TrimPrefix(strings.TrimSuffix(t.Name(), "JSON"), "json"))
	name[0] = unicode.ToUpper(name[0])
	key := string(name)
	if m.defs.has(key) {
		pkg := t.PkgPath()
		key = pkg[strings.LastIndex(pkg, "/")+1:] + key
	}
	m.names[t] = key
	m.defs = append(m.defs, member{key, body})
}

func orNull(o object) object {
	if len(o) == 1 && o[0].key == "type" {
		return object{{"type", []any{o[0].value, "null"}}}
	}
	if len(o) == 2 && o[0].key == "type" && o[1].key == "format" {
		return object{{"type", []any{o[0].value, "null"}}, o[1]}
	}
	return object{{"anyOf", []any{o, object{{"type", "null"}}}}}
}

// object is a JSON object whose keys keep their order.
type object []member

type member struct {
	key   string
	value any
}

func (o object) has(key string) bool {
	return slices.ContainsFunc(o, func(m member) bool { return m.key == key })
}

func (o object) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, m := range o {
		if i > 0 {
			b.WriteByte(',')
		}
		for j, v := range []any{m.key, m.value} {
			raw, err := plain(v)
			if err != nil {
				return nil, err
			}
			if j > 0 {
				b.WriteByte(':')
			}
			b.Write(raw)
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// plain is json.Marshal without the escapes for HTML.
func plain(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return bytes.TrimSpace(b.Bytes()), err
}

// sentence begins with a capital and ends with a full stop.
func sentence(s string) string {
	r := []rune(s)
	if len(r) == 0 {
		return s
	}
	if len(r) > 1 && !unicode.IsUpper(r[1]) && strings.IndexFunc(strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == ':' || r == ',' || r == ';' })[0], unicode.IsUpper) < 0 {
		r[0] = unicode.ToUpper(r[0])
	}
	if end := r[len(r)-1]; end != '.' && end != '?' {
		r = append(r, '.')
	}
	return string(r)
}
