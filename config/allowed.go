package config

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"quern/rig"
)

// idRange is the range tag of codes that name something in commands, files and results.
const idRange = "id"

// Range tags of texts of a form: a calendar day, or nothing; the name of a time zone; the name of a measure.
const (
	dateRange    = "date"
	zoneRange    = "zone"
	measureRange = "measure"
)

// allowed puts the range and unit tags into words.
func allowed(kind reflect.Kind, tag reflect.StructTag) string {
	r := tag.Get("range")
	unit := tag.Get("unit")
	if unit != "" {
		unit = " " + unit
	}
	lo, hi, interval := strings.Cut(r, "..")
	switch {
	case r == dateRange:
		return "a day such as 2026-12-01"
	case r == zoneRange:
		return `the IANA name of a time zone, such as "America/Chicago", or "UTC"`
	case r == measureRange:
		return "the name of a measure: " + strings.Join(measureNames(), ", ") + ", extra.CHANNEL.mean (.min, .max) or hand.NAME"
	case r == idRange:
		return rig.IDWords
	case strings.Contains(r, "|"):
		words := strings.Split(r, "|")
		for i := range words {
			words[i] = strconv.Quote(words[i])
		}
		last := len(words) - 1
		return strings.Join(words[:last], ", ") + " or " + words[last]
	case interval:
		number := "a number"
		if kind == reflect.Int {
			number = "a whole number"
		}
		low, open := strings.CutPrefix(lo, "(")
		hi = strings.TrimSuffix(hi, "]")
		if open {
			return fmt.Sprintf("%s above %s, up to %s%s", number, low, hi, unit)
		}
		return fmt.Sprintf("%s from %s to %s%s", number, low, hi, unit)
	case kind == reflect.Bool:
		return "true or false"
	default:
		return "a text in quotes"
	}
}

// inWords tells whether a text is one that a range tag allows.
func inWords(r, v string) bool {
	switch {
	case r == dateRange:
		_, err := time.Parse(time.DateOnly, v)
		return v == "" || err == nil
	case r == zoneRange:
		_, ok := rig.Zone(v)
		return ok && v != ""
	case r == measureRange:
		_, ok := rig.FindMeasure(v)
		return ok
	case r == idRange:
		return rig.IsID(v)
	case strings.Contains(r, "|"):
		return slices.Contains(strings.Split(r, "|"), v)
	default:
		return true
	}
}

func measureNames() []string {
	names := make([]string, len(rig.Measures))
	for i, m := range rig.Measures {
		names[i] = m.Name
	}
	return names
}

// inRange tells whether a number is one that a range tag allows.
func inRange(r string, v float64) bool {
	l, h, open, ok := interval(r)
	if !ok {
		return !math.IsNaN(v) && !math.IsInf(v, 0)
	}
	return (v > l || v == l && !open) && v <= h
}

// interval reads a range tag of numbers; open says that the low end is excluded.
func interval(r string) (low, high float64, open, ok bool) {
	lo, hi, ok := strings.Cut(r, "..")
	if !ok {
		return 0, 0, false, false
	}
	lo, open = strings.CutPrefix(lo, "(")
	low, errLow := strconv.ParseFloat(lo, 64)
	high, errHigh := strconv.ParseFloat(strings.TrimSuffix(hi, "]"), 64)
	return low, high, open, errLow == nil && errHigh == nil
}

// unknown reports a key that nothing declares, with the one that was probably meant.
func (r *reader) unknown(e *entry, name, path string, in reflect.Type) {
	keys := keysOf(in)
	at := "at the top of this file"
	if path != "" {
		at = "in [" + path + "]"
	}
	r.add(e.at, fmt.Sprintf("unknown key %q %s", clip(name), at), "one of "+strings.Join(keys, ", "), r.meant(name, in, keys))
	r.problems[len(r.problems)-1].Err = errUnknown
}

func (r *reader) meant(name string, in reflect.Type, keys []string) string {
	if home, ok := homeOf(r.root, name, ""); ok {
		return "it belongs in " + home
	}
	if n := nearest(name, keys); n != "" {
		if f := field(in, n); f.Tag.Get("unit") != "" {
			return fmt.Sprintf("did you mean %s, in %s?", n, f.Tag.Get("unit"))
		}
		return fmt.Sprintf("did you mean %s?", n)
	}
	return ""
}

// keysOf lists the keys that a struct declares.
func keysOf(t reflect.Type) []string {
	keys := make([]string, t.NumField())
	for i := range keys {
		keys[i] = t.Field(i).Tag.Get("toml")
	}
	return keys
}

func field(t reflect.Type, key string) reflect.StructField {
	for i := range t.NumField() {
		if f := t.Field(i); f.Tag.Get("toml") == key {
			return f
		}
	}
	return reflect.StructField{}
}

// homeOf finds the table in which a key is declared, as its header.
func homeOf(t reflect.Type, key, path string) (string, bool) {
	for i := range t.NumField() {
		f := t.Field(i)
		full := strings.TrimPrefix(path+"."+f.Tag.Get("toml"), ".")
		switch f.Type.Kind() {
		case reflect.Struct:
			if home, ok := homeOf(f.Type, key, full); ok {
				return home, true
			}
		case reflect.Slice:
			if slices.Contains(keysOf(f.Type.Elem()), key) {
				return "[[" + full + "]]", true
			}
		}
		if f.Tag.Get("toml") != key {
			continue
		}
		if path == "" {
			return "the top of the file, before the first [table]", true
		}
		return "[" + path + "]", true
	}
	return "", false
}

// nearest returns the known word that a wrong one was probably meant to be; "" if none is like it.
// Words that differ in nothing but their unit are alike: voltage_mv and voltage_v.
func nearest(word string, known []string) string {
	const most = 64 // no known word is as long
	if len(word) > most {
		return ""
	}
	for _, k := range known {
		if word != "" && strings.HasPrefix(k, word+"_") {
			return k
		}
	}
	best, dist := "", max(2, len(word)/3+1)
	for _, k := range known {
		if d := edits(word, k); d < dist {
			best, dist = k, d
		}
	}
	if i := strings.LastIndexByte(word, '_'); best == "" && i > 0 {
		for _, k := range known {
			if strings.LastIndexByte(k, '_') == i && k[:i] == word[:i] {
				return k
			}
		}
	}
	return best
}

// edits counts the letters to insert, delete, change or swap with their neighbour to make b of a.
func edits(a, b string) int {
	// Rows of the usual table, for the prefixes of a up to the last letter but one, the last, this.
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		before, last, row = last, row, before
		row[0] = i + 1
		for j := range len(b) {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			row[j+1] = min(last[j+1]+1, row[j]+1, last[j]+cost)
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
	}
	return row[len(b)]
}
