package config

import (
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"

	"quern/rig"
)

// Problems is everything that is wrong with a lab, in order of file and line.
type Problems []*rig.FileError

// Error lists the problems, one a line.
func (p Problems) Error() string {
	lines := make([]string, len(p))
	for i, e := range p {
		lines[i] = e.Error()
	}
	return strings.Join(lines, "\n")
}

// reader fills structs from tables of one file and gathers what is wrong.
type reader struct {
	file     string
	problems Problems
	// given holds, by the address of a field, where its value was set; what is not in it is a default.
	given map[any]place
}

func (r *reader) add(at place, found, want, do string) {
	r.problems = append(r.problems, &rig.FileError{File: r.file, Line: at.line, Column: at.column, Byte: -1, Found: found, Want: want, Do: do})
}

// fill sets the fields of the struct that dst points to from t, or to their defaults. path is the
// dotted name of t, "" for a file's top.
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
		if f.Type.Kind() == reflect.Struct {
			switch {
			case e == nil:
				r.fill(dst.Field(i), nil, full)
			case e.table == nil:
				r.add(e.at, fmt.Sprintf("%s = %s", full, e), "a table: ["+full+"]", "")
			default:
				r.fill(dst.Field(i), e.table, full)
			}
			continue
		}
		r.scalar(dst.Field(i), f.Tag, t, e, full)
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

func (r *reader) unknown(e *entry, name, path string, in reflect.Type) {
	var keys []string
	for i := range in.NumField() {
		keys = append(keys, in.Field(i).Tag.Get("toml"))
	}
	where := "at the top of this file"
	if path != "" {
		where = "in [" + path + "]"
	}
	do := ""
	if n := nearest(name, keys); n != "" {
		do = fmt.Sprintf("did you mean %s?", n)
	}
	r.add(e.at, fmt.Sprintf("unknown key %q %s", name, where), "one of "+strings.Join(keys, ", "), do)
}

func (r *reader) scalar(dst reflect.Value, tag reflect.StructTag, t *table, e *entry, full string) {
	unit := tag.Get("unit")
	if e == nil {
		def, has := tag.Lookup("default")
		switch {
		case has:
			setText(dst, def)
		case tag.Get("optional") == "":
			at := place{1, 1}
			if t != nil {
				at = t.at
			}
			r.add(at, "no "+full, strings.TrimSpace(allowed(tag)+" "+unit), "add it: "+tag.Get("why"))
		}
		return
	}
	if e.value == nil {
		r.add(e.at, fmt.Sprintf("%s as %s", full, e), strings.TrimSpace(allowed(tag)+" "+unit), "")
		return
	}
	want := strings.TrimSpace(allowed(tag) + " " + unit)
	ok := false
	switch v := e.value.(type) {
	case float64:
		switch dst.Kind() {
		case reflect.Float64:
			if ok = inRange(tag.Get("range"), v); ok {
				dst.SetFloat(v)
			}
		case reflect.Int:
			if ok = v == math.Trunc(v) && inRange(tag.Get("range"), v); ok {
				dst.SetInt(int64(v))
			}
		}
	case string:
		if dst.Kind() == reflect.String {
			if ok = inWords(tag.Get("range"), v); ok {
				dst.SetString(v)
			}
		}
	case bool:
		if ok = dst.Kind() == reflect.Bool; ok {
			dst.SetBool(v)
		}
	}
	if !ok {
		do := ""
		if s, is := e.value.(string); is && dst.Kind() == reflect.Float64 {
			if _, err := strconv.ParseFloat(s, 64); err == nil {
				do = "write the number without quotes"
			}
		} else if is {
			if n := nearest(s, strings.Split(tag.Get("range"), "|")); n != "" {
				do = fmt.Sprintf("did you mean %q?", n)
			}
		}
		r.add(e.at, fmt.Sprintf("%s = %s", full, e), want, do)
		return
	}
	if r.given != nil {
		r.given[dst.Addr().Interface()] = e.at
	}
}

// setText sets a field from the text of a default tag.
func setText(dst reflect.Value, s string) {
	switch dst.Kind() {
	case reflect.String:
		dst.SetString(s)
	case reflect.Bool:
		dst.SetBool(s == "true")
	case reflect.Int:
		n, _ := strconv.Atoi(s)
		dst.SetInt(int64(n))
	case reflect.Float64:
		f, _ := strconv.ParseFloat(s, 64)
		dst.SetFloat(f)
	}
}

// allowed puts the range tag into words.
func allowed(tag reflect.StructTag) string {
	r := tag.Get("range")
	if strings.Contains(r, "|") {
		words := strings.Split(r, "|")
		for i := range words {
			words[i] = strconv.Quote(words[i])
		}
		return strings.Join(words, " or ")
	}
	lo, hi, ok := strings.Cut(r, "..")
	if !ok {
		return "a text"
	}
	low, open := strings.CutPrefix(lo, "(")
	hi = strings.TrimRight(hi, "])")
	if open {
		return fmt.Sprintf("more than %s and at most %s", low, hi)
	}
	return fmt.Sprintf("%s to %s", strings.TrimPrefix(low, "["), hi)
}

func inWords(r, v string) bool {
	if !strings.Contains(r, "|") {
		return true
	}
	for _, w := range strings.Split(r, "|") {
		if v == w {
			return true
		}
	}
	return false
}

func inRange(r string, v float64) bool {
	lo, hi, ok := strings.Cut(r, "..")
	if !ok {
		return !math.IsNaN(v) && !math.IsInf(v, 0)
	}
	low, open := strings.CutPrefix(lo, "(")
	l, _ := strconv.ParseFloat(strings.TrimPrefix(low, "["), 64)
	h, _ := strconv.ParseFloat(strings.TrimRight(hi, "])"), 64)
	return (v > l || v == l && !open) && v <= h
}

// nearest returns the known word most like a wrong one; "" if none is like it.
func nearest(word string, known []string) string {
	best, dist := "", len(word)/2+1
	for _, k := range known {
		if d := edits(word, k); d < dist {
			best, dist = k, d
		}
	}
	return best
}

// edits is the Levenshtein distance.
func edits(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		last := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			last, row[j+1] = row[j+1], min(row[j+1]+1, row[j]+1, last+cost)
		}
	}
	return row[len(b)]
}
