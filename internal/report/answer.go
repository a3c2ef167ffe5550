package report

import (
	"encoding/json"
	"io"
	"reflect"
)

// WriteJSON writes a value for scripts as the published schemas describe it:
// indented, names as they were typed, and every list that is empty as [], never
// null, whether it is nil or not. The value itself is not changed.
func WriteJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(withLists(v))
}

// withLists returns a copy of v in which no list is nil.
func withLists(v any) any {
	if v == nil {
		return nil
	}
	out := reflect.New(reflect.TypeOf(v)).Elem()
	out.Set(reflect.ValueOf(v))
	fillLists(out)
	return out.Interface()
}

// fillLists puts an empty list for each nil one in v, which can be set, and in
// what v holds. What v points to is copied first: it may be another's. Values
// that write themselves, and bytes, are left alone.
func fillLists(v reflect.Value) {
	if _, own := v.Interface().(json.Marshaler); own {
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Field(i); v.Type().Field(i).IsExported() || v.Type().Field(i).Anonymous {
				fillField(f)
			}
		}
	case reflect.Slice:
		if v.Type().Elem().Kind() == reflect.Uint8 {
			return
		}
		items := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(items, v)
		v.Set(items)
		for i := range items.Len() {
			fillLists(items.Index(i))
		}
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			return
		}
		held := reflect.New(v.Elem().Type())
		held.Elem().Set(v.Elem())
		fillLists(held.Elem())
		if v.Kind() == reflect.Pointer {
			v.Set(held)
		} else {
			v.Set(held.Elem())
		}
	}
}

// fillField fills a field; of an embedded type with a small letter only what it
// passes on can be set, field by field.
func fillField(f reflect.Value) {
	if f.CanSet() {
		fillLists(f)
		return
	}
	for i := 0; f.Kind() == reflect.Struct && i < f.NumField(); i++ {
		if f.Type().Field(i).IsExported() {
			fillField(f.Field(i))
		}
	}
}
