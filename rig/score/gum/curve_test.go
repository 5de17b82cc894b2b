package gum

import (
	"bytes"
	"math"
	"os/exec"
	"strings"
	"testing"
)

func pairs(t *testing.T, words string) (ps [][2]float64) {
	f := strings.Fields(words)
	for i := 0; i+1 < len(f); i += 2 {
		ps = append(ps, [2]float64{number(t, f[i]), number(t, f[i+1])})
	}
	return ps
}

// Value and slope against testdata/pchip.csv, which another implementation of the same curve made
// (testdata/pchip.py names it).
func TestMonotoneAgainstPCHIP(t *testing.T) {
	curves := map[string]bool{}
	for _, row := range table(t, "testdata/pchip.csv") {
		curves[row["curve"]] = true
		c, err := NewCurve(pairs(t, row["points"]), Monotone, Refuse)
		if err != nil {
			t.Fatal(row["curve"], err)
		}
		x, slope := number(t, row["x"]), number(t, row["slope"])
		r, err := c.At(x)
		if err != nil || !near(r.Y, number(t, row["y"]), 1e-12*maxPoints) || r.Y != c.Value(x) {
			t.Errorf("%s at %g: %.15g, %v, want %s", row["curve"], x, r.Y, err, row["y"])
		}
		steepest := maxPoints / (r.X1 - r.X0)
		if !near(r.Slope, slope, 1e-11*steepest) {
			t.Errorf("%s at %g: slope %.15g, want %s", row["curve"], x, r.Slope, row["slope"])
		}
	}
	if len(curves) < 12 {
		t.Errorf("%d curves, expected a dozen", len(curves))
	}
}

// The table is what its script makes: to rounding, for another version may add up otherwise.
func TestPCHIPTableIsReproducible(t *testing.T) {
	out, err := exec.Command("/usr/bin/python3", "testdata/pchip.py").Output()
	if err != nil {
		t.Skip("needs Debian's python3-scipy:", err)
	}
	want := table(t, "testdata/pchip.csv")
	path := t.TempDir() + "/pchip.csv"
	writeFile(t, path, bytes.NewReader(out))
	got := table(t, path)
	if len(got) != len(want) {
		t.Fatalf("%d rows, the table has %d", len(got), len(want))
	}
	for i := range got {
		if got[i]["points"] != want[i]["points"] || got[i]["x"] != want[i]["x"] || !near(number(t, got[i]["y"]), number(t, want[i]["y"]), 1e-12) {
			t.Errorf("row %d: %v, the table has %v", i+1, got[i], want[i])
		}
	}
}

func TestLinearReadings(t *testing.T) {
	c := must(NewCurve([][2]float64{{30, 10}, {60, 6}, {240, 0}}, Linear, Flat))
	for _, w := range []struct {
		x float64
		Reading
	}{
		{20, Reading{10, 0, 0, 30, 10, 60, 6, -1}},
		{30, Reading{10, -4. / 30, 0, 30, 10, 60, 6, 0}},
		{45, Reading{8, -4. / 30, 0, 30, 10, 60, 6, 0}},
		{60, Reading{6, -6. / 180, 1, 60, 6, 240, 0, 0}},
		{150, Reading{3, -6. / 180, 1, 60, 6, 240, 0, 0}},
		{240, Reading{0, -6. / 180, 1, 60, 6, 240, 0, 0}},
		{math.Inf(1), Reading{0, 0, 1, 60, 6, 240, 0, 1}},
	} {
		r, err := c.At(w.x)
		if r.Y, w.Y = r.Y-w.Y, 0; err != nil || !near(r.Y, 0, 1e-14) {
			t.Errorf("at %g: off by %g, %v", w.x, r.Y, err)
		}
		if r.Y = 0; r != w.Reading {
			t.Errorf("at %g: %+v, want %+v", w.x, r, w.Reading)
		}
	}
	c = must(NewCurve(c.Points(), Linear, Refuse))
	_, err := c.At(241)
	refused(t, "outside", err, "241", "30 to 240")
	_, err = c.At(math.NaN())
	refused(t, "NaN", err)
	_, err = (&Curve{}).At(1)
	refused(t, "no curve", err)
	if c.Value(241) != 0 || c.Value(-1) != 10 || !math.IsNaN(c.Value(math.NaN())) || !math.IsNaN((&Curve{}).Value(1)) {
		t.Error("Value outside, of NaN or without points")
	}
}

