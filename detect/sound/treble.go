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
}

// section is one half of it (transposed direct form II).
type section struct{ b0, a1, a2, z1, z2 float64 }

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
	// States and factors live in locals: as fields they would be loaded and stored at every sample.
	p, q := &t.first, &t.second
	pb, p1, p2, pz1, pz2 := p.b0, p.a1, p.a2, p.z1, p.z2
	qb, q1, q2, qz1, qz2 := q.b0, q.a1, q.a2, q.z1, q.z2
	e := 0.0
	for _, v := range x {
		v *= pb
		y := v + pz1
		pz1 = (pz2 - 2*v) - p1*y
		pz2 = v - p2*y
		y *= qb
		u := y + qz1
		qz1 = (qz2 - 2*y) - q1*u
		qz2 = y - q2*u
		e += u * u
	}
	if e < faint*faint {
		pz1, pz2, qz1, qz2 = 0, 0, 0, 0
	}
	p.z1, p.z2, q.z1, q.z2 = pz1, pz2, qz1, qz2
	return e
}
