package config

import (
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"

	"quern/rig"
)

// reader fills structs from tables of one file and gathers what is wrong.
type reader struct {
	file     string
	root     reflect.Type // of the whole file, to tell where a misplaced key belongs
	problems Problems
	origins  map[any]origin
}

// origin is where a field's value came from, kept by the address of the field.
type origin struct {
	file  string
	key   string // in full: detect.motor.stall_ratio
	at    place
	home  place // the table that would hold it
	given bool  // set by the file; otherwise the default is in force
	wrong bool  // the file's value was refused, so nothing can be told from it
}

func newReader(file string, origins map[any]origin) *reader {
	return &reader{file: file, origins: origins}
}

// read fills the struct that dst points to.
func (r *reader) read(dst any, t *table) {
	v := reflect.ValueOf(dst).Elem()
	r.root = v.Type()
	r.fill(v, t, "")
}

func (r *reader) add(at place, found, want, do string) {
	r.problems = append(r.problems, &rig.FileError{File: r.file, Line: at.line, Column: at.column, Byte: -1, Found: found, Want: want, Do: do})
}

// fill sets the fields of the struct dst from t, or to their defaults where t is nil or lacks the
// key. path is the dotted name of t, "" for a file's top.
func (r *reader) fill(dst reflect.Value, t *table, path string) {
	known := map[string]bool{}
	for i := range dst.NumField() {
		f := dst.Type().Field(i)
		name := f.Tag.Get("toml")
		known[name] = true
		var e *entry
		if t != nil {
			e = t.keys[name]
		}
		full := strings.TrimPrefix(path+"."+name, ".")
		switch f.Type.Kind() {
		case reflect.Struct:
			r.section(dst.Field(i), e, full)
		case reflect.Slice:
			r.sections(dst.Field(i), f.Tag, t, e, full)
		default:
			r.scalar(dst.Field(i), f.Tag, t, e, full)
		}
	}
	if t == nil {
		return
	}
	for _, name := range t.order {
		if !known[name] {
			r.unknown(t.keys[name], name, path, dst.Type())
		}
	}
}

// section fills a struct from a table.
func (r *reader) section(dst reflect.Value, e *entry, full string) {
	var t *table
	if e != nil {
		if t = e.table; t == nil {
			r.add(e.at, fmt.Sprintf("%s = %s", full, e), "a table: ["+full+"]", "")
		}
	}
	r.fill(dst, t, full)
}

// sections fills a slice of structs from an array of tables; there is at least one.
func (r *reader) sections(dst reflect.Value, tag reflect.StructTag, t *table, e *entry, full string) {
	header := "[[" + full + "]]"
	switch {
	case e == nil && tag.Get("optional") != "": // none
	case e == nil:
		at := place{1, 1}
		if t != nil {
			at = t.at
		}
		r.add(at, "no "+header, "at least one", "add it: "+tag.Get("why"))
	case len(e.tables) == 0 && e.table != nil:
		r.add(e.at, "["+full+"]", header, "write two brackets on each side: there may be several")
	case len(e.tables) == 0:
		r.add(e.at, fmt.Sprintf("%s = %s", full, e), header, "add it: "+tag.Get("why"))
	default:
		n := len(e.tables)
		dst.Set(reflect.MakeSlice(dst.Type(), n, n))
		for i, et := range e.tables {
			r.fill(dst.Index(i), et, full)
		}
	}
}

func (r *reader) scalar(dst reflect.Value, tag reflect.StructTag, t *table, e *entry, full string) {
	from := origin{file: r.file, key: full}
	if t != nil {
		from.home = t.at
	}
	defer func() { r.origins[dst.Addr().Interface()] = from }()
	def, has := tag.Lookup("default")
	if has {
		set(dst, def)
	}
	want := allowed(dst.Kind(), tag)
	if e == nil {
		if !has && tag.Get("optional") == "" {
			at := place{1, 1}
			if t != nil {
				at = t.at
			}
			from.wrong = true
			r.add(at, "no "+full, want, "add it: "+tag.Get("why"))
		}
		return
	}
	from.at, from.given = e.at, true
	if !take(dst, tag, e.value) {
		from.wrong = true
		r.add(e.at, fmt.Sprintf("%s = %s", full, e), want, remedy(dst.Kind(), tag, e.value))
	}
}

// take sets a field to a value from a file, if it is one that the field may have.
func take(dst reflect.Value, tag reflect.StructTag, value any) bool {
	allowed := tag.Get("range")
	switch v := value.(type) {
	case float64:
		switch {
		case !inRange(allowed, v):
			return false
		case dst.Kind() == reflect.Float64:
			dst.SetFloat(v + 0) // no negative zero
			return true
		case dst.Kind() == reflect.Int && v == math.Trunc(v):
			dst.SetInt(int64(v))
			return true
		}
	case string:
		if dst.Kind() == reflect.String && inWords(allowed, v) {
			dst.SetString(v)
			return true
		}
	case bool:
		if dst.Kind() == reflect.Bool {
			dst.SetBool(v)
			return true
		}
	}
	return false
}

// remedy says what to do about a value that was refused, where that can be guessed.
func remedy(kind reflect.Kind, tag reflect.StructTag, value any) string {
	switch v := value.(type) {
	case string:
		if kind == reflect.Float64 || kind == reflect.Int {
			if _, err := strconv.ParseFloat(v, 64); err == nil {
				return "write the number without quotes"
			}
			return "write a bare number"
		}
		words := strings.Split(tag.Get("range"), "|")
		if tag.Get("range") == measureRange {
			words = measureNames()
		}
		if n := nearest(v, words); n != "" && len(words) > 1 {
			return fmt.Sprintf("did you mean %q?", n)
		}
	case float64:
		if kind == reflect.String && !strings.Contains(tag.Get("range"), "|") {
			return "put it in quotes"
		}
	}
	return ""
}

// set sets a field from the text of a default tag.
func set(dst reflect.Value, s string) {
	switch dst.Kind() {
	case reflect.String:
		dst.SetString(s)
	case reflect.Bool:
		dst.SetBool(s == "true")
	case reflect.Int:
		n, _ := strconv.Atoi(s) // that every default is a number, a test sees to
		dst.SetInt(int64(n))
	case reflect.Float64:
		f, _ := strconv.ParseFloat(s, 64)
		dst.SetFloat(f)
	}
}

// less reports where a setting does not stay below another.
func (r *reader) less(low, high *float64, why string) {
	l, h := r.origins[low], r.origins[high]
	if l.wrong || h.wrong || *low < *high {
		return
	}
	tell := func(o origin, v float64) string {
		s := fmt.Sprintf("%s = %g", o.key, v)
		if !o.given {
			s += " (the default)"
		}
		return s
	}
	if l.given {
		r.add(l.at, tell(l, *low), "less than "+tell(h, *high), why)
	} else {
		r.add(h.at, tell(h, *high), "more than "+tell(l, *low), why)
	}
}
