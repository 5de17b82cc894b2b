package recording

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"quern/rig"
)

// invented writes a table of n rows at rateHz; at changes the time of a row, and says whether it is there.
func invented(n int, rateHz float64, format string, at func(i int, s float64) (float64, bool)) string {
	var b bytes.Buffer
	b.WriteString("time_s,current_a\n")
	for i := range n {
		s, there := float64(i)/rateHz, true
		if at != nil {
			s, there = at(i, s)
		}
		if there {
			if format == "" {
				b.WriteString(decimal(s))
			} else {
				fmt.Fprintf(&b, format, s)
			}
			b.WriteByte(',')
			b.Write(strconv.AppendInt(nil, int64(i%200-100), 10))
			b.WriteByte('\n')
		}
	}
	return b.String()
}

// The rate is found from rounded times: exactly where it is a whole number, else so well that the
// last row is where its time says, within the worth of its last digit.
func TestPace(t *testing.T) {
	for _, tt := range []struct {
		rateHz float64
		format string
		digitS float64
		n      int
	}{
		{1000, "%.3f", 1e-3, 3000},
		{1000, "", 0, 3},
		{2000, "%.4f", 1e-4, 20000},
		{4000, "%.4f", 1e-4, 200000}, // 0.25 ms told in tenths of a millisecond
		{8000, "%.4f", 1e-4, 100000},
		{4000, "%.5f", 1e-5, 2},
		{8000, "%.6f", 1e-6, 5000},
		{44100, "%.6f", 1e-6, 100000},
		{44100, "", 0, 10000},
		{48000, "%.9f", 1e-9, 10000},
		{51200, "%.5f", 1e-5, 60000},
		{192000, "%.6f", 1e-6, 200000},
		{192000, "%.18e", 0, 10000},
		{4000, "%.6e", 1e-4, 100000}, // 25 s: digits worth 10 µs at the end
		{4000, "%.8g", 1e-6, 100000},
		{3333.25, "%.6f", 1e-6, 100000},
		{1e4 / 3, "%.4f", 1e-4, 10},
		{7812.5, "%.6f", 1e-6, 200000},
		{7812.5, "%.6f", 1e-6, 100},
		{6000 * 1.00002, "", 0, 20000}, // a clock that is 20 ppm off
	} {
		name := fmt.Sprintf("%v Hz %s, %d rows", tt.rateHz, tt.format, tt.n)
		stream, got, err := readTable(t, openClampTable, invented(tt.n, tt.rateHz, tt.format, nil))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if stream.Form != rig.Waveform || stream.Unit != rig.Ampere {
			t.Errorf("%s: got %v", name, stream)
		}
		length := float64(tt.n - 1)
		if off := math.Abs(length/stream.RateHz - length/tt.rateHz); off > tt.digitS*1.01+1e-9 {
			t.Errorf("%s: got %v Hz, %v s off at the end", name, stream.RateHz, off)
		}
		if tt.rateHz == math.Round(tt.rateHz) && stream.RateHz != tt.rateHz {
			t.Errorf("%s: got %v Hz", name, stream.RateHz)
		}
		x := got.samples["test"]
		if len(x) != tt.n || x[0] != -100 || x[tt.n-1] != float64((tt.n-1)%200-100) {
			t.Errorf("%s: got %d samples", name, len(x))
		}
	}
}

// Rows that are missing, or that are not at one step, are refused at their line; what rounding and a
// logger's jitter do is not.
func TestUneven(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	without := func(from, to int) func(int, float64) (float64, bool) {
		return func(i int, s float64) (float64, bool) { return s, i < from || i >= to }
	}
	for _, tt := range []struct {
		name   string
		n      int
		rateHz float64
		format string
		at     func(i int, s float64) (float64, bool)
		line   int // of the error, 0: none; rows before count from line 2
		later  int // lines by which it may come later
		want   string
	}{
		{"one row of few", 1000, 4000, "%.6f", without(500, 501), 502, 0, "found time_s 0.12525, 2 steps of 0.00025 s after the row before, expected rows at one constant step: rows are missing here"},
		{"half a second of rows", 20000, 4000, "%.6f", without(9000, 11000), 9002, 0, "found time_s 2.75, 2001 steps of 0.00025 s after"},
		{"one row of many", 50000, 4000, "%.5f", without(30000, 30001), 30002, 0, "2 steps of 0.00025 s"},
		{"first rows", 20000, 8000, "%.6f", without(1, 3), 3, 0, "3 steps of 0.000125 s"},
		{"many rows", 50000, 8000, "", without(4000, 9000), 4002, 0, "rows are missing here"},
		{"times that are too coarse", 50000, 8000, "%.4f", without(20000, 20003), 20002, 4, "steps of"},
		{"a row too many", 9000, 4000, "%.6f", func(i int, s float64) (float64, bool) {
			if i >= 5000 {
				s = float64(i-1)/4000 + 1e-6
			}
			return s, true
		}, 5002, 0, "0.004 steps of 0.00025 s after the row before, expected rows at one constant step: export every row"},
		{"half the rate from here on", 9000, 4000, "%.6f", func(i int, s float64) (float64, bool) { return s, i < 6000 || i%2 == 0 }, 6003, 0, "2 steps of"},
		{"a little slower from here on", 9000, 4000, "%.7f", func(i int, s float64) (float64, bool) { return s + max(0, s-1.5)*0.01, true }, 6002, 3, "a step of 0.0002525 s after rows 0.00025 s apart"},
		{"another step from here on", 3999, 1000, "%.6f", func(i int, s float64) (float64, bool) { return s - max(0, s-2.999)/2, true }, 3002, 0,
			"found a step of 0.0005 s after rows 0.001 s apart, expected rows at one constant step: export at a constant rate"},
		{"another step later on", 9000, 1000, "%.6f", func(i int, s float64) (float64, bool) { return s + max(0, s-6.999)*0.2, true }, 7002, 1,
			"found a step of 0.0012 s after rows 0.001 s apart"},
		{"another step soon", 3999, 1000, "%.6f", func(i int, s float64) (float64, bool) { return s + max(0, s-0.1)*0.3, true }, 103, 0,
			"found a step of 0.0013 s after rows 0.001 s apart"},
		{"jitter of a fifth of a step", 20000, 4000, "", func(i int, s float64) (float64, bool) {
			if i > 0 {
				s += (rng.Float64() - 0.5) * 0.4 / 4000
			}
			return s, true
		}, 0, 0, ""},
		{"a row that came late", 20000, 7812.5, "%.6f", func(i int, s float64) (float64, bool) {
			if i == 10 {
				s += 0.4 / 7812.5
			}
			return s, true
		}, 0, 0, ""},
		{"half a step late at first", 20000, 4000, "%.6f", func(i int, s float64) (float64, bool) { return s + 0.5/4000, true }, 0, 0, ""},
	} {
		stream, got, err := readTable(t, openClampTable, invented(tt.n, tt.rateHz, tt.format, tt.at))
		if tt.line == 0 {
			if err != nil || !(math.Abs(stream.RateHz/tt.rateHz-1) <= 1e-4) || len(got.samples["test"]) != tt.n {
				t.Errorf("%s: got %v, %d samples, %v", tt.name, stream, len(got.samples["test"]), err)
			}
			continue
		}
		fe, _ := err.(*rig.FileError)
		if fe == nil || fe.Line < tt.line || fe.Line > tt.line+tt.later || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: got %v, want line %d: %s", tt.name, err, tt.line, tt.want)
		}
	}
}

