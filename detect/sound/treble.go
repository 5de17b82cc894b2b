package sound

import "math"

// TrebleHz is where the treble of a frame begins. Speech carries little above (its formants lie below some
// 3.5 kHz, ITU-T telephony has always cut it at 3.4 kHz); what cracks, rattles or hisses carries much.
const TrebleHz = 4000.0

// trebleLeast is the least sample rate, in TrebleHz, at which enough of the treble is in the samples.
const trebleLeast = 2.5

// treble is a Butterworth high-pass of fourth order, of two sections of which each takes the second difference of what
// comes in. It runs beside the A weighting, in chain.fold.
type treble struct {
	on            bool
	first, second section

	d1, y1, y2, g1, u1, u2 float64 // the last first difference of what comes in, and output, of each section
}

// section is one half of it, but for its gain.
type section struct{ a1, a2, gain float64 }

func newTreble(rateHz float64) treble {
	if rateHz < trebleLeast*TrebleHz {
		return treble{}
	}
	// Bilinear transform, the edge pre-warped; the two sections' Q of the Butterworth circle.
	k := math.Tan(math.Pi * TrebleHz / rateHz)
	half := func(q float64) section {
		n := 1 / (1 + k/q + k*k)
		return section{a1: 2 * (k*k - 1) * n, a2: (1 - k/q + k*k) * n, gain: n}
	}
	return treble{on: true, first: half(1 / (2 * math.Cos(math.Pi/8))), second: half(1 / (2 * math.Cos(3*math.Pi/8)))}
}

// through returns the energy of the treble, of which e is the sum of squares without gain, and ends what has all but
// died away.
func (t *treble) through(e float64) float64 {
	if !t.on {
		return 0
	}
	gain := t.first.gain * t.second.gain
	e *= gain * gain
	if e < faint*faint {
		t.d1, t.y1, t.y2, t.g1, t.u1, t.u2 = 0, 0, 0, 0, 0, 0
	}
	return e
}
