package sound

import "math"

// TrebleHz is where the treble of a frame begins. Speech carries little above (its formants lie below some
// 3.5 kHz, ITU-T telephony has always cut it at 3.4 kHz); what cracks, rattles or hisses carries much.
const TrebleHz = 4000.0

// trebleLeast is the least sample rate, in TrebleHz, at which enough of the treble is in the samples.
const trebleLeast = 2.5

// treble is a Butterworth high-pass of fourth order.
type treble struct {
	on     bool
	first  section
	second section

	x1, x2, y1, y2, u1, u2 float64 // the last two samples, and what each section made of them
}

// section is one half of it.
type section struct{ b0, a1, a2 float64 }

func newTreble(rateHz float64) treble {
	if rateHz < trebleLeast*TrebleHz {
		return treble{}
	}
	// Bilinear transform, the edge pre-warped; the two sections' Q of the Butterworth circle.
	k := math.Tan(math.Pi * TrebleHz / rateHz)
	half := func(q float64) section {
		n := 1 / (1 + k/q + k*k)
		return section{b0: n, a1: 2 * (k*k - 1) * n, a2: (1 - k/q + k*k) * n}
	}
	return treble{on: true, first: half(1 / (2 * math.Cos(math.Pi/8))), second: half(1 / (2 * math.Cos(3*math.Pi/8)))}
}

// energy returns the sum of squares of what it lets through of x.
func (t *treble) energy(x []float64) float64 {
	if !t.on {
		return 0
	}
	// States and factors live in locals: as fields they would be loaded and stored at every sample. The direct form
	// waits for one product and one difference a sample, the transposed one for a sum more.
	p, q := &t.first, &t.second
	gain, p1, p2, q1, q2 := p.b0*q.b0, p.a1, p.a2, q.a1, q.a2
	x1, x2, y1, y2, u1, u2 := t.x1, t.x2, t.y1, t.y2, t.u1, t.u2
	e := 0.0
	for _, v := range x {
		v *= gain
		y := (v - 2*x1 + x2 - p2*y2) - p1*y1
		u := (y - 2*y1 + y2 - q2*u2) - q1*u1
		x1, x2, y1, y2, u1, u2 = v, x1, y, y1, u, u1
		e += u * u
	}
	if e < faint*faint {
		x1, x2, y1, y2, u1, u2 = 0, 0, 0, 0, 0, 0
	}
	t.x1, t.x2, t.y1, t.y2, t.u1, t.u2 = x1, x2, y1, y2, u1, u2
	return e
}
