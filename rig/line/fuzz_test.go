package line

import (
	"bytes"
	"errors"
	"io"
	"reflect"
	"testing"
	"testing/iotest"

	"quern/rig"
)

// FuzzDecoder: what is read prints back and reads the same, and a text that comes drop by drop
// reads like one that comes whole.
func FuzzDecoder(f *testing.F) {
	rows := table(f, "line_protocol.csv")
	var all []byte
	for _, row := range rows {
		f.Add([]byte(row["line"]))
		all = append(append(all, row["line"]...), '\n')
	}
	f.Add(all)
	f.Fuzz(func(t *testing.T, text []byte) {
		whole := read(t, bytes.NewReader(text))
		drip := read(t, iotest.OneByteReader(bytes.NewReader(text)))
		if !reflect.DeepEqual(whole, drip) {
			t.Fatalf("%q: whole %v, drop by drop %v", text, whole, drip)
		}
		for _, e := range whole {
			if e.fault == "" {
				again(t, e.point)
			}
		}
	})
}

type entry struct {
	line  int
	point Point
	fault string
}

func read(t *testing.T, r io.Reader) []entry {
	d := NewDecoder("fuzz", r)
	var all []entry
	for {
		p, err := d.Next()
		if err == io.EOF {
			return all
		}
		e := entry{line: d.Line(), point: p}
		if err != nil {
			var at *rig.FileError
			if !errors.As(err, &at) || at.Line != d.Line() {
				t.Fatalf("got %v, want a fault of line %d", err, d.Line())
			}
			e = entry{line: d.Line(), fault: err.Error()}
		}
		all = append(all, e)
	}
}

func BenchmarkParse(b *testing.B) {
	text := []byte("scale,bench=bench-1,procedure=mixed,unit=unit-a mass_g=812.5,stable=true,t_s=4.25 1700000004250000000\n")
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Parse(text, Nanosecond); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkAppend(b *testing.B) {
	p := Point{Measurement: "scale", Tags: []Tag{{"bench", "bench-1"}, {"procedure", "mixed"}, {"unit", "unit-a"}},
		Fields: []Field{{"mass_g", FloatValue(812.5)}, {"stable", BoolValue(true)}, {"t_s", FloatValue(4.25)}},
		Time:   1700000004250000000, Timed: true}
	b.ReportAllocs()
	var buf []byte
	for b.Loop() {
		var err error
		if buf, err = Append(buf[:0], p); err != nil {
			b.Fatal(err)
		}
	}
}
