package config

import (
	"fmt"
	"reflect"
	"strings"
)

// Difference is a setting that is not the same in two setups.
type Difference struct {
	Of       string // where it stands: "bench.toml", "unit unit-a" or "procedure mixed"
	Key      string // such as detect.load.dwell_s
	Old, New string // as 'quern check' prints them; of a list how many it has; "absent" where there is none
	// Device: it says what the bench's devices were when a recording was made, such as a full scale, and no rule. Of an old
	// recording the old value is true, unless it was a mistake.
	Device bool
}

// Differences lists the settings that two setups do not have in common, in the order of their files.
func Differences(old, new Setup) []Difference {
	var out []Difference
	for _, part := range []struct {
		of   string
		a, b any
	}{{"bench.toml", &old.Bench, &new.Bench}, {"unit " + new.Unit.ID, &old.Unit, &new.Unit}, {"procedure " + new.Procedure.ID, &old.Procedure, &new.Procedure}} {
		a, b := map[string]string{}, map[string]string{}
		flat(reflect.ValueOf(part.b).Elem(), "", b, nil)
		for _, key := range flat(reflect.ValueOf(part.a).Elem(), "", a, nil) {
			if _, both := b[key]; both && a[key] != b[key] { // of a list that was longer, its number says it
				rule := part.of != "bench.toml" || strings.HasPrefix(key, "detect.")
				out = append(out, Difference{part.of, key, a[key], b[key], !rule})
			}
		}
	}
	return out
}

// flat puts the fields of a struct, and of those within it, into a map by their keys, and lists the keys.
func flat(v reflect.Value, path string, into map[string]string, keys []string) []string {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		name := strings.TrimPrefix(path+"."+f.Tag.Get("toml"), ".")
		switch f.Type.Kind() {
		case reflect.Struct:
			keys = flat(v.Field(i), name, into, keys)
			continue
		case reflect.Slice:
			keys, into[name] = append(keys, name), fmt.Sprint(v.Field(i).Len())
			for j := range v.Field(i).Len() {
				keys = flat(v.Field(i).Index(j), fmt.Sprintf("%s.%d", name, j+1), into, keys)
			}
			continue
		}
		value := literal(v.Field(i))
		switch unit := f.Tag.Get("unit"); {
		case absent(f.Tag, v.Field(i)):
			value = "absent"
		case f.Tag.Get("secret") != "" && !v.Field(i).IsZero():
			value = "given, not shown"
		case unit != "":
			value += " " + unit
		}
		keys, into[name] = append(keys, name), value
	}
	return keys
}
