package sound

import (
	"math"
	"math/cmplx"
)

// OctaveHz lists the mid-band frequencies of the octaves of a frame (nominal, ISO 266).
var OctaveHz = [Octaves]float64{63, 125, 250, 500, 1000, 2000, 4000, 8000}

// Octaves is how many octaves a frame may have.
const Octaves = 8

// octaves measures octave bands frame by frame. They are made to follow what comes and goes within some tens of
// milliseconds, not to be reported: each is a Butterworth band-pass of third order (20 dB down at the middle of the
// next octave, 43 dB at that of the one after it), as quick as its width allows.
type octaves []octave

type octave [3]resonator

// resonator has its zeros at 0 and at half the sample rate (transposed direct form II, the states with their signs changed).
type resonator struct{ a1, a2, gain, z1, z2 float64 }

// newOctaves returns those that lie whole below 0.45 of the sample rate.
func newOctaves(rateHz float64) octaves {
	var o octaves
	for k := range Octaves {
		mid := 1000 * math.Pow(10, 0.3*float64(k-4)) // IEC 61260-1:2014, 5.4
		half := math.Pow(10, 0.15)
		if mid*half > MeasurableTo*rateHz {
			break
		}
		o = append(o, newOctave(mid/half, mid*half, rateHz))
	}
	return o
}

func newOctave(lowerHz, upperHz, rateHz float64) octave {
	// The poles of the low-pass on the left half of the unit circle, moved to the band, whose edges are pre-warped for
	// the bilinear transform.
	lo, hi := math.Tan(math.Pi*lowerHz/rateHz), math.Tan(math.Pi*upperHz/rateHz)
	width, mid2 := complex(hi-lo, 0), complex(lo*hi, 0)
	bend := cmplx.Exp(complex(0, 2*math.Pi/3))
	root := cmplx.Sqrt(bend*bend*width*width/4 - mid2)
	var o octave
	for i, s := range []complex128{-width/2 + cmplx.Sqrt(width*width/4-mid2), bend*width/2 + root, bend*width/2 - root} {
		z := (1 + s) / (1 - s)
		o[i] = resonator{a1: -2 * real(z), a2: real(z)*real(z) + imag(z)*imag(z)}
		at := cmplx.Exp(complex(0, -2*math.Atan(math.Sqrt(lo*hi))))
		o[i].gain = cmplx.Abs((1 + complex(o[i].a1, 0)*at + complex(o[i].a2, 0)*at*at) / (1 - at*at))
	}
	return o
}

// energies writes the sum of squares of x in each octave.
func (o octaves) energies(x []float64, to *[Octaves]float64) {
	for k := range o {
		to[k] = o[k].energy(x)
	}
}

// energy returns the sum of squares of x in the octave. States are locals: a structure of as many fields lies in memory, and
// each sample would wait for it.
func (o *octave) energy(x []float64) float64 {
	p, q, r := &o[0], &o[1], &o[2]
	p1, p2, q1, q2, r1, r2 := p.z1, p.z2, q.z1, q.z2, r.z1, r.z2
	gain, e := p.gain*q.gain*r.gain, 0.0
	for _, v := range x {
		v *= gain
		y := v - p1
		p1, p2 = p2+p.a1*y, v+p.a2*y
		u := y - q1
		q1, q2 = q2+q.a1*u, y+q.a2*u
		w := u - r1
		r1, r2 = r2+r.a1*w, u+r.a2*w
		e += w * w
	}
	if e < faint*faint {
		p1, p2, q1, q2, r1, r2 = 0, 0, 0, 0, 0, 0
	}
	p.z1, p.z2, q.z1, q.z2, r.z1, r.z2 = p1, p2, q1, q2, r1, r2
	return e
}
