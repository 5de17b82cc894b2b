package align

import (
	"fmt"
	"io"
	"math"
	"slices"
)

// track is a recording at the rate of the comparison: sample i stands at startS + i / rateHz. Where nothing
// came there are zeros.
type track struct {
	rateHz  float64
	startS  float64
	samples []float32
}

func (t *track) seconds() float64 { return float64(len(t.samples)) / t.rateHz }

// silent tells whether there is nothing, or nothing but a constant, to be heard.
func (t *track) silent() bool {
	var mean, square float64
	edge := int(0.02 * t.rateHz) // where a constant begins and ends there is a step
	inner := t.samples[min(edge, len(t.samples)):max(min(edge, len(t.samples)), len(t.samples)-edge)]
	for _, v := range inner {
		mean += float64(v)
		square += float64(v) * float64(v)
	}
	n := float64(len(inner))
	mean /= n
	return !(square/n-mean*mean > 1e-14) // 140 dB below full scale
}

const (
	mostSeconds = 12 * 3600 // a longer recording is taken for a damaged one
	jumpS       = 0.0002    // samples that are further off than that are placed anew
)

// read brings a recording to a rate.
func read(s Sound, rateHz float64) (*track, error) {
	t := &track{rateHz: rateHz}
	var c *converter
	in := s.RateHz()
	var beginS float64 // of the stretch without jumps
	var n int64        // samples in it
	for {
		atS, x, err := s.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		if len(x) == 0 {
			continue
		}
		if c == nil {
			t.startS = atS
		}
		if !(atS-t.startS < mostSeconds) {
			return nil, fmt.Errorf("found sound at %g s, expected no recording longer than %d hours: align a part of it", atS, mostSeconds/3600)
		}
		if c == nil || math.Abs(beginS+float64(n)/in-atS) > jumpS {
			if c != nil {
				c.flush()
			}
			c = newConverter(t, in, atS)
			beginS, n = atS, 0
		}
		c.add(x)
		n += int64(len(x))
	}
	if c != nil {
		c.flush()
	}
	return t, nil
}

// converter brings a stretch without jumps to the rate of a track: it halves the rate while it can, and
// then interpolates.
type converter struct {
	to     *track
	halves []halver
	rateHz float64 // after halving
	beginS float64 // instant of buf[0]
	buf    []float64
	kernel [][]float32 // by phase
	next   int         // sample of the track
}

const (
	phases    = 128 // places between two samples that the kernel is made for
	crossings = 4   // zero crossings of the kernel on each side
)

func newConverter(to *track, rateHz, atS float64) *converter {
	c := &converter{to: to, rateHz: rateHz, beginS: atS}
	for c.rateHz >= 4*to.rateHz {
		// A halver's first output lies in the middle of the first four samples of its input, of which one was
		// before the beginning.
		c.beginS += 0.5 / c.rateHz
		c.rateHz /= 2
		c.halves = append(c.halves, halver{})
	}
	half := c.half()
	c.kernel = kernels(half, 0.9*min(to.rateHz/c.rateHz, 1))
	// Silence before the beginning, for the kernel to stand on.
	c.buf = make([]float64, half, 1<<15)
	c.beginS -= float64(half) / c.rateHz
	c.next = max(len(to.samples), int(math.Ceil((atS-to.startS)*to.rateHz-1e-6)))
	for len(to.samples) < c.next {
		to.samples = append(to.samples, 0)
	}
	return c
}

// half returns how many samples the kernel reaches on each side.
func (c *converter) half() int {
	return int(math.Ceil(crossings / (0.9 * min(c.to.rateHz/c.rateHz, 1))))
}

// kernels returns a low-pass at a share of the Nyquist frequency, for every phase.
func kernels(half int, share float64) [][]float32 {
	out := make([][]float32, phases+1)
	for p := range out {
		k := make([]float32, 2*half)
		var sum float64
		v := make([]float64, 2*half)
		for i := range k {
			x := float64(i-half+1) - float64(p)/phases
			w := math.Cos(math.Pi / 2 * x / float64(half))
			v[i] = sinc(x*share) * share * w * w
			sum += v[i]
		}
		for i := range k {
			k[i] = float32(v[i] / sum)
		}
		out[p] = k
	}
	return out
}

func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

func (c *converter) add(x []float64) {
	for i := range c.halves {
		x = c.halves[i].add(x)
	}
	c.buf = append(c.buf, x...)
	if len(c.buf) > 1<<14 {
		c.convert()
	}
}

// convert makes the samples of the track whose surroundings are there.
func (c *converter) convert() {
	half := c.half()
	step := c.rateHz / c.to.rateHz
	t := c.to
	at := (t.startS + float64(c.next)/t.rateHz - c.beginS) * c.rateHz // in samples of buf
	n := 0
	if expected := int(float64(len(c.buf))/step) + 2; cap(t.samples)-len(t.samples) < expected {
		t.samples = slices.Grow(t.samples, max(expected, len(t.samples))) // twofold: fewer copies than append makes
	}
	for ; ; n++ {
		x := at + float64(n)*step
		i := int(x)
		if i+half >= len(c.buf) {
			break
		}
		k := c.kernel[int((x-float64(i))*phases+0.5)]
		in := c.buf[i-half+1:][:len(k)]
		var s0, s1 float64
		for j := 0; j+1 < len(k); j += 2 {
			s0 += float64(k[j]) * in[j]
			s1 += float64(k[j+1]) * in[j+1]
		}
		t.samples = append(t.samples, float32(s0+s1))
	}
	c.next += n
	// What the next sample still reaches is kept.
	if drop := int(at+float64(n)*step) - half; drop > 0 {
		drop = min(drop, len(c.buf))
		c.buf = c.buf[:copy(c.buf, c.buf[drop:])]
		c.beginS += float64(drop) / c.rateHz
	}
}

func (c *converter) flush() {
	c.buf = append(c.buf, make([]float64, c.half())...)
	c.convert()
}

// halver halves a rate. Its filter (1 3 3 1) / 8 lets some of what lies near the new Nyquist frequency through;
// beside the noise of a camera that is nothing, and it takes two multiplications a sample.
type halver struct {
	held, out []float64
}

// add returns what comes out; it is valid until the next call.
func (h *halver) add(x []float64) []float64 {
	if h.held == nil {
		h.held = append(make([]float64, 0, len(x)+4), 0) // the sample before the first
	}
	h.held = append(h.held, x...)
	h.out = h.out[:0]
	i := 0
	for v := h.held; i+3 < len(v); i += 2 {
		h.out = append(h.out, (v[i]+v[i+3]+3*(v[i+1]+v[i+2]))*0.125)
	}
	h.held = h.held[:copy(h.held, h.held[i:])]
	return h.out
}
