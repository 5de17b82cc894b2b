package sound

import "math"

// history is how many samples before the frame the numerator of the C weighting reaches.
const history = 3

// chain runs the weightings and the time weightings over frames.
type chain struct {
	w weighting
	// States: the numerator's last output; outputs of the high- and low-passes of C; of those of A.
	t, h1, h2, y1, y2 float64
	cBefore, a1, a2   float64
	aInBefore         float64
	aIn               []float64 // scratch for rates whose A weighting has a zero of its own

	f, s float64 // F and S mean squares
	// F and S advance by blocks of at most len(fDecay)-1 samples, at most 1/6 ms: within one, the
	// decay of F is 0.006 dB. x[n] holds for a block of n samples.
	fDecay, fGain, sDecay, sGain []float64
}

func newChain(w weighting, most int) chain {
	c := chain{w: w}
	block := max(1, int(w.rateHz/6000))
	for n := range block + 1 {
		for _, t := range []struct {
			tau         float64
			decay, gain *[]float64
		}{{fastS, &c.fDecay, &c.fGain}, {slowS, &c.sDecay, &c.sGain}} {
			// Per sample: y = d y + (1-d) x²; the block's energy is taken as if at its middle.
			d := math.Exp(-1 / (t.tau * w.rateHz))
			*t.decay = append(*t.decay, math.Pow(d, float64(n)))
			*t.gain = append(*t.gain, -math.Expm1(-1/(t.tau*w.rateHz))*math.Pow(d, float64(n-1)/2))
		}
	}
	if w.aZero != 0 {
		c.aIn = make([]float64, most)
	}
	return c
}

// rest sets the states as if the input had always been x: a constant offset of the input then yields
// exactly nothing from the first sample on, and no start transient.
func (c *chain) rest(x float64) {
	b := &c.w.b
	c.t = x + b[0]*x + b[1]*x + b[2]*x // in the order of weightC, so that the difference is exactly 0
}

// take weights a frame: in holds history and the frame; out receives the C-weighted samples without
// their gain. Of f it sets EA, EC and the time weightings, without gains, and CPeak: the largest
// magnitude of out.
func (c *chain) take(in, out []float64, f *Frame) {
	f.EC, f.CPeak = c.weightC(in, out)
	a := out
	if c.aIn != nil {
		a = c.aIn[:len(out)]
		for i, v := range out {
			a[i] = v + c.w.aZero*c.aInBefore
			c.aInBefore = v
		}
	}
	c.weightA(a, f)
	c.cut()
	f.FEnd, f.SEnd = c.f, c.s
}

// weightC also returns the energy of what it wrote. States live in locals: this loop and weightA's
// are most of the meter's work.
func (c *chain) weightC(in, out []float64) (energy, most float64) {
	b0, b1, b2, p1, p4 := c.w.b[0], c.w.b[1], c.w.b[2], c.w.p1, c.w.p4
	t, h1, h2, y1, y2 := c.t, c.h1, c.h2, c.y1, c.y2
	n := len(in) - history
	x0, x1, x2, x3 := in[3:], in[2:2+n], in[1:1+n], in[:n] // x3: three samples before x0
	x0, out = x0[:n], out[:n]
	for i, x := range x0 {
		u := x + b0*x1[i] + b1*x2[i] + b2*x3[i]
		h := (u - t) + p1*h1
		t = u
		h2 = (h - h1) + p1*h2
		h1 = h
		y1 = h2 + p4*y1
		y2 = y1 + p4*y2
		out[i] = y2
		e := y2 * y2
		energy += e
		if e > most {
			most = e
		}
	}
	c.t, c.h1, c.h2, c.y1, c.y2 = t, h1, h2, y1, y2
	return energy, math.Sqrt(most)
}

func (c *chain) weightA(in []float64, f *Frame) {
	p2, p3 := c.w.p2, c.w.p3
	before, a1, a2 := c.cBefore, c.a1, c.a2
	fast, slow, fmax, smax := c.f, c.s, 0.0, 0.0
	block := len(c.fDecay) - 1
	ea := 0.0
	for len(in) > 0 {
		n := min(block, len(in))
		e := 0.0
		for _, v := range in[:n] {
			a := (v - before) + p2*a1
			before = v
			a2 = (a - a1) + p3*a2
			a1 = a
			e += a2 * a2
		}
		in = in[n:]
		ea += e
		fast = c.fDecay[n]*fast + c.fGain[n]*e
		slow = c.sDecay[n]*slow + c.sGain[n]*e
		if fast > fmax {
			fmax = fast
		}
		if slow > smax {
			smax = slow
		}
	}
	c.cBefore, c.a1, c.a2, c.f, c.s = before, a1, a2, fast, slow
	f.EA, f.FMax, f.SMax = ea, fmax, smax
}

// cut ends what has all but died away.
func (c *chain) cut() {
	loudest := 0.0
	for _, v := range [...]float64{c.h1, c.h2, c.y1, c.y2, c.a1, c.a2} {
		loudest = max(loudest, math.Abs(v))
	}
	if loudest < faint {
		c.h1, c.h2, c.y1, c.y2, c.cBefore, c.a1, c.a2, c.aInBefore = 0, 0, 0, 0, 0, 0, 0, 0
	}
	if c.f < faint*faint {
		c.f = 0
	}
	if c.s < faint*faint {
		c.s = 0
	}
}
