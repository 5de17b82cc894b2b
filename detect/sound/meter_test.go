package sound

import (
	"encoding/csv"
	"math"
	"os"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"quern/config"
)

// table reads a table of testdata/reference: one map from column to cell a row.
func table(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../../testdata/reference/" + name)
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
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, cell := range row {
			m[rows[0][i]] = cell
		}
		out = append(out, m)
	}
	if len(out) == 0 {
		t.Fatalf("%s: no rows", name)
	}
	return out
}

func number(t testing.TB, row map[string]string, column string) float64 {
	t.Helper()
	s, ok := row[column]
	if !ok {
		t.Fatalf("no column %s", column)
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// heard is everything a meter gave for one recording.
type heard struct {
	frames []Frame
	bands  []BandFrame
	faults []Fault
}

const fs120 = 120 // dB of a full-scale sine, in most tests

// hear runs a meter over x, cut into blocks of the given length (0: whole).
func hear(t testing.TB, rate float64, x []float64, cut int) heard {
	t.Helper()
	m, err := New(rate, fs120, testSet())
	if err != nil {
		t.Fatal(err)
	}
	if cut == 0 {
		cut = max(1, len(x))
	}
	var h heard
	take := func() {
		h.frames = append(h.frames, m.Frames()...)
		for _, b := range m.Bands() {
			b.E = append([]float64(nil), b.E...)
			h.bands = append(h.bands, b)
		}
		h.faults = append(h.faults, m.Faults()...)
	}
	for len(x) > 0 {
		n := min(cut, len(x))
		m.Push(x[:n])
		take()
		x = x[n:]
	}
	m.Finish()
	take()
	return h
}

// levels are those of the frames that begin at or after fromS.
type levels struct{ laeq, lceq, lzeq, lafmax, lasmax, lcpeak, lae float64 }

func (h heard) levels(fromS float64) levels {
	var a, c, z, s, f, sl, p float64
	for _, fr := range h.frames {
		if fr.StartS < fromS-1e-9 {
			continue
		}
		a, c, z, s = a+fr.EA, c+fr.EC, z+fr.EZ, s+fr.EndS-fr.StartS
		f, sl, p = max(f, fr.FMax), max(sl, fr.SMax), max(p, fr.CPeak)
	}
	return levels{LevelDB(a / s), LevelDB(c / s), LevelDB(z / s), LevelDB(f), LevelDB(sl), LevelDB(p * p), LevelDB(a)}
}

// bandLevels are the equivalent levels of the bands over the frames that begin at or after fromS.
func (h heard) bandLevels(fromS float64) [len(NominalHz)]float64 {
	var e, s [len(NominalHz)]float64
	for _, b := range h.bands {
		if b.StartS < fromS {
			continue
		}
		for i, v := range b.E {
			e[b.First+i] += v
			s[b.First+i] += b.EndS - b.StartS
		}
	}
	for i := range e {
		e[i] = LevelDB(e[i] / s[i])
	}
	return e
}

func sine(rate, hz, peak, seconds float64) []float64 {
	x := make([]float64, int(math.Round(seconds*rate)))
	for i := range x {
		x[i] = peak * math.Sin(2*math.Pi*hz*float64(i)/rate)
	}
	return x
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %.4f, want %.4f within %g", what, got, want, within)
	}
}

// mixed is a recording with everything in it: sound, a clip, a dead stretch, broken numbers.
func mixed(rate float64, seconds float64) []float64 {
	x := hum(int(seconds*rate), rate)
	n := len(x)
	for i := n / 4; i < n/4+7; i++ {
		x[i] = 1
	}
	for i := n / 3; i < n/3+int(0.7*rate) && i < n; i++ {
		x[i] = 0.01
	}
	x[n/5], x[n/5+1], x[n/5+2] = math.NaN(), math.Inf(-1), 1e300
	return x
}

func TestCutsNeverMatter(t *testing.T) {
	for _, rate := range []float64{1000, 1234.5, 8000, 22050, 44100, 48000, 192000} {
		x := mixed(rate, 3.017)
		whole := hear(t, rate, x, 0)
		cuts := []int{7, 480, 4096, 5000}
		if rate <= 8000 {
			cuts = append(cuts, 1)
		}
		for _, cut := range cuts {
			got := hear(t, rate, x, cut)
			if !reflect.DeepEqual(got.frames, whole.frames) {
				t.Errorf("%g Hz, cut %d: frames differ from those of the whole", rate, cut)
			}
			if !reflect.DeepEqual(got.faults, whole.faults) {
				t.Errorf("%g Hz, cut %d: faults differ: %v, whole %v", rate, cut, got.faults, whole.faults)
			}
			if !reflect.DeepEqual(got.bands, whole.bands) {
				t.Errorf("%g Hz, cut %d: bands differ from those of the whole", rate, cut)
			}
		}
		for _, f := range whole.frames {
			for _, v := range []float64{f.EA, f.EC, f.EZ, f.FMax, f.SMax, f.CPeak} {
				if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
					t.Fatalf("%g Hz: frame at %g s is broken: %+v", rate, f.StartS, f)
				}
			}
		}
	}
}

