package sound

import (
	"fmt"
	"math"
	"testing"
)

func TestFaults(t *testing.T) {
	const rate = 8000
	base := func() []float64 { return noise(3*rate, 0.1) } // seldom beyond half of full scale
	set := func(x []float64, from, n int, v float64) {
		for i := from; i < from+n; i++ {
			x[i] = v
		}
	}
	for _, c := range []struct {
		name    string
		edit    func(x []float64)
		want    string
		clipped int
		still   int
	}{
		{"nothing", func(x []float64) {}, "[]", 0, 0},
		{"two samples at full scale may be a true peak", func(x []float64) { set(x, 1000, 2, 1) }, "[]", 0, 0},
		{"three are a clip", func(x []float64) { set(x, 1000, 3, 1) }, "[{clipped 0.125 0.125375 3}]", 3, 0},
		{"0.09 dB below counts", func(x []float64) { set(x, 1000, 3, -math.Pow(10, -0.09/20)) }, "[{clipped 0.125 0.125375 3}]", 3, 0},
		{"0.11 dB below does not", func(x []float64) { set(x, 1000, 3, -math.Pow(10, -0.11/20)) }, "[]", 0, 0},
		{"beyond full scale counts", func(x []float64) { set(x, 1000, 4, 1.5) }, "[{clipped 0.125 0.1255 4}]", 4, 0},
		{"across a frame's edge", func(x []float64) { set(x, 1198, 4, 1) }, "[{clipped 0.14975 0.15025 4}]", 4, 0},
		{"near ones are one fault", func(x []float64) { set(x, 1000, 3, 1); set(x, 1600, 5, 1) }, "[{clipped 0.125 0.200625 8}]", 8, 0},
		{"distant ones are two", func(x []float64) { set(x, 1000, 3, 1); set(x, 2000, 5, 1) }, "[{clipped 0.125 0.125375 3} {clipped 0.25 0.250625 5}]", 8, 0},
		{"at the end", func(x []float64) { set(x, 3*rate-5, 5, 1) }, "[{clipped 2.999375 3 5}]", 5, 0},
		{"one beyond full scale counts", func(x []float64) { set(x, 1000, 1, -1.01) }, "[{clipped 0.125 0.125125 1}]", 1, 0},
		{"so does what is beside it", func(x []float64) { set(x, 1000, 1, 1); set(x, 1001, 1, 2) }, "[{clipped 0.125 0.12525 2}]", 2, 0},
		{"what rounding makes of full scale does not", func(x []float64) { set(x, 1000, 1, 1.0000001) }, "[]", 0, 0},
		{"no numbers are left out, not clipped", func(x []float64) { set(x, 1000, 1, math.NaN()); set(x, 1001, 1, math.Inf(1)); set(x, 1002, 1, -2e6) }, "[]", 0, 0},
		{"half a second without change", func(x []float64) { set(x, 8000, 4000, 0.02) }, "[{silent 1 1.5 4000}]", 0, 50},
		{"a sample less", func(x []float64) { set(x, 8000, 3999, 0.02) }, "[]", 0, 0},
		{"not on the frames' grid", func(x []float64) { set(x, 8037, 4100, 0) }, "[{silent 1.004625 1.517125 4100}]", 0, 50},
		{"from the start", func(x []float64) { set(x, 0, 4800, 0) }, "[{silent 0 0.6 4800}]", 0, 60},
		{"to the end", func(x []float64) { set(x, 3*rate-4800, 4800, 0) }, "[{silent 2.4 3 4800}]", 0, 60},
		{"two values", func(x []float64) { set(x, 4000, 4000, 0.1); set(x, 8000, 4000, 0.2) }, "[{silent 0.5 1 4000} {silent 1 1.5 4000}]", 0, 100},
	} {
		x := base()
		c.edit(x)
		h := hear(t, rate, x, 333)
		if got := fmt.Sprint(h.faults); got != c.want && !(len(h.faults) == 0 && c.want == "[]") {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
		clipped, still := 0, 0
		for _, f := range h.frames {
			clipped += f.Clipped
			if f.Still {
				still++
			}
		}
		if clipped != c.clipped {
			t.Errorf("%s: %d samples clipped, want %d", c.name, clipped, c.clipped)
		}
		if still != c.still {
			t.Errorf("%s: %d frames still, want %d", c.name, still, c.still)
		}
	}
}

// A clip is told when it is over, not at the end of the recording.
func TestClipIsToldInTime(t *testing.T) {
	m, err := New(8000, fs120, testSet())
	if err != nil {
		t.Fatal(err)
	}
	m.Push([]float64{1, 1, 1, 1})
	m.Push(noise(8000, 0.1))
	if n := len(m.Faults()); n != 1 {
		t.Errorf("%d faults told a second after a clip, want 1", n)
	}
}
