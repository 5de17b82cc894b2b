package align

import (
	"cmp"
	"math"
	"slices"
)

const (
	lobeS      = 0.003
	onLineS    = 0.0015 // a window agrees if its lag is no further from the line
	slackS     = 0.02   // by how much the coarse line may be off at its ends
	usualPPM   = 100.0  // drift of clocks, standard deviation, where the windows do not tell it
	floorS     = 0.001  // what the lags of all windows may have in common: time base, filters, echo
	byChance   = 0.05   // that a window of a wrong pair shows its tallest lag on a given line; by its width it is 0.025
	freeLags   = 80     // lines that are tried in one pair: so many lags that differ,
	freeSlopes = 12     // and so many slopes
	freeRest   = 4
	leastWork  = 4    // windows, or groups of them, that must agree
	leastZ     = 6.5  // standard deviations by which a lag stands out
	leastOver  = 1.25 // and by how much it is higher than the next
)

// groups are how many windows are looked at together: where one is too faint to show a lag, several do.
var groups = []int{1, 2, 4, 8}

// unit is one window or a group of them, as it lies beside the line.
type unit struct {
	cameraS float64
	offS    float64 // its lag, less that of the line
	heard   bool    // the lag stands out, and alone
	agrees  bool
}

// fit is a line through the lags of windows: the lag is lagS at midS of the camera's clock.
type fit struct {
	rateHz  float64
	lobe    int
	windows []window
	units   []unit // of the size that tells most

	midS, lagS, drift float64
	varLag, varDrift  float64 // at midS, where they do not depend on each other
	agreeing          int
	evidence          float64 // natural logarithm of how much likelier it is than chance

	camStartS, camEndS float64
	fromS, toS         float64 // the overlap, on the camera's clock
}

// at returns the line's lag at an instant of the camera's clock.
func (f *fit) at(cameraS float64) float64 { return f.lagS + f.drift*(cameraS-f.midS) }

// stack adds the windows up along every line near the guess, and takes the one along which they add up to most.
func (f *fit) stack(g guess) {
	f.midS, f.lagS, f.drift = g.midS, g.lagS, g.drift
	if len(f.windows) == 0 {
		return
	}
	slices.SortFunc(f.windows, func(a, b window) int { return cmp.Compare(a.cameraS, b.cameraS) })
	first, last := f.windows[0].cameraS, f.windows[len(f.windows)-1].cameraS
	f.midS = (first + last) / 2
	lag0, drift0 := g.at(f.midS), g.drift
	half := max((last-first)/2, 1)
	step := 0.5 / f.rateHz / half * 2 // half a sample at the ends, on either side
	reach := min(slackS/half, 2*MostDriftPPM*1e-6)
	n := int(reach / step)
	lags := int(searchS * f.rateHz)
	best, bestLag, bestDrift := 0.0, lag0, drift0
	for i := -n; i <= n; i++ {
		drift := drift0 + float64(i)*step
		if math.Abs(drift) > MostDriftPPM*1e-6 {
			continue
		}
		f.drift = drift
		f.lagS = lag0
		sum := f.sum(f.windows, lags)
		top, _ := tallest(sum, f.lobe)
		if v := math.Abs(sum[top]); v > best {
			best = v
			bestLag, bestDrift = lag0+float64(top-lags)/f.rateHz, drift
		}
	}
	f.lagS, f.drift = bestLag, bestDrift
}

// sum adds up windows by their lag from the line, up to so many samples on either side.
func (f *fit) sum(of []window, lags int) []float64 {
	out := make([]float64, 2*lags+1)
	for i := range of {
		w := &of[i]
		k := int(math.Round((f.at(w.cameraS)-w.baseS)*f.rateHz)) - lags
		for j := max(0, -k); j < len(out) && j+k < len(w.c); j++ {
			out[j] += float64(w.c[j+k])
		}
	}
	return out
}

// best judges the line by windows and by groups of windows, and keeps what tells most.
func (f *fit) best() {
	line := *f
	for _, size := range groups {
		try := line
		try.lay(size)
		if try.judge(); size == 1 || try.evidence > f.evidence {
			*f = try
		}
	}
}

// lay groups the windows, and lays the line anew through those that agree.
func (f *fit) lay(size int) {
	f.units = nil
	lags := int((searchS - onLineS) * f.rateHz)
	for i := 0; i+size <= len(f.windows); i += size {
		of := f.windows[i : i+size]
		var u unit
		for _, w := range of {
			u.cameraS += w.cameraS / float64(size)
		}
		c := f.sum(of, lags)
		top, sd := tallest(c, f.lobe)
		u.offS = (float64(top-lags) + bend(c, top)) / f.rateHz
		next := 0.0
		for k, v := range c {
			if k < top-f.lobe || k > top+f.lobe {
				next = max(next, math.Abs(v))
			}
		}
		u.heard = sd > 0 && math.Abs(c[top]) >= leastZ*sd && math.Abs(c[top]) >= leastOver*next
		f.units = append(f.units, u)
	}
	for range 3 {
		f.refine()
	}
}

// bend returns by how much the top of a peak lies beside its highest sample.
func bend(c []float64, top int) float64 {
	if top == 0 || top == len(c)-1 {
		return 0
	}
	v, a, b := math.Abs(c[top]), math.Abs(c[top-1]), math.Abs(c[top+1])
	if c[top]*c[top-1] <= 0 || c[top]*c[top+1] <= 0 || a-2*v+b >= 0 {
		return 0
	}
	return 0.5 * (a - b) / (a - 2*v + b)
}

