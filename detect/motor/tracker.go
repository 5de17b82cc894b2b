// Package motor turns the samples of a current clamp into one record every half mains cycle: the
// RMS over the cycle that ends there, its fundamental, its peaks, on boundaries that follow the true
// mains frequency. It decides nothing; what the motor does is told from its records elsewhere.
//
// Currents are in amperes, times in seconds since the session began, frequencies in hertz.
package motor

import (
	"fmt"
	"math"

	"quern/rig"
)

// The range in which mains frequency is tracked, Hz.
const (
	LowestHz  = 45.0
	HighestHz = 65.0
)

// Gains of the tracking loop, per half cycle: phase settles in about 10 half cycles, frequency in
// about 40, so that the phase swing of a load step does not pass for a change of frequency.
const (
	phaseGain     = 0.3
	frequencyGain = 0.05
)

// mostA is the current from which a sample is no current but a broken number.
const mostA = 1e12

// Cycle is one value of the half-cycle-updated RMS of IEC 61000-4-30 and what else is known of the
// same window.
type Cycle struct {
	StartS, EndS float64 // the window: one cycle of the fundamental
	RMSA         float64 // about the clamp's offset
	SwingA       float64 // about the mean of the window: without the d.c. of a start's first cycles
	FundA        float64 // RMS of the fundamental
	ThirdA       float64 // and of the third harmonic
	OffsetA      float64 // of the clamp: median of the means of the last windows
	PeakA        float64 // largest |i - offset| in the window
	Quarters     [4]float64
	// Quarters holds the largest |i - offset| in each quarter of the later half cycle: it places a
	// switching instant to a quarter of a half cycle (about 2 ms).
	Turns float64 // phase of the fundamental, in cycles since the first sample; meaningful while Locked
	// Locked says that the fundamental stood out far enough to be followed.
	Locked bool
	Hz     float64 // tracked frequency
	// Torn says that the boundaries were just moved onto the current's zero crossings, or that the oscillator is still
	// far from the mains: the window may be no cycle, and its RMS off by some per cent.
	Torn bool
	// FirstA is the largest RMS over one cycle, renewed every half cycle from the instant at which a current was
	// switched on. It comes with the record that ends when the windows are whole again; 0 in all others.
	FirstA float64
	// SecondA is the same from the second cycle on, about the mean of each window.
	SecondA float64
}

// half collects the samples of one half cycle.
type half struct {
	n, x, xx, re, im float64
	re3, im3         float64    // the same of the third harmonic
	hi, lo           [4]float64 // extremes of each quarter
	startS           float64
}

func newHalf(startS float64) half {
	h := half{startS: startS}
	for i := range h.hi {
		h.hi[i], h.lo[i] = math.Inf(-1), math.Inf(1)
	}
	return h
}

// Tracker follows one clamp. How its input is cut never changes its output.
type Tracker struct {
	rateHz float64
	scale  float64 // amperes per unit of the samples
	floorA float64 // a fundamental below this is not followed

	hz       float64 // frequency of the oscillator
	settled  float64 // frequency to coast at while nothing is followed
	phase    float64 // half cycles since the last boundary, 0 to 1
	turns    float64 // oscillator phase at the last boundary, cycles
	cos, sin float64
	n        int64 // samples seen

	cur, prev half
	ready     bool
	means     [31]float64 // of the last windows: a quarter of a second
	inOrder   [31]float64 // the same by size
	nMeans    int
	arg       float64 // phase of the fundamental against the oscillator in the last window, rad
	move      float64 // correction made at the last boundary, rad
	moved     float64 // and at the one before it
	followed  bool
	torn      int // windows still to come that hold a moved boundary
	wasTorn   bool
	moving    bool // the last window was torn by a moved boundary, or says nothing of how the mains turned
	out       []Cycle
	spectrum  *spectrum
	onset     onset

	plainA   float64 // amperes below which a sample surely is a current, and not at full scale
	clipAt   float64 // |sample| from which it stands at full scale; 0: samples have none
	atClip   int     // samples in a row there
	toldClip int     // of these, what is counted already
	clipped  int
	leftOut  int
}

// New returns a tracker for samples at rateHz (400 Hz to 192 kHz) which, times scaleA, are amperes.
// nominalHz is where tracking starts; a fundamental below floorA (RMS) is not followed.
func New(rateHz, scaleA, nominalHz, floorA float64) (*Tracker, error) {
	if !rig.MeasuredRateTaken(rateHz) {
		return nil, fmt.Errorf("clamp at %g samples/s: expected %g to %g", rateHz, rig.MinTableHz, rig.MaxRateHz)
	}
	if !(nominalHz >= LowestHz && nominalHz <= HighestHz) {
		return nil, fmt.Errorf("mains frequency %g Hz: expected %g to %g", nominalHz, LowestHz, HighestHz)
	}
	t := &Tracker{rateHz: rateHz, scale: scaleA, floorA: floorA, hz: nominalHz, settled: nominalHz, cos: 1, plainA: mostA}
	t.cur = newHalf(0)
	t.spectrum = newSpectrum(rateHz)
	return t, nil
}

