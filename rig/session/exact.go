package session

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"quern/rig"
)

// The exact form of a result has the keys of its public JSON, all of them, but a figure stands with
// all its digits, and an absent one as the text that says why, or null if nothing does:
//
//	"laeq_db": 82.31409817, "idle_a": "no-clamp", "thd_percent": null
//
// The public form rounds and leaves the reason out; scores computed from a stored analysis must be
// those of a fresh one. It knows structs, slices, texts, flags, numbers and times (RFC 3339, in UTC)
// beside figures.

var (
	figureType = reflect.TypeFor[rig.Figure]()
	timeType   = reflect.TypeFor[time.Time]()
)

// exactKeys holds what stands before the fields of each struct in records and analyses: see keysOf.
var exactKeys = sync.OnceValue(func() map[reflect.Type][]string {
	all := map[reflect.Type][]string{}
	gatherKeys(all, reflect.TypeFor[rig.Record]())
	gatherKeys(all, reflect.TypeFor[analysisFile]())
	return all
})

func gatherKeys(all map[reflect.Type][]string, t reflect.Type) {
	switch {
	case t == figureType || t == timeType || all[t] != nil:
	case t.Kind() == reflect.Slice:
		gatherKeys(all, t.Elem())
	case t.Kind() == reflect.Struct:
		all[t] = keysOf(t)
		for i := range t.NumField() {
			gatherKeys(all, t.Field(i).Type)
		}
	}
}

// exactJSON returns the exact form of a record, an analysis or a part of one.
func exactJSON[T any](v T) ([]byte, error) { return appendExact(nil, reflect.ValueOf(&v).Elem()) }

func appendExact(dst []byte, v reflect.Value) ([]byte, error) {
	if v.Type() == figureType {
		return appendFigure(dst, *v.Addr().Interface().(*rig.Figure))
	}
	if v.Type() == timeType {
		return appendText(dst, v.Addr().Interface().(*time.Time).UTC().Format(time.RFC3339Nano))
	}
	switch v.Kind() {
	case reflect.String:
		return appendText(dst, v.String())
	case reflect.Float64:
		return appendFigure(dst, rig.Figure{V: v.Float(), OK: true})
	case reflect.Bool:
		return strconv.AppendBool(dst, v.Bool()), nil
	case reflect.Int, reflect.Int8:
		return strconv.AppendInt(dst, v.Int(), 10), nil
	case reflect.Slice:
		if v.IsNil() {
			return append(dst, "null"...), nil
		}
		dst = append(dst, '[')
		for i := range v.Len() {
			if i > 0 {
				dst = append(dst, ',')
			}
			var err error
			if dst, err = appendExact(dst, v.Index(i)); err != nil {
				return nil, err
			}
		}
		return append(dst, ']'), nil
	case reflect.Struct:
		for i, key := range exactKeys()[v.Type()] {
			dst = append(dst, key...)
			var err error
			if dst, err = appendExact(dst, v.Field(i)); err != nil {
				return nil, err
			}
		}
		return append(dst, '}'), nil
	}
	return nil, fmt.Errorf("a result with a %s, which the exact form does not know", v.Type())
}

func appendFigure(dst []byte, f rig.Figure) ([]byte, error) {
	switch {
	case f.OK && (math.IsNaN(f.V) || math.IsInf(f.V, 0)):
		return nil, fmt.Errorf("a figure of %v", f.V)
	case f.OK:
		return strconv.AppendFloat(dst, f.V, 'g', -1, 64), nil
	case f.Why == "":
		return append(dst, "null"...), nil
	}
	return appendText(dst, f.Why)
}

func appendText(dst []byte, s string) ([]byte, error) {
	if isPlain(s) {
		return append(append(append(dst, '"'), s...), '"'), nil
	}
	if !utf8.ValidString(s) {
		return nil, fmt.Errorf("%q is not UTF-8", s)
	}
	b, err := json.Marshal(s)
	return append(dst, b...), err
}

// isPlain tells whether a text stands in JSON as it is.
func isPlain(s string) bool {
	for i := range len(s) {
		switch c := s[i]; {
		case c < ' ', c >= utf8.RuneSelf, c == '"', c == '\\', c == '<', c == '>', c == '&':
			return false
		}
	}
	return true
}

// keysOf returns what stands before each field of a struct: {"first": and then ,"second": and so on.
// A field without a key in JSON has its own name.
func keysOf(t reflect.Type) []string {
	out := make([]string, t.NumField())
	for i := range out {
		name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
		name = cmp.Or(name, t.Field(i).Name)
		out[i] = `,"` + name + `":`
		if i == 0 {
			out[i] = `{"` + name + `":`
		}
	}
	return out
}