// Reading on takes no memory: a long recording needs no more than a short one.
func TestNoGrowth(t *testing.T) {
	text := invented(200000, 4000, "%.6f", nil)
	tr, err := openClampTable(strings.NewReader(text), int64(len(text)), "test.csv")
	if err != nil {
		t.Fatal(err)
	}
	s := &Source{tracks: []*track{tr}}
	if n := testing.AllocsPerRun(100, func() {
		if _, err := s.Next(); err != nil {
			t.Fatal(err)
		}
	}); n > 0 {
		t.Errorf("%v allocations a block", n)
	}
}

func FuzzClampCSV(f *testing.F) {
	f.Add(invented(5, 4000, "%.5f", nil))
	f.Add("time_s,current_a\n0,1\n0.0005,-2\n0.0010,3\n0.002,4\n")
	f.Add("\ufeffrms_a,time_s\r\n1.5,0\r\n2,0.02\r\n\r\n")
	f.Add("time_s;rms_a\n0;1,5\n")
	f.Add("time_s,current_a\n1e-4,1\n2e-4,1\n3.0e-4,1e3\n")
	f.Fuzz(func(t *testing.T, text string) { fuzz(t, openClampTable, text) })
}

func FuzzScaleCSV(f *testing.F) {
	f.Add("time_s,mass_g,stable\n0,12.5,0\n0.1,12.4,1\n")
	f.Add("\ufefftime_s , \"mass_g\"\r\n 0 ,  1e1 \r\n\"1\", \"2\" \r\n\r\n")
	f.Add("time_s,mass_g\n0,\"12,4\"\n")
	f.Add("time_s,mass_g\n0,1\n\n1,2\n")
	f.Fuzz(func(t *testing.T, text string) { fuzz(t, openScaleTable, text) })
}

// fuzz reads a table; readTable compares whole with drip and looks at the error.
func fuzz(t *testing.T, open opener, text string) {
	_, a, err := readTable(t, open, text)
	last := math.Inf(-1)
	for _, r := range a.readings["test"] {
		if !(r.AtS > last) || r.AtS < 0 || r.Value-r.Value != 0 {
			t.Fatalf("%q: reading %v after %v", text, r, last)
		}
		last = r.AtS
	}
	for _, v := range a.samples["test"] {
		if v-v != 0 {
			t.Fatalf("%q: sample %v", text, v)
		}
	}
	rows := strings.Count(text, "\n")
	if n := len(a.readings["test"]) + len(a.samples["test"]); n > rows || err == nil && n == 0 {
		t.Fatalf("%q: %d values of %d rows", text, n, rows)
	}
}

func BenchmarkClampCSV(b *testing.B) {
	text := invented(400000, 4000, "%.6f", nil)
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		tr, err := openClampTable(strings.NewReader(text), int64(len(text)), "test.csv")
		if err != nil {
			b.Fatal(err)
		}
		if _, err := readAll(&Source{tracks: []*track{tr}}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkScaleCSV(b *testing.B) {
	var text strings.Builder
	text.WriteString("time_s,mass_g,stable\n")
	for i := range 200000 {
		fmt.Fprintf(&text, "%.3f,%.1f,%d\n", float64(i)/10, 2500+math.Sin(float64(i)), i&1)
	}
	b.SetBytes(int64(text.Len()))
	for b.Loop() {
		tr, err := openScaleTable(strings.NewReader(text.String()), int64(text.Len()), "test.csv")
		if err != nil {
			b.Fatal(err)
		}
		for err == nil {
			_, _, err = tr.next()
		}
	}
}
