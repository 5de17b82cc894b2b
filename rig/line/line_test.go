package line

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
)

// table reads a check table: comment lines first, then a header, then rows.
func table(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "reference", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 2 {
		t.Fatalf("%s: no rows", name)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, cell := range row {
			m[rows[0][i]] = cell
		}
		out = append(out, m)
	}
	return out
}

// Source: line protocol reference, version 2, and its grammar (line_protocol.csv, verified).
func TestReferenceLines(t *testing.T) {
	for _, row := range table(t, "line_protocol.csv") {
		if row["precision"] != "ns" {
			continue // the project writes and reads nanoseconds only
		}
		t.Run(row["case"], func(t *testing.T) {
			p, err := Parse([]byte(row["line"]))
			switch row["result"] {
			case "refused":
				if err == nil || errors.Is(err, ErrNoPoint) {
					t.Fatalf("%s: got %+v, %v; want a refusal: %s", row["line"], p, err, row["rule"])
				}
				return
			case "ignored":
				if !errors.Is(err, ErrNoPoint) {
					t.Fatalf("%s: got %+v, %v; want ErrNoPoint", row["line"], p, err)
				}
				return
			}
			if err != nil {
				t.Fatalf("%s: %v", row["line"], err)
			}
			want := Point{Measurement: row["measurement"]}
			var tags [][2]string
			var fields [][3]string
			mustJSON(t, row["tags"], &tags)
			mustJSON(t, row["fields"], &fields)
			for _, tag := range tags {
				want.Tags = append(want.Tags, Tag{tag[0], tag[1]})
			}
			for _, f := range fields {
				want.Fields = append(want.Fields, Field{f[0], value(t, f[1], f[2])})
			}
			if row["timestamp_ns"] != "absent" {
				want.Timed = true
				want.Time, err = strconv.ParseInt(row["timestamp_ns"], 10, 64)
				if err != nil {
					t.Fatal(err)
				}
			}
			if !reflect.DeepEqual(p, want) {
				t.Errorf("%s: got %+v, want %+v", row["line"], p, want)
			}
			again(t, p)
		})
	}
}