// readExact reads into the struct that to points to what appendExact wrote of one like it, key by key
// in the same order, without a space: anything else is an error. An analysis of another version of
// the program is made again, not guessed at.
func readExact(text []byte, to any) error {
	r := exactReader{text: text, keys: exactKeys()}
	r.read(reflect.ValueOf(to).Elem())
	if r.err == nil && r.at < len(text) {
		r.fail("the end")
	}
	return r.err
}

// exactReader follows a type through a text, so that its depth is the type's, whatever the text.
type exactReader struct {
	text []byte
	at   int
	err  error                     // the first fault; nothing is read after it
	keys map[reflect.Type][]string // exactKeys
}

func (r *exactReader) fail(want string) {
	if r.err == nil {
		rest := r.text[min(r.at, len(r.text)):]
		r.err = fmt.Errorf("found %q at byte %d, expected %s", rest[:min(20, len(rest))], r.at, want)
	}
}

// next takes the word if it comes next.
func (r *exactReader) next(word string) bool {
	if r.err != nil || len(r.text)-r.at < len(word) || string(r.text[r.at:r.at+len(word)]) != word {
		return false
	}
	r.at += len(word)
	return true
}

func (r *exactReader) expect(word string) {
	if !r.next(word) {
		r.fail(word)
	}
}

func (r *exactReader) read(v reflect.Value) {
	if r.err != nil {
		return
	}
	if v.Type() == figureType {
		*v.Addr().Interface().(*rig.Figure) = r.figure()
		return
	}
	if v.Type() == timeType {
		*v.Addr().Interface().(*time.Time) = r.time()
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(r.string())
	case reflect.Float64:
		f, err := strconv.ParseFloat(string(r.number()), 64)
		if err != nil {
			r.fail("a number before this")
		}
		v.SetFloat(f)
	case reflect.Bool:
		v.SetBool(r.next("true"))
		if !v.Bool() {
			r.expect("false")
		}
	case reflect.Int, reflect.Int8:
		n, err := strconv.ParseInt(string(r.number()), 10, v.Type().Bits())
		if err != nil {
			r.fail("a whole number before this")
		}
		v.SetInt(n)
	case reflect.Slice:
		r.slice(v)
	case reflect.Struct:
		for i, key := range r.keys[v.Type()] {
			r.expect(key)
			r.read(v.Field(i))
		}
		r.expect("}")
	default:
		r.fail("nothing of type " + v.Type().String())
	}
}

func (r *exactReader) slice(v reflect.Value) {
	if r.next("null") {
		return
	}
	r.expect("[")
	v.Set(reflect.MakeSlice(v.Type(), 0, 0))
	for n := 0; r.err == nil && !r.next("]"); n++ {
		if n > 0 {
			r.expect(",")
		}
		v.Grow(1)
		v.SetLen(n + 1)
		v.Index(n).SetZero()
		r.read(v.Index(n))
	}
}

func (r *exactReader) figure() rig.Figure {
	switch {
	case r.next("null"):
		return rig.Figure{}
	case r.at < len(r.text) && r.text[r.at] == '"':
		return rig.Absent(r.string())
	}
	f, err := strconv.ParseFloat(string(r.number()), 64)
	if err != nil {
		r.fail("a figure before this")
	}
	return rig.Fig(f)
}

func (r *exactReader) time() time.Time {
	t, err := time.Parse(time.RFC3339Nano, r.string())
	if err != nil {
		r.fail("a time such as 2026-03-02T09:30:00Z before this")
	}
	return t.UTC()
}

func (r *exactReader) number() []byte {
	from := r.at
	for r.at < len(r.text) && strings.IndexByte("0123456789.eE+-", r.text[r.at]) >= 0 {
		r.at++
	}
	return r.text[from:r.at]
}

func (r *exactReader) string() string {
	if !r.next(`"`) {
		r.fail("a text")
		return ""
	}
	from, plain := r.at, true
	for r.at < len(r.text) && r.text[r.at] != '"' {
		c := r.text[r.at]
		plain = plain && c >= ' ' && c < utf8.RuneSelf && c != '\\'
		if c == '\\' {
			r.at++
		}
		r.at++
	}
	if r.at >= len(r.text) {
		r.at = len(r.text)
		r.fail("the end of a text")
		return ""
	}
	r.at++
	quoted := r.text[from-1 : r.at]
	var s string
	switch {
	case plain:
		return string(quoted[1 : len(quoted)-1])
	case !utf8.Valid(quoted):
		r.fail("UTF-8 before this")
	case json.Unmarshal(quoted, &s) != nil:
		r.fail("a text before this")
	}
	return s
}
