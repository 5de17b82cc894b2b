package sound

import (
	"fmt"
	"math"
)

// Poles of the A and C weightings, Hz: IEC 61672-1:2013, Annex E, from fr = 1000 Hz,
// fL = 10^1.5 Hz, fH = 10^3.9 Hz, fA = 10^2.45 Hz and D² = 1/2.
const (
	pole1Hz = 20.598997057568
	pole2Hz = 107.652648643
	pole3Hz = 737.862230736
	pole4Hz = 12194.217147998
)

// AWeightDB returns the design goal of the A weighting at a frequency, 0 dB at 1 kHz
// (IEC 61672-1:2013, Annex E).
func AWeightDB(hz float64) float64 { return 10 * math.Log10(aSquared(hz)) }

// CWeightDB returns the design goal of the C weighting, likewise.
func CWeightDB(hz float64) float64 { return 10 * math.Log10(cSquared(hz)) }

func cSquared(hz float64) float64 { return cShape(hz) / cShape(1000) }
func aSquared(hz float64) float64 { return cSquared(hz) * aShape(hz) / aShape(1000) }

func cShape(hz float64) float64 {
	f2 := hz * hz
	v := pole4Hz * pole4Hz * f2 / ((f2 + pole1Hz*pole1Hz) * (f2 + pole4Hz*pole4Hz))
	return v * v
}

func aShape(hz float64) float64 {
	f2 := hz * hz
	return f2 * f2 / ((f2 + pole2Hz*pole2Hz) * (f2 + pole3Hz*pole3Hz))
}

// weighting is the pair of digital filters. The chain is
//
//	t  = x + b[0] x' + b[1] x'' + b[2] x'''    (' : one sample before)
//	C  = cGain · two high-passes at pole 1, two low-passes at pole 4, of t
//	A  = aGain · C/cGain, two high-passes at poles 2 and 3; below 8 kHz a numerator of its own before them
//
// Poles are matched, exp(-2π f/fs); high-passes have their zero at DC. A plain bilinear or matched
// design is up to 3 dB off at 12.5 kHz (48 kHz); here the numerator b is fitted to the squared
// magnitude of the analytic curve by least squares of the relative error, and factored.
type weighting struct {
	rateHz         float64
	p1, p2, p3, p4 float64
	b              [3]float64
	aTaps          []float64 // of A's numerator after its 1; none from 8 kHz on
	cGain, aGain   float64
}

const (
	// fitTo is the share of the sample rate up to which the numerator is fitted: 20.2 kHz at 48 kHz.
	fitTo = 0.42
	// fitLooselyTo is where it is still held, with the weight fitLoosely.
	fitLooselyTo = 0.46
	fitLoosely   = 0.03
	// fitAllTo is for rates so low that much of the sound lies near half of them.
	fitAllTo = 0.49
	// fitCare weighs the error below fitCareTo: most sound lies there, and the calibrator's 1 kHz.
	fitCare   = 2.0
	fitCareTo = 0.3
	// fitFromHz is where the weightings begin (IEC 61672-1, Table 3).
	fitFromHz = 10.0
	// ownBelowHz is the sample rate below which pole 3 lies so high that the A weighting needs a numerator of its
	// own, of ownTaps.
	ownBelowHz = 8000.0
	ownTaps    = 8
)

func designWeighting(rateHz float64) (weighting, error) {
	pole := func(hz float64) float64 { return math.Exp(-2 * math.Pi * hz / rateHz) }
	w := weighting{rateHz: rateHz, p1: pole(pole1Hz), p2: pole(pole2Hz), p3: pole(pole3Hz), p4: pole(pole4Hz)}
	cc := reach{fitTo, fitLooselyTo}.fitSquared(rateHz, len(w.b), func(hz float64) float64 { return cSquared(hz) / w.cPoles(hz) })
	gain, b, err := factor(cc)
	if err != nil {
		return w, fmt.Errorf("no filter for the C weighting at %g Hz: %w", rateHz, err)
	}
	w.cGain = gain
	copy(w.b[:], b)
	to, taps := reach{fitTo, fitLooselyTo}, 0
	if rateHz < ownBelowHz {
		to, taps = reach{fitAllTo, 0.5}, ownTaps
	}
	ca := to.fitSquared(rateHz, taps, func(hz float64) float64 { return aSquared(hz) / (w.cResponse(hz) * w.aPoles(hz)) })
	if gain, w.aTaps, err = factor(ca); err != nil {
		return w, fmt.Errorf("no filter for the A weighting at %g Hz: %w", rateHz, err)
	}
	w.aGain = gain * w.cGain
	return w, nil
}