func TestFramesTile(t *testing.T) {
	for _, rate := range []float64{1000, 8000, 11025, 44100, 48000, 192000} {
		for _, n := range []int{1, 3, 9, int(0.01*rate) - 1, int(0.5 * rate), int(rate) + 17, int(5.3*rate) + 1} {
			h := hear(t, rate, noise(n, 0.1), 1000)
			end := float64(n) / rate
			at := 0.0
			for k, f := range h.frames {
				if f.StartS != at || f.EndS <= f.StartS {
					t.Fatalf("%g Hz, %d samples: frame %d is %v..%v, expected to begin at %v", rate, n, k, f.StartS, f.EndS, at)
				}
				if want := math.Round(float64(k)*rate/100) / rate; f.StartS != want {
					t.Fatalf("%g Hz: frame %d begins at %v, want %v", rate, k, f.StartS, want)
				}
				at = f.EndS
			}
			if at != end {
				t.Errorf("%g Hz, %d samples: frames end at %v, want %v", rate, n, at, end)
			}
			groups := map[int]float64{}
			seen := 0
			for _, b := range h.bands {
				if b.StartS != groups[b.First] || b.EndS <= b.StartS {
					t.Fatalf("%g Hz, %d samples: band frame %d is %v..%v, expected to begin at %v", rate, n, b.First, b.StartS, b.EndS, groups[b.First])
				}
				if b.StartS == 0 {
					seen += len(b.E)
				}
				groups[b.First] = b.EndS
			}
			for first, e := range groups {
				if !(math.Abs(e-end) <= 1e-9) {
					t.Errorf("%g Hz, %d samples: band group %d ends at %v, want %v", rate, n, first, e, end)
				}
			}
			want := 0
			m, err := New(rate, fs120, testSet())
			if err != nil {
				t.Fatal(err)
			}
			for i := range NominalHz {
				if m.Measurable(i) {
					want++
				}
			}
			if seen != want {
				t.Errorf("%g Hz, %d samples: %d bands told, %d are measurable", rate, n, seen, want)
			}
		}
	}
}

func TestNothingPushed(t *testing.T) {
	h := hear(t, 48000, nil, 0)
	if len(h.frames)+len(h.bands)+len(h.faults) > 0 {
		t.Errorf("a meter that heard nothing told %+v", h)
	}
}

func TestAfterFinish(t *testing.T) {
	m, err := New(8000, fs120, testSet())
	if err != nil {
		t.Fatal(err)
	}
	m.Push(noise(800, 0.1))
	m.Finish()
	n, b := len(m.Frames()), len(m.Bands())
	m.Push(noise(800, 0.1))
	m.Finish()
	if n != 10 || b == 0 || len(m.Frames())+len(m.Bands()) > 0 {
		t.Errorf("found %d frames and %d band frames at Finish, expected 10 and some, and nothing after", n, b)
	}
}

func TestNewRefuses(t *testing.T) {
	set := testSet()
	none := set
	none.ClipSamples = 0
	for _, c := range []struct {
		rate, fs float64
		set      config.DetectSound
		want     string
	}{
		{999, 120, set, "sample rate of 999 Hz, expected 1000 to 192000 Hz"},
		{math.NaN(), 120, set, "sample rate"},
		{192001, 120, set, "sample rate"},
		{48000, math.NaN(), set, "calibrate the microphone"},
		{48000, math.Inf(1), set, "calibrate the microphone"},
		{48000, 120, none, "clip_samples 0"},
	} {
		_, err := New(c.rate, c.fs, c.set)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%g Hz, %g dB: got error %v, want one with %q", c.rate, c.fs, err, c.want)
		}
	}
}

// A constant offset of the input is heard by the flat exposure only, from the first sample on.
func TestOffsetIsNotSound(t *testing.T) {
	for _, rate := range []float64{8000, 44100, 48000, 192000} {
		x := make([]float64, int(rate))
		for i := range x {
			x[i] = 0.3
		}
		h := hear(t, rate, x, 0)
		for _, f := range h.frames {
			if f.EA != 0 || f.EC != 0 || f.FMax != 0 || f.SMax != 0 || f.CPeak != 0 {
				t.Fatalf("%g Hz: a constant offset gave %+v", rate, f)
			}
		}
		for _, b := range h.bands {
			for i, e := range b.E {
				if e != 0 {
					t.Fatalf("%g Hz: a constant offset gave %g Pa² s in band %d", rate, e, b.First+i)
				}
			}
		}
		near(t, "flat level of an offset of 0.3", h.levels(0).lzeq, fs120+20*math.Log10(0.3*math.Sqrt2), 1e-9)
	}
	// With sound on top, nothing but a trace of it shows.
	x := sine(48000, 1000, 0.1, 2)
	want := hear(t, 48000, x, 0).levels(0)
	for i := range x {
		x[i] += 0.2
	}
	got := hear(t, 48000, x, 0).levels(0)
	near(t, "LAeq with offset", got.laeq, want.laeq, 1e-9)
	near(t, "LCpeak with offset", got.lcpeak, want.lcpeak, 1e-9)
	near(t, "LAFmax with offset", got.lafmax, want.lafmax, 1e-9)
}

// Filter states that die away must not become denormal numbers: they cost a hundred times the time.
func TestStatesDieOut(t *testing.T) {
	m, err := New(48000, fs120, testSet())
	if err != nil {
		t.Fatal(err)
	}
	m.Push(sine(48000, 1000, 0.5, 0.1))
	quiet := make([]float64, 48000)
	for range 60 {
		m.Push(quiet)
		m.Frames()
		m.Bands()
	}
	c := m.chain
	for i, v := range []float64{c.h1, c.h2, c.y1, c.y2, c.a1, c.a2, c.f, c.s} {
		if v != 0 && math.Abs(v) < 1e-200 {
			t.Errorf("state %d is %g", i, v)
		}
	}
}
