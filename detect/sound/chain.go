package sound

import "math"

// history is how many samples before the frame the numerator of the C weighting reaches.
const history = 3

// chain runs the weightings and the time weightings over frames.
type chain struct {
	w      weighting
	treble treble
	// States: the numerator's last output; outputs of the high- and low-passes of C; of those of A.
	t, h1, h2, y1, y2 float64
	cBefore, a1, a2   float64
	// For rates whose A weighting has a numerator of its own: what reaches it, after as much of the frame before as
	// it has taps, and what it makes of it.
	aIn, aOut []float64

	blocks []float64 // energies of the A-weighted samples of the frame at hand
	f, s   float64   // F and S mean squares
	// F and S advance by blocks of at most len(fDecay)-1 samples, at most 1/6 ms: within one, the
	// decay of F is 0.006 dB. x[n] holds for a block of n samples.
	fDecay, fGain, sDecay, sGain []float64
}

func newChain(w weighting, most int) chain {
	c := chain{w: w, treble: newTreble(w.rateHz)}
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
	c.blocks = make([]float64, (most+block-1)/block)
	if n := len(w.aTaps); n > 0 {
		c.aIn, c.aOut = make([]float64, n+most), make([]float64, most)
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
// their gain. Of f it sets EA, EC, ET and the time weightings, without gains, and CPeak: the largest
// magnitude of out.
func (c *chain) take(in, out []float64, f *Frame) {
	c.weightC(in, out)
	f.EC, f.CPeak = squares(out)
	a := out
	if c.aIn != nil {
		a = c.shape(out)
	}
	f.ET = c.treble.through(c.fold(a))
	c.linger(len(a), f)
	c.cut()
	f.FEnd, f.SEnd = c.f, c.s
}

// weightC writes the C-weighted samples. States and factors live in locals: this loop and fold's are most of the meter's
// work.
func (c *chain) weightC(in, out []float64) {
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
	}
	c.t, c.h1, c.h2, c.y1, c.y2 = t, h1, h2, y1, y2
}

// shape runs the A weighting's own numerator over C-weighted samples.
func (c *chain) shape(in []float64) []float64 {
	n := len(c.w.aTaps)
	copy(c.aIn[n:], in)
	out := c.aOut[:len(in)]
	for i, v := range in {
		for k, tap := range c.w.aTaps {
			v += tap * c.aIn[n+i-1-k]
		}
		out[i] = v
	}
	copy(c.aIn, c.aIn[len(in):len(in)+n])
	return out
}

// squares is the sum of squares, and the largest magnitude.
func squares(x []float64) (sum, most float64) {
	i := 0
	for ; i < len(x)-3; i += 4 {
		a, b, c, d := x[i]*x[i], x[i+1]*x[i+1], x[i+2]*x[i+2], x[i+3]*x[i+3]
		sum += (a + b) + (c + d)
		if a > most || b > most || c > most || d > most { // seldom, but at first
			most = max(most, a, b, c, d)
		}
	}
	for ; i < len(x); i++ {
		a := x[i] * x[i]
		sum += a
		most = max(most, a)
	}
	return sum, math.Sqrt(most)
}

// fold runs the A weighting and the treble over C-weighted samples and returns the energy of the latter; that of the
// former goes to c.blocks. The two share their first difference, and while one waits for its last sample the other goes on.
func (c *chain) fold(in []float64) (treble float64) {
	// States are locals. The factors are left in memory, for there are more of both than registers, and so is
	// everything else that the loop does not need.
	t := &c.treble
	before, a1, a2 := c.cBefore, c.a1, c.a2
	d1, y1, y2, g1, u1, u2 := t.d1, t.y1, t.y2, t.g1, t.u1, t.u2
	block := len(c.fDecay) - 1
	blocks := c.blocks[:(len(in)+block-1)/block]
	for k := range blocks {
		n := min(block, len(in))
		e := 0.0
		for _, v := range in[:n] {
			d := v - before
			before = v
			a := d + c.w.p2*a1
			a2 = (a - a1) + c.w.p3*a2
			a1 = a
			e += a2 * a2
			y := (d - d1) - t.first.a2*y2 - t.first.a1*y1
			d1 = d
			g := y - y1
			y1, y2 = y, y1
			u := (g - g1) - t.second.a2*u2 - t.second.a1*u1
			g1 = g
			u1, u2 = u, u1
			treble += u * u
		}
		in = in[n:]
		blocks[k] = e
	}
	c.cBefore, c.a1, c.a2 = before, a1, a2
	t.d1, t.y1, t.y2, t.g1, t.u1, t.u2 = d1, y1, y2, g1, u1, u2
	return treble
}

// linger runs the time weightings over the blocks of n samples.
func (c *chain) linger(n int, f *Frame) {
	ea, fast, slow, fmax, smax := 0.0, c.f, c.s, 0.0, 0.0
	k := len(c.fDecay) - 1
	blocks := c.blocks[:(n+k-1)/k]
	whole := n / k
	fDecay, fGain, sDecay, sGain := c.fDecay[k], c.fGain[k], c.sDecay[k], c.sGain[k]
	for i, e := range blocks {
		if i == whole { // the last, shorter one
			k = n % k
			fDecay, fGain, sDecay, sGain = c.fDecay[k], c.fGain[k], c.sDecay[k], c.sGain[k]
		}
		ea += e
		fast = fDecay*fast + fGain*e
		slow = sDecay*slow + sGain*e
		if fast > fmax {
			fmax = fast
		}
		if slow > smax {
			smax = slow
		}
	}
	f.EA = ea
	c.f, c.s, f.FMax, f.SMax = fast, slow, fmax, smax
}

// cut ends what has all but died away.
func (c *chain) cut() {
	loudest := 0.0
	for _, v := range [...]float64{c.h1, c.h2, c.y1, c.y2, c.a1, c.a2} {
		loudest = max(loudest, math.Abs(v))
	}
	if loudest < faint {
		c.h1, c.h2, c.y1, c.y2, c.cBefore, c.a1, c.a2 = 0, 0, 0, 0, 0, 0, 0
		clear(c.aIn)
	}
	if c.f < faint*faint {
		c.f = 0
	}
	if c.s < faint*faint {
		c.s = 0
	}
}