// Push takes the next samples.
func (t *Tracker) Push(x []float64) {
	step := 2 * t.hz / t.rateHz // half cycles a sample
	rotC, rotS := math.Cos(math.Pi*step), math.Sin(math.Pi*step)
	if t.n == 0 {
		t.aim(step / 2) // a sample stands for its middle
	}
	for len(x) > 0 {
		n := t.whole(x, step, rotC, rotS)
		x = x[n:]
		if len(x) == 0 {
			return
		}
		// The boundary falls inside this sample: share it out.
		v := t.amperes(x[0])
		x = x[1:]
		share := (1 - t.phase) / step
		t.aim((t.phase + 1) / 2)
		t.cur.add(v, share, t.phase, t.cos, t.sin)
		atS := (float64(t.n) + share) / t.rateHz
		t.boundary(atS)
		t.n++
		step = 2 * t.hz / t.rateHz
		rotC, rotS = math.Cos(math.Pi*step), math.Sin(math.Pi*step)
		t.aim(t.phase + (1-share)*step/2)
		t.cur.add(v, 1-share, t.phase, t.cos, t.sin)
		t.phase += (1 - share) * step
		t.aim(t.phase + step/2)
	}
}

// Skip takes n samples that are missing: the oscillator coasts, and the clamp's offset stays.
func (t *Tracker) Skip(n int) {
	rest := 0.0
	if t.nMeans > 0 && t.scale != 0 {
		w := t.inOrder[:min(t.nMeans, len(t.inOrder))]
		rest = w[len(w)/2] / t.scale
	}
	x := make([]float64, min(n, 4096))
	for i := range x {
		x[i] = rest
	}
	for ; n > 0; n -= len(x) {
		t.Push(x[:min(n, len(x))])
	}
}

// amperes takes one sample in.
func (t *Tracker) amperes(v float64) float64 {
	a := v * t.scale
	if !(a < mostA && a > -mostA) {
		t.leftOut++
		a, v = 0, 0
	}
	if t.clipAt > 0 {
		t.clip(v)
	}
	t.spectrum.push(a)
	return a
}

// whole takes the samples that lie wholly in the current half cycle and returns how many they were.
func (t *Tracker) whole(x []float64, step, rotC, rotS float64) int {
	i := 0
	for {
		if t.atClip == 0 {
			i += t.plain(x[i:], step, rotC, rotS)
		}
		if i == len(x) || !(t.phase+step < 1) {
			t.n += int64(i)
			return i
		}
		t.cur.add(t.amperes(x[i]), 1, t.phase, t.cos, t.sin)
		t.phase += step
		t.cos, t.sin = t.cos*rotC-t.sin*rotS, t.sin*rotC+t.cos*rotS
		i++
	}
}

// plain does the same up to the first sample that need be looked at more closely: one that is no current or close to full
// scale. It is the loop in which the time goes, so its sums are locals, and it calls nothing.
func (t *Tracker) plain(x []float64, step, rotC, rotS float64) int {
	scale, most := t.scale, t.plainA
	ring, at := t.spectrum.ring, int(t.spectrum.n)
	phase, cos, sin := t.phase, t.cos, t.sin
	h := &t.cur
	n, sx, sxx, re, im, re3, im3 := h.n, h.x, h.xx, h.re, h.im, h.re3, h.im3
	i := 0
	for ; i < len(x) && phase+step < 1; i++ {
		v := x[i] * scale
		if !(v < most && v > -most) {
			break
		}
		ring[(at+i)&(len(ring)-1)] = v
		n++
		sx += v
		sxx += v * v
		a, b := v*sin, v*cos
		re += a
		im += b
		re3 += a * (3 - 4*sin*sin) // the sine and cosine of three times the angle
		im3 += b * (4*cos*cos - 3)
		q := 0
		if phase > 0 {
			q = int(phase*4) & 3
		}
		if v > h.hi[q] {
			h.hi[q] = v
		}
		if v < h.lo[q] {
			h.lo[q] = v
		}
		phase += step
		cos, sin = cos*rotC-sin*rotS, sin*rotC+cos*rotS
	}
	h.n, h.x, h.xx, h.re, h.im, h.re3, h.im3 = n, sx, sxx, re, im, re3, im3
	t.phase, t.cos, t.sin = phase, cos, sin
	t.spectrum.n += int64(i)
	return i
}

// aim points the oscillator at phase, in half cycles after the last boundary. Doing it afresh at
// every boundary keeps the rotation in between from drifting.
func (t *Tracker) aim(phase float64) {
	theta := math.Pi * (phase + 2*(t.turns-math.Floor(t.turns)))
	t.cos, t.sin = math.Cos(theta), math.Sin(theta)
}

func (h *half) add(v, weight, phase, cos, sin float64) {
	w := v * weight
	h.n += weight
	h.x += w
	h.xx += w * v
	h.re += w * sin
	h.im += w * cos
	h.re3 += w * sin * (3 - 4*sin*sin)
	h.im3 += w * cos * (4*cos*cos - 3)
	q := min(max(int(phase*4), 0), 3)
	if v > h.hi[q] {
		h.hi[q] = v
	}
	if v < h.lo[q] {
		h.lo[q] = v
	}
}

// Cycles returns the records completed since the last call; the slice is valid until the next Push.
func (t *Tracker) Cycles() []Cycle {
	out := t.out
	t.out = t.out[:0]
	return out
}
