package pages

import (
	"fmt"
	"path/filepath"
	"reflect"
	"strings"

	"quern/rig"
	"quern/rig/session"
)

// keys lists what the analysis can be asked to do otherwise, with what is in force in the session.
func (p *sessionPage) keys(dir string, rec *rig.Record) {
	set, err := session.ReadSetup(filepath.Join(dir, rec.Session))
	if err != nil {
		return
	}
	p.Keys = detectKeys(reflect.ValueOf(set.Bench.Detect), "")
}

func detectKeys(v reflect.Value, prefix string) []keyPage {
	var out []keyPage
	for i := range v.NumField() {
		f := v.Type().Field(i)
		key := prefix + f.Tag.Get("toml")
		if f.Type.Kind() == reflect.Struct {
			out = append(out, detectKeys(v.Field(i), key+".")...)
			continue
		}
		between := strings.ReplaceAll(strings.Trim(f.Tag.Get("range"), "()[]"), "..", " to ")
		if unit := f.Tag.Get("unit"); unit != "" {
			between += " " + unit
		}
		out = append(out, keyPage{Key: key, Value: tomlNumber(v.Field(i)), Range: between, Why: f.Tag.Get("why")})
	}
	return out
}

// tomlNumber writes a number as TOML has it: a float keeps its point.
func tomlNumber(v reflect.Value) string {
	s := fmt.Sprint(v.Interface())
	if v.Kind() == reflect.Float64 && !strings.ContainsAny(s, ".e") {
		s += ".0"
	}
	return s
}
