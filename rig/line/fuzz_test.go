package line

import (
	"reflect"
	"testing"
)

// FuzzParse: what is read prints back and reads the same, and a fault stands within the line.
func FuzzParse(f *testing.F) {
	for _, row := range table(f, "line_protocol.csv") {
		f.Add([]byte(row["line"]))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := Parse(text)
		if err == nil {
			again(t, p)
			return
		}
		if !reflect.DeepEqual(p, Point{}) {
			t.Fatalf("%q: %v, and %+v beside it", text, err, p)
		}
		if at := Fault("fuzz", 1, err); at.Column < 0 || at.Column > len(text)+1 {
			t.Fatalf("%q: a fault in column %d", text, at.Column)
		}
	})
}

func BenchmarkParse(b *testing.B) {
	text := []byte("scale,bench=bench-1,procedure=mixed,unit=unit-a mass_g=812.5,stable=true,t_s=4.25 1700000004250000000\n")
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Parse(text); err != nil {
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