// Source: line protocol reference, version 2 (line_protocol_escapes.csv, verified).
func TestReferenceEscapes(t *testing.T) {
	chars := map[string]string{"comma": ",", "space": " ", "equals sign": "=", "double quote": `"`, "backslash": `\`}
	for _, row := range table(t, "line_protocol_escapes.csv") {
		for name, c := range chars {
			s := "a" + c + "b"
			p := Point{Measurement: "m", Tags: []Tag{{"k", "v"}}, Fields: []Field{{"f", FloatValue(1)}}}
			switch row["place"] {
			case "measurement":
				p.Measurement = s
			case "tag key":
				p.Tags[0].Key = s
			case "tag value":
				p.Tags[0].Value = s
			case "field key":
				p.Fields[0].Key = s
			case "string field value":
				p.Fields[0].Value = StringValue(s)
			default:
				t.Fatalf("unknown place %q", row["place"])
			}
			want := strings.Contains(row["characters"], name)
			got := strings.Contains(string(again(t, p)), `a\`+c+"b")
			if got != want {
				t.Errorf("%s, %s: escaped %v, want %v", row["place"], name, got, want)
			}
		}
	}
}

func mustJSON(t *testing.T, s string, into any) {
	t.Helper()
	if err := json.Unmarshal([]byte(s), into); err != nil {
		t.Fatalf("%s: %v", s, err)
	}
}

func value(t *testing.T, kind, text string) Value {
	t.Helper()
	switch kind {
	case "float":
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		return FloatValue(v)
	case "int":
		v, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		return IntValue(v)
	case "uint":
		v, err := strconv.ParseUint(text, 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		return UintValue(v)
	case "bool":
		return BoolValue(text == "true")
	}
	return StringValue(text)
}

// again writes p, reads it back and fails if it comes back as another point. It returns the line.
func again(t testing.TB, p Point) []byte {
	t.Helper()
	text, err := Append(nil, p)
	if err != nil {
		t.Fatalf("%+v: %v", p, err)
	}
	if bytes.Count(text, []byte("\n")) != 1 || text[len(text)-1] != '\n' {
		t.Fatalf("%+v became %q, which is not one line", p, text)
	}
	q, err := Parse(text)
	if err != nil {
		t.Fatalf("%q: %v", text, err)
	}
	if !reflect.DeepEqual(p, q) {
		t.Fatalf("%+v came back as %+v", p, q)
	}
	return text
}

func TestRoundTripOfExtremes(t *testing.T) {
	for _, v := range []Value{
		FloatValue(math.Copysign(0, -1)), FloatValue(math.SmallestNonzeroFloat64), FloatValue(-math.MaxFloat64),
		FloatValue(0.1), IntValue(math.MinInt64), UintValue(math.MaxUint64), BoolValue(false),
		StringValue(""), StringValue(`\`), StringValue(`C:\new`), StringValue("µ# ,="),
	} {
		for _, at := range []int64{math.MinInt64, -1, 0, math.MaxInt64} {
			again(t, Point{Measurement: "m", Fields: []Field{{"v", v}}, Time: at, Timed: true})
		}
	}
}

func TestAppendRefuses(t *testing.T) {
	one := []Field{{"f", FloatValue(1)}}
	for _, c := range []struct {
		name string
		p    Point
		want string
	}{
		{"no measurement", Point{Fields: one}, "is empty"},
		{"comment", Point{Measurement: "#m", Fields: one}, "comment"},
		{"no fields", Point{Measurement: "m"}, "no field"},
		{"nan", Point{Measurement: "m", Fields: []Field{{"f", FloatValue(math.NaN())}}}, "not a finite number"},
		{"infinity", Point{Measurement: "m", Fields: []Field{{"f", FloatValue(math.Inf(-1))}}}, "not a finite number"},
		{"no value", Point{Measurement: "m", Fields: []Field{{"f", Value{}}}}, "no value"},
		{"field twice", Point{Measurement: "m", Fields: []Field{{"f", IntValue(1)}, {"f", IntValue(2)}}}, "twice"},
		{"tag twice", Point{Measurement: "m", Tags: []Tag{{"k", "a"}, {"k", "b"}}, Fields: one}, "each key once"},
		{"tags unsorted", Point{Measurement: "m", Tags: []Tag{{"l", "a"}, {"k", "b"}}, Fields: one}, "ascend"},
		{"empty tag", Point{Measurement: "m", Tags: []Tag{{"k", ""}}, Fields: one}, "is empty"},
		{"underscore", Point{Measurement: "m", Fields: []Field{{"_f", IntValue(1)}}}, "reserved"},
		{"backslash at the end", Point{Measurement: "m", Tags: []Tag{{"k", `a\`}}, Fields: one}, "backslash"},
		{"newline", Point{Measurement: "m", Fields: []Field{{"f", StringValue("a\nb")}}}, "control character 0x0a"},
		{"not UTF-8", Point{Measurement: "m\xff", Fields: one}, "UTF-8"},
	} {
		before := []byte("kept\n")
		after, err := Append(before, c.p)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want an error with %q", c.name, err, c.want)
		}
		if string(after) != "kept\n" {
			t.Errorf("%s: the text became %q", c.name, after)
		}
	}
}

func TestParseRefusesWhatEnginesReadOtherwise(t *testing.T) {
	for text, want := range map[string]string{
		`m f=0x1p4`:                       "decimal",
		`m f="a\nb"`:                      "control character",
		`m f=1,f=2`:                       "twice",
		`m,k=1,k=2 f=1`:                   "each key once",
		`m _f=1`:                          "reserved",
		`m f=1 99999999999999999999`:      "64 bits",
		"m f=1 1\rm f=2 2":                "inside a line",
		"m f=\"a\nb\" 1":                  "inside a line",
		`m f="open`:                       "closing quote",
		"m f=1 1 2":                       "after timestamp",
		"# a comment with \x01 in it":     "invalid character",
		"m f=1e400":                       "range",
		"m f=" + strings.Repeat("9", 400): "range",
	} {
		if p, err := Parse([]byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.40q: got %+v, %v, want an error with %q", text, p, err, want)
		}
	}
}

func TestFaultNamesTheLine(t *testing.T) {
	_, err := Parse([]byte("m f=+2 2\n"))
	if err == nil {
		t.Fatal("a number with a plus before it was taken")
	}
	at := Fault("j.lp", 4, err)
	if at.File != "j.lp" || at.Line != 4 || at.Column != 5 || !errors.Is(at, err) {
		t.Fatalf("got %v, want an error at j.lp:4:5 that wraps %v", at, err)
	}
}