func TestCurveRefuses(t *testing.T) {
	p := func(xy ...float64) (ps [][2]float64) {
		for i := 0; i < len(xy); i += 2 {
			ps = append(ps, [2]float64{xy[i], xy[i+1]})
		}
		return ps
	}
	for name, c := range map[string]struct {
		points         [][2]float64
		shape, outside string
		words          []string
	}{
		"shape":      {p(0, 0, 1, 1), "cubic", Flat, []string{"cubic", Linear, Monotone}},
		"outside":    {p(0, 0, 1, 1), Linear, "", []string{Flat, Refuse}},
		"one point":  {p(0, 0), Linear, Flat, []string{"1 points", "at least 2"}},
		"turned":     {p(0, 0, 60, 5, 50, 4), Linear, Flat, []string{"points 2 and 3", "[60, 5]", "[50, 4]"}},
		"twice":      {p(0, 0, 60, 5, 60, 4), Monotone, Flat, []string{"points 2 and 3", "[60, 5]", "[60, 4]", "leave one out"}},
		"NaN x":      {p(0, 0, math.NaN(), 5), Linear, Flat, []string{"point 2"}},
		"infinite x": {p(0, 0, math.Inf(1), 5), Linear, Flat, []string{"point 2"}},
		"NaN y":      {p(0, 0, 1, math.NaN()), Linear, Flat, []string{"point 2"}},
		"above 10":   {p(0, 0, 1, 10.5), Linear, Flat, []string{"point 2", "10.5", "0 to 10"}},
		"below 0":    {p(0, -1, 1, 1), Linear, Flat, []string{"point 1", "-1"}},
		"too far":    {p(-1e308, 0, 1e308, 1), Linear, Flat, []string{"points 1 and 2", "far"}},
		"too close":  {p(0, 0, 5e-324, 1), Monotone, Flat, []string{"points 1 and 2", "close"}},
	} {
		got, err := NewCurve(c.points, c.shape, c.outside)
		refused(t, name, err, c.words...)
		if got != nil {
			t.Errorf("%s: a curve beside the error", name)
		}
	}
}

// Over 1e5 random curves: between two points the curve moves only the way the points do, so it never
// leaves their range; it goes through each; flat stretches are flat.
func TestCurveProperties(t *testing.T) {
	src := NewPCG(5, 0)
	for k := range 100_000 {
		n := 2 + int(src.Uint64()%6)
		ps, x := make([][2]float64, n), 100*(Uniform(src)-0.5)
		for i := range ps {
			x += math.Pow(10, 6*Uniform(src)-3) // spacings from 0.001 to 1000
			ps[i] = [2]float64{x, math.Round(40*Uniform(src)) / 4}
		}
		shape := []string{Linear, Monotone}[k%2]
		c := must(NewCurve(ps, shape, Flat))
		for i := range n - 1 {
			a, b := ps[i], ps[i+1]
			if c.Value(a[0]) != a[1] || c.Value(b[0]) != b[1] {
				t.Fatalf("%s %v: %g and %g at points %d and %d", shape, ps, c.Value(a[0]), c.Value(b[0]), i+1, i+2)
			}
			sign, last := math.Copysign(1, b[1]-a[1]), a[1]
			for j := 1; j <= 17; j++ {
				y := c.Value(a[0] + (b[0]-a[0])*float64(j)/17)
				if j == 17 { // as near to the end as there is a number
					y = c.Value(math.Nextafter(b[0], a[0]))
				}
				if sign*(y-last) < -1e-13 || y < min(a[1], b[1]) || y > max(a[1], b[1]) {
					t.Fatalf("%s %v: %.17g after %.17g between points %d and %d", shape, ps, y, last, i+1, i+2)
				}
				last = y
			}
		}
	}
}

func BenchmarkCurveValue(b *testing.B) {
	ps := [][2]float64{{0, 10}, {0.01, 9.5}, {0.02, 8}, {0.05, 5}, {0.173, 1}, {0.5, 0}}
	src, xs := NewPCG(1, 0), make([]float64, 4096)
	for i := range xs {
		xs[i] = 0.5 * Uniform(src)
	}
	for _, shape := range []string{Linear, Monotone} {
		c := must(NewCurve(ps, shape, Flat))
		b.Run(shape, func(b *testing.B) {
			b.ReportAllocs()
			i, sum := 0, 0.0
			for b.Loop() {
				sum += c.Value(xs[i&4095])
				i++
			}
			if math.IsNaN(sum) {
				b.Fatal("NaN")
			}
		})
	}
}
