package config

import (
	"fmt"
	"reflect"
	"strconv"
	"strings"
)

// TOML writes every key in force that is a matter of sessions, in the order in which they are declared; ReadSetup reads
// it back. The checksum of analyses is made of it: a key that is added here makes every stored analysis stale.
func (s Setup) TOML() []byte {
	var b strings.Builder
	b.WriteString("# The settings in force in this session.\n")
	writeTable(&b, reflect.ValueOf(s), "")
	return []byte(b.String())
}

func writeTable(b *strings.Builder, v reflect.Value, path string) {
	if path != "" {
		fmt.Fprintf(b, "\n[%s]\n", path)
	}
	writeKeys(b, v, path)
}

func writeKeys(b *strings.Builder, v reflect.Value, path string) {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if f.Type.Kind() == reflect.Struct || f.Type.Kind() == reflect.Slice {
			continue
		}
		if absent(f.Tag, v.Field(i)) {
			continue
		}
		fmt.Fprintf(b, "%s = %s\n", f.Tag.Get("toml"), literal(v.Field(i)))
	}
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if f.Tag.Get("session") == "no" {
			continue
		}
		full := strings.TrimPrefix(path+"."+f.Tag.Get("toml"), ".")
		switch f.Type.Kind() {
		case reflect.Struct:
			writeTable(b, v.Field(i), full)
		case reflect.Slice:
			for j := range v.Field(i).Len() {
				fmt.Fprintf(b, "\n[[%s]]\n", full)
				writeKeys(b, v.Field(i).Index(j), full)
			}
		}
	}
}

// absent tells whether an optional field is missing: its 0 is outside its range.
func absent(tag reflect.StructTag, v reflect.Value) bool {
	return tag.Get("optional") != "" && v.IsZero()
}

// literal writes a value as TOML.
func literal(v reflect.Value) string {
	switch v.Kind() {
	case reflect.String:
		return quote(v.String())
	case reflect.Float64:
		s := strconv.FormatFloat(v.Float(), 'g', -1, 64)
		if !strings.ContainsAny(s, ".e") {
			s += ".0"
		}
		return s
	default:
		return fmt.Sprint(v.Interface())
	}
}

// quote writes a TOML basic string.
func quote(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < 0x20 || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
