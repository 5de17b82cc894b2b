package series

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"quern/rig"
	"quern/rig/session"
	"quern/rig/wave"
)

// written writes a recording and returns it with its samples as a reader has them.
func written(t testing.TB, r *rand.Rand, enc wave.Encoding, rateHz float64, frames int, anchors []part) (*waveform, []float64) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "microphone.wav")
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	w, err := wave.Create(f, wave.Format{RateHz: int(rateHz), Channels: 1, Encoding: enc}, name)
	if err != nil {
		t.Fatal(err)
	}
	x, v := make([]float64, frames), 0.0
	for i := range x {
		v = 0.98*v + 0.1*r.NormFloat64() + 0.001
		x[i] = min(max(v/4, -1), 0.999)
	}
	for _, err := range []error{w.Write(x), w.Close(), f.Close()} {
		if err != nil {
			t.Fatal(err)
		}
	}
	e := session.StreamEntry{Channel: rig.Microphone, Form: rig.Waveform, Unit: rig.FullScale, RateHz: rateHz, File: "recordings/microphone.wav"}
	o, err := openWaveform(name, e, anchors)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { o.close() })
	o.factor = 1
	n, err := o.rec.Read(x, 1)
	if err != nil || n != frames {
		t.Fatal(n, err)
	}
	return o, x
}

// TestEnvelopeIsBruteForce compares views at all zooms, made of blocks and of samples, with what the samples
// whose instants lie in each column come to.
func TestEnvelopeIsBruteForce(t *testing.T) {
	const rate, frames = 4000.0, 90_000
	anchors := []part{{0, 0.25}, {20_000, 5.25 + 1.5}, {20_001, 8.5}, {50_000, 16.1001}, {70_000, 40}, {frames, 55}}
	for _, enc := range []wave.Encoding{wave.PCM8, wave.PCM16, wave.PCM24, wave.PCM32, wave.Float32, wave.Float64} {
		t.Run(enc.String(), func(t *testing.T) {
			r := rand.New(rand.NewPCG(5, uint64(enc)))
			w, x := written(t, r, enc, rate, frames, anchors)
			if err := w.sumUp(t.Context()); err != nil {
				t.Fatal(err)
			}
			w.job.End(nil)
			instants := make([]float64, frames)
			for i := range instants {
				instants[i] = w.base.startOf(int64(i))
			}
			for trial := range 60 {
				length := math.Pow(10, -3+5*r.Float64()) // 1 ms to 100 s
				from := -2 + 60*r.Float64()
				points := 1 + r.IntN(400)
				w.raw = rawFrames
				if trial%2 == 0 {
					w.raw = 0 // blocks wherever they fit
				}
				e, err := w.envelope(from, from+length, points)
				if err != nil {
					t.Fatal(err)
				}
				if e.Progress != 1 || len(e.Min) > points || len(e.Min) == 0 {
					t.Fatalf("progress %g, %d columns of %d", e.Progress, len(e.Min), points)
				}
				next := firstTrue(frames, func(i int) bool { return instants[i] >= e.FromS-1e-6/rate })
				for k := range e.Min {
					var s sum
					s.lo, s.hi = math.Inf(1), math.Inf(-1)
					end := e.FromS + float64(k+1)*e.StepS
					for ; next < frames && instants[next] < end-1e-6/rate; next++ {
						s.lo, s.hi, s.total, s.n = min(s.lo, x[next]), max(s.hi, x[next]), s.total+x[next], s.n+1
					}
					if none := e.Min[k] != e.Min[k]; none != (s.n == 0) {
						t.Fatalf("trial %d, column %d at %g s: %d samples, told %v", trial, k, end, s.n, !none)
					} else if none {
						continue
					}
					mean := s.total / float64(s.n)
					if e.Min[k] != float32(s.lo) || e.Max[k] != float32(s.hi) || !(math.Abs(float64(e.Mean[k])-mean) <= 1e-6) {
						t.Fatalf("trial %d, column %d at %g s: got %v %v %v, want %v %v %v", trial, k, end, e.Min[k], e.Max[k], e.Mean[k], s.lo, s.hi, mean)
					}
				}
			}
		})
	}
}

// TestDeepZoom: at less than a sample a column every sample has one of its own, in its middle.
func TestDeepZoom(t *testing.T) {
	w, x := written(t, rand.New(rand.NewPCG(1, 1)), wave.PCM16, 1000, 3000, nil)
	e, err := w.envelope(0.5004, 0.5204, 500)
	if err != nil {
		t.Fatal(err)
	}
	if len(e.Min) != 20 || e.StepS != 0.001 {
		t.Fatalf("%d columns of %g s, want 20 of 0.001", len(e.Min), e.StepS)
	}
	for k := range e.Min {
		i := 501 + k
		if at := e.FromS + (float64(k)+0.5)*e.StepS; !(math.Abs(at-float64(i)/1000) <= 1e-9) || e.Min[k] != float32(x[i]) || e.Max[k] != e.Min[k] || e.Mean[k] != e.Min[k] {
			t.Errorf("column %d at %g s: %g %g %g, want sample %d, %g", k, at, e.Min[k], e.Max[k], e.Mean[k], i, x[i])
		}
	}
}

// TestHalfDone: what is not summed up yet is told as empty, with the share that is.
func TestHalfDone(t *testing.T) {
	w, _ := written(t, rand.New(rand.NewPCG(1, 1)), wave.PCM16, 1000, 64*leastBlock, nil)
	if err := w.sumUp(t.Context()); err != nil {
		t.Fatal(err)
	}
	w.raw = 0
	w.done.Store(32)
	w.job.Reach(0.5)
	e, err := w.envelope(0, w.base.endS, 8)
	if err != nil {
		t.Fatal(err)
	}
	for k := range e.Min {
		if there := e.Min[k] == e.Min[k]; there != (k < 4) {
			t.Errorf("column %d there: %v", k, there)
		}
	}
	if e.Progress != 0.5 {
		t.Errorf("progress %g, want 0.5", e.Progress)
	}
	full, err := w.envelope(0.001, 0.002, 8) // of samples alone
	if err != nil || full.Progress != 1 {
		t.Errorf("a narrow view has progress %g (%v), want 1", full.Progress, err)
	}
}

