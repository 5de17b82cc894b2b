package mass_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"quern/detect/mass"
	"quern/rig"
)

// at10Hz makes readings ten times a second from 0 s.
func at10Hz(stable rig.Mark, grams ...float64) []rig.Reading {
	out := make([]rig.Reading, len(grams))
	for i, g := range grams {
		out[i] = rig.Reading{AtS: float64(i) / 10, Value: g, Stable: stable}
	}
	return out
}

func repeat(n int, grams ...float64) (out []float64) {
	for range n {
		out = append(out, grams...)
	}
	return out
}

// A pan is at rest while the last second stays within one division (common practice), unless the scale
// says that it is not; the scale's word that it is does not count.
func TestPan(t *testing.T) {
	for _, c := range []struct {
		name      string
		divisionG float64
		in        []rig.Reading
		want      string // a letter a reading: r at rest, s shaky
	}{
		{"the first reading", 1, at10Hz(rig.Unsaid, 500), "r"},
		{"at rest", 1, at10Hz(rig.Unsaid, repeat(12, 500)...), "rrrrrrrrrrrr"},
		{"one division to and fro", 1, at10Hz(rig.Unsaid, repeat(6, 500, 501)...), "rrrrrrrrrrrr"},
		{"two divisions to and fro", 1, at10Hz(rig.Unsaid, repeat(3, 500, 502)...), "rsssss"},
		{"a step, over after a second", 1, at10Hz(rig.Unsaid, append(repeat(3, 500), repeat(12, 400)...)...), "rrrssssssssssrr"},
		{"two steps within one second", 1, at10Hz(rig.Unsaid, 500, 501, 501, 502, 502), "rrrss"},
		{"a drift of a division in two seconds", 1, at10Hz(rig.Unsaid, append(repeat(10, 500), repeat(10, 501)...)...), "rrrrrrrrrrrrrrrrrrrr"},
		{"five grams a division", 5, at10Hz(rig.Unsaid, 500, 505, 500, 510), "rrrs"},
		{"a tenth of a gram a division", 0.1, at10Hz(rig.Unsaid, 0.1, 0.2, 0.3, 0.3), "rrss"},
		{"divisions that binary numbers do not hold", 0.1, at10Hz(rig.Unsaid, 1234.5, 1234.6, 1234.5), "rrr"},
		{"below nothing", 1, at10Hz(rig.Unsaid, -3, -3, -4, -5), "rrrs"},
		{"its own mark says it moves", 1, at10Hz(rig.No, repeat(3, 500)...), "sss"},
		{"its own mark says it rests, and it does", 1, at10Hz(rig.Yes, repeat(3, 500)...), "rrr"},
		{"its own mark says it rests, and it does not", 1, at10Hz(rig.Yes, 500, 510, 490), "rss"},
		{"slow readings stand alone", 1, []rig.Reading{{AtS: 0, Value: 500}, {AtS: 2, Value: 400}, {AtS: 4, Value: 300}}, "rrr"},
		{"a second apart is still within the second", 1, []rig.Reading{{AtS: 0, Value: 500}, {AtS: 1, Value: 400}, {AtS: 2.001, Value: 400}}, "rsr"},
	} {
		p := mass.New(c.divisionG)
		got := ""
		for i, r := range c.in {
			g := p.Push(r)
			if g.AtS != r.AtS || g.MassG != r.Value {
				t.Errorf("%s: reading %d became %+v", c.name, i, g)
			}
			got += map[bool]string{true: "s", false: "r"}[g.Shaky]
		}
		if got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}

// What a reading is taken for depends on the second before it and on nothing else.
func TestPanForgets(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	long := mass.New(1)
	var all []rig.Reading
	atS := 0.0
	for range 2000 {
		atS += 0.02 + 0.3*r.Float64()
		all = append(all, rig.Reading{AtS: atS, Value: float64(500 + r.IntN(3)), Stable: rig.Mark(r.IntN(3))})
	}
	shaky := 0
	for i, x := range all {
		first := i
		for first > 0 && all[first-1].AtS >= x.AtS-1 {
			first--
		}
		short := mass.New(1)
		var want mass.Reading
		for _, y := range all[first : i+1] {
			want = short.Push(y)
		}
		got := long.Push(x)
		if got != want {
			t.Fatalf("reading %d at %.3f s: %+v after all before it, %+v after one second of them", i, x.AtS, got, want)
		}
		if got.Shaky {
			shaky++
		}
	}
	if shaky == 0 || shaky == len(all) {
		t.Errorf("%d of %d shaky: the readings try nothing", shaky, len(all))
	}
}

func ExamplePan() {
	p := mass.New(1) // a scale of 1 g a division
	for i, grams := range []float64{1200, 1200, 1203, 1201} {
		r := p.Push(rig.Reading{AtS: float64(i) / 2, Value: grams})
		fmt.Println(r.AtS, r.MassG, r.Shaky)
	}
	// Output:
	// 0 1200 false
	// 0.5 1200 false
	// 1 1203 true
	// 1.5 1201 true
}

func BenchmarkPan(b *testing.B) {
	p := mass.New(1)
	for i := range b.N {
		p.Push(rig.Reading{AtS: float64(i) / 80, Value: float64(i % 3)})
	}
}
