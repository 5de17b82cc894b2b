package config

import (
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"quern/rig"
)

// walk visits every key of a struct and of those within it.
func walk(t reflect.Type, path string, visit func(f reflect.StructField, path string)) {
	for i := range t.NumField() {
		f := t.Field(i)
		full := strings.TrimPrefix(path+"."+f.Tag.Get("toml"), ".")
		switch f.Type.Kind() {
		case reflect.Struct:
			walk(f.Type, full, visit)
		case reflect.Slice:
			walk(f.Type.Elem(), full, visit)
		default:
			visit(f, full)
		}
	}
}

// files are the roots of the four kinds of file, and of a session's settings.
var files = []reflect.Type{typeOf[Bench](), typeOf[unitList](), typeOf[Procedure](), typeOf[Scorecard](), typeOf[Setup]()}

// Every key is declared in full, so that nothing has to be said about it elsewhere.
func TestTags(t *testing.T) {
	key := regexp.MustCompile(`^[a-z][a-z0-9_]*$`)
	known := map[string]bool{"toml": true, "default": true, "range": true, "unit": true, "why": true, "optional": true, "secret": true}
	one := regexp.MustCompile(`([a-z]+):"(?:[^"\\]|\\.)*"`)
	for _, root := range files {
		walk(root, root.Name(), func(f reflect.StructField, path string) {
			bad := func(format string, args ...any) {
				t.Helper()
				t.Errorf(path+" ("+f.Name+"): "+format, args...)
			}
			if !key.MatchString(f.Tag.Get("toml")) {
				bad("toml %q", f.Tag.Get("toml"))
			}
			if f.Tag.Get("why") == "" {
				bad("no why")
			}
			for _, m := range one.FindAllStringSubmatch(string(f.Tag), -1) {
				if !known[m[1]] {
					bad("tag %q is not one of those that are read", m[1])
				}
			}
			def, has := f.Tag.Lookup("default")
			if has && f.Tag.Get("optional") != "" {
				bad("optional, and with a default")
			}
			switch f.Type.Kind() {
			case reflect.Float64, reflect.Int:
				low, high, open, ok := interval(f.Tag.Get("range"))
				if !ok || low >= high {
					bad("range %q is none of numbers", f.Tag.Get("range"))
				}
				if f.Tag.Get("optional") != "" && !(open && low == 0) && inRange(f.Tag.Get("range"), 0) {
					bad("optional, but 0 is a value it may have, so that absence cannot be told")
				}
				v, err := strconv.ParseFloat(def, 64)
				if has && (err != nil || !inRange(f.Tag.Get("range"), v)) {
					bad("default %q is outside its range %q", def, f.Tag.Get("range"))
				}
			case reflect.String:
				if has && !inWords(f.Tag.Get("range"), def) {
					bad("default %q is none of %q", def, f.Tag.Get("range"))
				}
			case reflect.Bool:
				if has && def != "true" && def != "false" {
					bad("default %q", def)
				}
			default:
				bad("no setting is a %s", f.Type)
			}
		})
	}
}

// The unit that ends a key's name is the unit of its tag.
func TestUnitsInNames(t *testing.T) {
	ends := map[string][]string{
		"s": {"s"}, "a": {"A"}, "v": {"V"}, "hz": {"Hz"}, "g": {"g"}, "pa": {"Pa"},
		"db": {"dB", "dB re 20 uPa", "dB(A)"},
		"mm": {"mm"}, "c": {"degC"}, "min": {"L/min", "g/min"}, "minutes": {"min"},
		"": {"ratio", "share", "samples", "sigmas"},
	}
	checked := 0
	for _, root := range files {
		walk(root, root.Name(), func(f reflect.StructField, path string) {
			name := f.Tag.Get("toml")
			end := name[strings.LastIndexByte(name, '_')+1:]
			unit := f.Tag.Get("unit")
			if units := ends[end]; end != name && units != nil && !slices.Contains(units, unit) {
				t.Errorf("%s: the name ends in _%s, the unit is %q", path, end, unit)
			} else if units != nil {
				checked++
			}
			if unit != "" && (end == name || ends[end] == nil) {
				t.Errorf("%s: the unit is %q, the name does not end with it", path, unit)
			}
			if unit != "" && slices.Contains(ends[""], end) {
				t.Errorf("%s: a pure number with the unit %q", path, unit)
			}
		})
	}
	if checked < 20 {
		t.Errorf("only %d keys end in a known unit", checked)
	}
}

// No table declares a key twice.
func TestKeysOnce(t *testing.T) {
	for _, root := range files {
		seen := map[string]bool{}
		walk(root, root.Name(), func(_ reflect.StructField, path string) {
			if seen[path] {
				t.Errorf("%s is declared twice", path)
			}
			seen[path] = true
		})
	}
}

// The defaults hang together as what is read must.
func TestDefaultsCross(t *testing.T) {
	lab := contractLab()
	lab["bench.toml"] = file("")
	if got := mustRead(t, lab).Bench; !reflect.DeepEqual(got, DefaultBench()) {
		t.Errorf("an empty bench.toml gives %+v, want the defaults", got)
	}
}

func TestRanges(t *testing.T) {
	for _, c := range []struct {
		tag  string
		v    float64
		want bool
	}{
		{"0.1..10", 0.1, true}, {"0.1..10", 10, true}, {"0.1..10", 0.0999, false}, {"0.1..10", 10.001, false},
		{"(0..10]", 0, false}, {"(0..10]", 1e-300, true}, {"(0..10]", 10, true}, {"-5..5", -5, true}, {"-5..5", -6, false},
	} {
		if got := inRange(c.tag, c.v); got != c.want {
			t.Errorf("%g in %s: got %t", c.v, c.tag, got)
		}
	}
	for _, c := range []struct {
		kind      reflect.Kind
		tag, want string
	}{
		{reflect.Float64, `range:"0.1..10" unit:"s"`, "a number from 0.1 to 10 s"},
		{reflect.Float64, `range:"(0..10]" unit:"A"`, "a number above 0, up to 10 A"},
		{reflect.Int, `range:"1..100"`, "a whole number from 1 to 100"},
		{reflect.String, `range:"a|b|c"`, `"a", "b" or "c"`},
		{reflect.String, `range:"id"`, rig.IDWords},
		{reflect.String, ``, "a text in quotes"},
		{reflect.Bool, ``, "true or false"},
	} {
		if got := allowed(c.kind, reflect.StructTag(c.tag)); got != c.want {
			t.Errorf("%s: got %q, want %q", c.tag, got, c.want)
		}
	}
}
