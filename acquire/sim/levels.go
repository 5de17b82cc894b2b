package sim

import (
	"math"

	"quern/rig"
)

// Time constants of the F and S weightings, s: IEC 61672-1:2013 clause 5.8.
const (
	fastS = 0.125
	slowS = 1.0
)

// levels adds the true levels of each run, computed from the recorded pressure in the frequency domain
// with the analytic weightings: none of a meter's filters is in it.
func levels(sc *Scenario, t *tale, pa []float64, truth *Truth) {
	fs := sc.Sound.RateHz
	a, c := weighted(pa, fs)
	df, ds := math.Exp(-1/(fastS*fs)), math.Exp(-1/(slowS*fs))
	var fast, slow float64
	quiet := quietLevel(sc, t, a)
	at := 0 // the weightings of time run on through the pauses
	run := func(to int) {
		for ; at < to; at++ {
			v := a[at] * a[at]
			fast = df*fast + (1-df)*v
			slow = ds*slow + (1-ds)*v
		}
	}
	for i := range truth.Runs {
		r := &truth.Runs[i]
		var ea, ec, n, fmax, smax, cmax float64
		for _, x := range t.stretches {
			if seconds(x.from) < r.StartS || seconds(x.to) > r.EndS {
				continue
			}
			from, to := int(math.Ceil(seconds(x.from)*fs)), min(int(math.Ceil(seconds(x.to)*fs)), len(a))
			run(from)
			for k := from; k < to; k++ {
				run(k + 1)
				ea += a[k] * a[k]
				ec += c[k] * c[k]
				if fast > fmax {
					fmax = fast
				}
				if slow > smax {
					smax = slow
				}
			}
			n += float64(to - from)
			cmax = math.Max(cmax, peakBetween(c[from:to]))
		}
		r.Sound.LAeqDB, r.Sound.LCeqDB = ofSquare(ea/n), ofSquare(ec/n)
		r.Sound.LAFmaxDB, r.Sound.LASmaxDB = ofSquare(fmax), ofSquare(smax)
		r.Sound.LCpeakDB = ofSquare(cmax * cmax)
		r.Sound.BackgroundDB = quiet
	}
}

func ofSquare(pa2 float64) rig.Figure { return rig.Fig(10 * math.Log10(pa2/(refPa*refPa))) }

// quietLevel is the room's level before the first start, without tap and mishaps.
func quietLevel(sc *Scenario, t *tale, a []float64) rig.Figure {
	const guardS = 0.3
	if len(t.stretches) == 0 {
		return rig.Absent("background-not-seen")
	}
	end := t.stretches[0].from
	sum, n := 0.0, 0.0
	for k := range end {
		at := seconds(k)
		if t.points[min(k+int(guardS/stepS), end)].flags&flagTap != 0 || t.points[k].flags&flagTap != 0 || disturbed(sc, at, guardS) {
			continue
		}
		if at < 0.1 {
			continue // the weighting filters come in from silence
		}
		lo, hi := int(at*sc.Sound.RateHz), min(int(seconds(k+1)*sc.Sound.RateHz), len(a))
		for i := lo; i < hi; i++ {
			sum += a[i] * a[i]
			n++
		}
	}
	if n < 0.5*sc.Sound.RateHz {
		return rig.Absent("background-not-seen")
	}
	return ofSquare(sum / n)
}

func disturbed(sc *Scenario, at, guardS float64) bool {
	for _, h := range sc.Mishaps {
		lasts := h.LastsS
		switch h.Kind {
		case Clap, Knock:
			lasts = 0.8
		case Voice:
		default:
			continue
		}
		if at > h.AtS-guardS && at < h.AtS+lasts+guardS {
			return true
		}
	}
	return false
}

// A transform at a time; the weightings' responses have died away within the parts thrown away: the
// slowest pole, 20.6 Hz, by more than 80 dB in the first, the ringing at half the rate in the last.
const (
	chunk = 1 << 15
	head  = 10240
	tail  = 1024
)

// weighted returns the A- and the C-weighted pressure, by overlap-save. Two chunks travel together as
// real and imaginary part: the weightings' responses in time are real, so they do not mix.
func weighted(pa []float64, fs float64) (a, c []float64) {
	a, c = make([]float64, len(pa)), make([]float64, len(pa))
	fft := newTransform(chunk)
	wa, wc := make([]complex128, chunk), make([]complex128, chunk)
	for k := range wa {
		n := fft.order(k)
		if n == 0 || n == chunk/2 {
			continue // nil at 0 Hz; at half the rate a real response has no phase, and nothing sounds there
		}
		f := float64(n) * fs / chunk
		if n > chunk/2 {
			f -= fs // negative frequencies: the formulas give the conjugate by themselves
		}
		wa[k], wc[k] = aResponse(f)/chunk, cResponse(f)/chunk
	}
	spec, part := make([]complex128, chunk), make([]complex128, chunk)
	const useful = chunk - head - tail
	at := func(k int) float64 {
		if k < 0 || k >= len(pa) {
			return 0
		}
		return pa[k]
	}
	put := func(to []float64, w []complex128, from int) {
		for k := range part {
			part[k] = spec[k] * w[k]
		}
		fft.inverse(part)
		for i := range useful {
			if from+i < len(to) {
				to[from+i] = real(part[head+i])
			}
			if from+useful+i < len(to) {
				to[from+useful+i] = imag(part[head+i])
			}
		}
	}
	for from := 0; from < len(pa); from += 2 * useful {
		for i := range spec {
			spec[i] = complex(at(from-head+i), at(from+useful-head+i))
		}
		fft.forward(spec)
		put(a, wa, from)
		put(c, wc, from)
	}
	return a, c
}

// peakBetween returns the largest magnitude of the signal at four times its rate, interpolating with a
// windowed sinc wherever a sample comes near the largest.
func peakBetween(x []float64) float64 {
	most := 0.0
	for _, v := range x {
		most = math.Max(most, math.Abs(v))
	}
	const half = 16
	var taps [3][2 * half]float64
	for q := range taps {
		shift := float64(q+1) / 4
		for j := range taps[q] {
			t := float64(j-half+1) - shift
			taps[q][j] = math.Sin(math.Pi*t) / (math.Pi * t) * math.Pow(math.Cos(math.Pi*t/(2*half+1)), 2)
		}
	}
	top := most
	for i := half - 1; i+half < len(x); i++ {
		if math.Abs(x[i]) < 0.6*most && math.Abs(x[i+1]) < 0.6*most {
			continue
		}
		for q := range taps {
			s := 0.0
			for j, w := range taps[q] {
				s += w * x[i-half+1+j]
			}
			top = math.Max(top, math.Abs(s))
		}
	}
	return top
}