// highPass and lowPass are squared magnitudes of the sections at cos w.
func highPass(cosW, p float64) float64 { return (2 - 2*cosW) / (1 - 2*p*cosW + p*p) }
func lowPass(cosW, p float64) float64  { return 1 / (1 - 2*p*cosW + p*p) }

func (w *weighting) cos(hz float64) float64 { return math.Cos(2 * math.Pi * hz / w.rateHz) }

func (w *weighting) cPoles(hz float64) float64 {
	c := w.cos(hz)
	h, l := highPass(c, w.p1), lowPass(c, w.p4)
	return h * h * l * l
}

func (w *weighting) aPoles(hz float64) float64 {
	c := w.cos(hz)
	return highPass(c, w.p2) * highPass(c, w.p3)
}

// cResponse is the squared magnitude of the digital C weighting at a frequency.
func (w *weighting) cResponse(hz float64) float64 {
	return w.cGain * w.cGain * w.numerator(w.b[:], hz) * w.cPoles(hz)
}

// numerator is the squared magnitude of 1 and the taps after it.
func (w *weighting) numerator(taps []float64, hz float64) float64 {
	re, im := 1.0, 0.0
	for i, b := range taps {
		s, c := math.Sincos(2 * math.Pi * hz / w.rateHz * float64(i+1))
		re += b * c
		im -= b * s
	}
	return re*re + im*im
}

// aResponse is the squared magnitude of the digital A weighting at a frequency.
func (w *weighting) aResponse(hz float64) float64 {
	r := w.aGain / w.cGain
	return w.cResponse(hz) * r * r * w.numerator(w.aTaps, hz) * w.aPoles(hz)
}

// reach says up to which shares of the sample rate a numerator is fitted, and loosely held.
type reach struct{ to, looselyTo float64 }

// fitSquared returns c with sum c[k] cos(k w) close to target from 10 Hz to where the fit reaches: least
// squares of the relative error, reweighted so that the largest error shrinks (Lawson).
func (r reach) fitSquared(rateHz float64, n int, target func(hz float64) float64) []float64 {
	const points = 100
	var hz, care, weight, err []float64
	top := r.to * rateHz
	for i := range points {
		u := float64(i) / (points - 1)
		hz = append(hz, fitFromHz*math.Pow(top/fitFromHz, u), rateHz*0.001+(top-rateHz*0.001)*u)
	}
	for _, f := range hz {
		care = append(care, 1+(fitCare-1)*min(1, max(0, (r.to-f/rateHz)/(r.to-fitCareTo))))
	}
	firm := len(hz)
	for i := range 40 {
		hz = append(hz, top+(r.looselyTo-r.to)*rateHz*float64(i+1)/40)
		care = append(care, fitLoosely)
	}
	rows := make([][]float64, len(hz))
	for i, f := range hz {
		t := target(f)
		weight = append(weight, care[i])
		rows[i] = make([]float64, n+1)
		for k := range rows[i] {
			rows[i][k] = math.Cos(2*math.Pi*f/rateHz*float64(k)) / t
		}
	}
	err = make([]float64, len(hz))
	var c []float64
	for range 20 {
		c = leastSquaresOfOnes(rows, weight)
		worst := 0.0
		for i, r := range rows[:firm] {
			e := -1.0
			for k, v := range r {
				e += v * c[k]
			}
			err[i] = math.Abs(e) * care[i]
			worst = max(worst, err[i])
		}
		most := 0.0
		for i := range weight[:firm] {
			weight[i] *= math.Pow(1e-4+err[i]/worst, 0.1)
			most = max(most, weight[i])
		}
		for i := range weight[:firm] {
			weight[i] /= most
		}
	}
	return c
}

// leastSquaresOfOnes solves rows·c = 1 for c, each row with its weight, by the normal equations.
func leastSquaresOfOnes(rows [][]float64, weight []float64) []float64 {
	n := len(rows[0])
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n+1)
	}
	for k, r := range rows {
		u := weight[k] * weight[k]
		for i, a := range r {
			for j, b := range r {
				m[i][j] += u * a * b
			}
			m[i][n] += u * a
		}
	}
	for i := range m {
		best := i
		for j := i + 1; j < n; j++ {
			if math.Abs(m[j][i]) > math.Abs(m[best][i]) {
				best = j
			}
		}
		m[i], m[best] = m[best], m[i]
		for j := i + 1; j < n; j++ {
			f := m[j][i] / m[i][i]
			for k := i; k <= n; k++ {
				m[j][k] -= f * m[i][k]
			}
		}
	}
	c := make([]float64, n)
	for i := n - 1; i >= 0; i-- {
		c[i] = m[i][n]
		for k := i + 1; k < n; k++ {
			c[i] -= m[i][k] * c[k]
		}
		c[i] /= m[i][i]
	}
	return c
}