func TestTimebase(t *testing.T) {
	b := newTimebase(10, 100, []part{{0, 1}, {20, 5}, {30, 5.5}, {10, 9}, {40, 4}, {500, 80}, {60, math.NaN()}, {60, 12.005}, {100, 30}})
	for _, c := range []struct {
		atS  float64
		want int64
	}{{-5, 0}, {0, 0}, {1, 0}, {1.05, 1}, {2.9, 19}, {3, 20}, {4.9, 20}, {5, 20}, {5.1, 21}, {5.49, 25}, {5.5, 30}, {8.5, 60}, {12, 60}, {12.005, 60}, {16.005, 100}, {99, 100}} {
		if got := b.frameAt(c.atS); got != c.want {
			t.Errorf("frame at %g s: %d, want %d", c.atS, got, c.want)
		}
	}
	if got := fmt.Sprintf("%.3f", b.gaps()); got != "[{0.000 1.000} {3.000 5.000} {8.500 12.005} {16.005 30.000}]" {
		t.Errorf("gaps %s", got)
	}
	if b.endS != 30 {
		t.Errorf("end %g, want 30", b.endS)
	}
	if got := b.timeAt(20); got != 3 {
		t.Errorf("the first part ends at %g s, want 3", got)
	}
	if got := b.startOf(20); got != 5 {
		t.Errorf("the second begins at %g s, want 5", got)
	}
	last := int64(0)
	for at := -1.0; at < 20; at += 0.013 {
		f := b.frameAt(at)
		if f < last {
			t.Fatalf("frame %d at %g s after frame %d", f, at, last)
		}
		last = f
	}
}

// TestScan compares the sums with what the codec reads.
func TestScan(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		b := binary.LittleEndian.AppendUint64(nil, math.Float64bits(v))
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(-0.5))
		if s := scan(b, wave.Float64); s != (sum{-0.5, 0, -0.5, 2}) {
			t.Errorf("%g and -0.5: %+v", v, s)
		}
		b = binary.LittleEndian.AppendUint32(nil, math.Float32bits(float32(v)))
		if s := scan(b, wave.Float32); s != (sum{0, 0, 0, 1}) {
			t.Errorf("%g: %+v", v, s)
		}
	}
	if s := scan([]byte{0, 0x80, 0xff, 0x7f, 1, 0}, wave.PCM16); s.lo != -1 || s.hi != 32767.0/32768 || s.n != 3 || s.total != 0 {
		t.Errorf("the extremes of 16 bits: %+v", s)
	}
	if s := scan(nil, wave.PCM24); s.n != 0 {
		t.Errorf("nothing: %+v", s)
	}
}

// TestPoints compares views of readings with brute force: what falls into a column, or what held before it.
func TestPoints(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		var p points
		at := 0.0
		for range 1 + r.IntN(300) {
			d := 0.05 + 0.1*r.Float64()
			if r.IntN(40) == 0 {
				p.gap(at+0.1, at+5)
				d = 5
			}
			at += d
			lo := float32(r.NormFloat64())
			p.add(at, lo, lo+float32(r.Float64()), lo+0.25)
		}
		from := -1 + (at+2)*r.Float64()
		e := newEnvelope(from, math.Pow(10, -3+4*r.Float64()), 1+r.IntN(50))
		p.envelope(&e)
		for k := range e.Min {
			a, b := e.FromS+float64(k)*e.StepS, e.FromS+float64(k+1)*e.StepS
			var lo, hi float32
			n, held := 0, -1
			for i, x := range p.at {
				if x >= a && x < b {
					if n == 0 || p.lo[i] < lo {
						lo = p.lo[i]
					}
					if n == 0 || p.hi[i] > hi {
						hi = p.hi[i]
					}
					n++
				}
				if x < a {
					held = i
				}
			}
			if n == 0 && held >= 0 && held+1 < len(p.at) {
				for _, g := range p.gaps {
					if g.toS > p.at[held] && g.fromS < a {
						n = -1
					}
				}
				if n == 0 {
					lo, hi, n = p.lo[held], p.hi[held], 1
				}
			}
			if there := e.Min[k] == e.Min[k]; there != (n > 0) || there && (e.Min[k] != lo || e.Max[k] != hi) {
				t.Fatalf("column %d from %g to %g s: got %g to %g, want %g to %g of %d", k, a, b, e.Min[k], e.Max[k], lo, hi, n)
			}
		}
	}
}

// TestPointsAreBounded: a long series keeps its extremes in a bounded number of points.
func TestPointsAreBounded(t *testing.T) {
	var p points
	n := 2*mostPoints + 12345
	for i := range n {
		v := float32(math.Sin(float64(i) / 1e5))
		if i == n/3 {
			v = 9
		}
		p.add(float64(i)/100, v, v, v)
	}
	if len(p.at) > mostPoints || p.every != 4 {
		t.Fatalf("%d points of %d values, want at most %d of 4", len(p.at), p.every, mostPoints)
	}
	e := newEnvelope(0, float64(n)/100/10, 10)
	p.envelope(&e)
	if e.Max[3] != 9 || e.Max[0] > 1 || e.Min[3] < -1 {
		t.Errorf("columns 0 and 3 reach %g and %g, want at most 1 and 9", e.Max[0], e.Max[3])
	}
}