// refine lays the line anew through the units that agree with it, by least squares. What is known of clocks
// holds the drift where they are too near each other to tell it.
func (f *fit) refine() {
	var n, mid, off float64
	for i := range f.units {
		u := &f.units[i]
		if u.agrees = math.Abs(u.offS) <= onLineS; u.agrees {
			n++
			mid += u.cameraS
			off += u.offS
		}
	}
	f.agreeing = int(n)
	if n == 0 {
		return
	}
	mid, off = mid/n, off/n
	lag := f.at(mid) + off
	var sxx, sxy float64
	for _, u := range f.units {
		if u.agrees {
			sxx += (u.cameraS - mid) * (u.cameraS - mid)
			sxy += (u.cameraS - mid) * (f.at(u.cameraS) + u.offS - lag)
		}
	}
	const leastVar = 1e-8 // (0.1 ms)²
	prior := 1 / (usualPPM * usualPPM * 1e-12)
	drift := sxy / leastVar / (sxx/leastVar + prior)
	var rest float64
	for _, u := range f.units {
		if u.agrees {
			r := f.at(u.cameraS) + u.offS - lag - drift*(u.cameraS-mid)
			rest += r * r
		}
	}
	// Few units say little about how they scatter: one is added that scatters by half a millisecond.
	s2 := max(leastVar, (rest+0.25e-6)/max(1, n-1))
	drift = max(-MostDriftPPM*1e-6, min(MostDriftPPM*1e-6, sxy/s2/(sxx/s2+prior)))
	f.varLag, f.varDrift = s2/n, 1/(sxx/s2+prior)
	for i := range f.units {
		u := &f.units[i]
		u.offS += f.at(u.cameraS) - lag - drift*(u.cameraS-mid)
	}
	f.midS, f.lagS, f.drift = mid, lag, drift
}

// overlap works out where both recordings are.
func (f *fit) overlap(cam, ses *track) {
	f.camStartS, f.camEndS = cam.startS, cam.startS+cam.seconds()
	at := func(sessionS float64) float64 { // of the camera's clock
		return (sessionS - f.lagS + f.drift*f.midS) / (1 + f.drift)
	}
	f.fromS, f.toS = max(f.camStartS, at(ses.startS)), min(f.camEndS, at(ses.startS+ses.seconds()))
}

// judge weighs the units that agree against chance: those whose lag stands out, and all of them, for even a
// lag that does not stand out lies on the line more often than chance has it if the line is right. The line
// itself takes one of them. One transient proves nothing, for a switch clicks the same every day.
func (f *fit) judge() {
	f.evidence = 0
	if f.agreeing < leastWork {
		return
	}
	weigh := func(of func(unit) bool) float64 {
		n := 0
		for _, u := range f.units {
			if of(u) {
				n++
			}
		}
		on := f.onLine(0, of)
		// What the same units show on lines beside it is chance, or a tone that fits at every period.
		beside := 0
		for shiftS := 2 * onLineS; shiftS < searchS; shiftS += onLineS / 2 {
			beside = max(beside, f.onLine(shiftS, of), f.onLine(-shiftS, of))
		}
		// That it is the best of many lags is in what was counted beside it already, and most of the slopes.
		counted := -tail(on-1, n-1, float64(beside)/float64(max(n, 1))) - math.Log(freeRest)
		reckoned := -tail(on-1, n-1, byChance) - math.Log(freeLags*freeSlopes)
		return min(counted, reckoned)
	}
	heard := weigh(func(u unit) bool { return u.heard })
	all := weigh(func(unit) bool { return true })
	f.evidence = max(0, heard, all)
}

// onLine counts the units of a kind whose lags lie on a line beside the fitted one.
func (f *fit) onLine(shiftS float64, of func(unit) bool) int {
	n := 0
	for _, u := range f.units {
		if of(u) && math.Abs(u.offS-shiftS) <= onLineS {
			n++
		}
	}
	return n
}

// tail returns the logarithm of the probability that at least k of n things happen that happen by chance p.
func tail(k, n int, p float64) float64 {
	if k <= 0 || p >= 1 {
		return 0
	}
	p = max(p, 1e-6)
	lg := func(n int) float64 { v, _ := math.Lgamma(float64(n) + 1); return v }
	sum := 0.0
	first := math.Inf(-1)
	for i := k; i <= n; i++ {
		l := lg(n) - lg(i) - lg(n-i) + float64(i)*math.Log(p) + float64(n-i)*math.Log1p(-p)
		if i == k {
			first = l
		}
		sum += math.Exp(l - first)
	}
	return min(0, first+math.Log(sum))
}

// confidence turns evidence into the probability that it is not chance.
func confidence(evidence float64) float64 {
	return min(mostConfidence, -math.Expm1(-evidence))
}

// near tells whether two fits mean the same place.
func (f *fit) near(o fit) bool {
	mid := (f.fromS + f.toS) / 2
	return math.Abs(f.at(mid)-o.at(mid)) < 2*searchS
}

func (f *fit) alignment() Alignment {
	sure := confidence(f.evidence)
	a := Alignment{Method: BySound, OffsetS: f.camStartS + f.at(f.camStartS), DriftPPM: 1e6 * f.drift, Confidence: &sure,
		CameraS: f.camEndS - f.camStartS, Windows: len(f.units), Agreeing: f.agreeing}
	a.DriftKnown = math.Sqrt(f.varDrift) < 0.25*usualPPM*1e-6
	far := max(math.Abs(f.fromS-f.midS), math.Abs(f.toS-f.midS))
	a.WithinS = floorS + 2*math.Sqrt(f.varLag+far*far*f.varDrift)
	a.Overlap = [2]float64{a.SessionS(f.fromS - f.camStartS), a.SessionS(f.toS - f.camStartS)}
	return a
}
