package run

import "math"

// A locked rotor before electronics draws a current that nothing disturbs but the clamp's noise and the supply. A rotor
// that turns, however slowly, cuts, and each cut shows: it may be quieter than the empty motor then, but never as still.

const (
	stillDev     = 0.0008 // deviation from a straight line, as a share: a steady supply gives a locked rotor less
	stillRatio   = 1.5    // times the least that the running motor's current deviated by: clamp and supply are noisy
	risenRagged  = 2.0    // times more, that a current jittered by before it rose and stood still
	pulsesThird  = 0.3    // third harmonic over fundamental, above which a current comes in pulses
	sameThird    = 0.6    // share of the largest part of third harmonic, below which a sine has come on top
	crackMoreDB  = 1.0    // dB over the least of the running motor: the same treble
	evenTimes    = 1.2    // times the least span of readings of the running motor, within which they show a current that stands
	beforeStillS = 0.1    // s in which a rotor comes to rest
	jumpRatio    = 1.2    // times the current before it: grinding that grows by as much is not softer
)

// calm keeps what is least of the running motor: by how much its current deviates, and how loud its treble is.
type calm struct {
	leastA   float64 // 0: none yet
	trebleDB float64
	heard    bool
	third    float64 // largest ratio of third harmonic to fundamental
	beats    float64 // least span of the readings of a stretch, as a share: their windows are no whole cycles
	nextS    float64
}

// deviation returns that of the whole cycles' RMS from a straight line between two instants, A, and its mean.
func (g *grip) deviation(fromS, toS float64) (devA, meanA float64, ok bool) {
	l, n := line{}, 0.0
	for _, c := range between(g.past, fromS, toS) {
		l.add(c.EndS, c.RMSA)
		n += c.RMSA
	}
	return l.deviation(), n / max(l.n, 1), l.n >= plateauLeastN
}

// jitter is the median step from one value of the current to the next between two instants, A: one step of its height
// makes no current ragged.
func (g *grip) jitter(fromS, toS float64) (stepA float64, ok bool) {
	var steps []float64
	cs := between(g.past, fromS, toS)
	for i := 1; i < len(cs); i++ {
		steps = append(steps, math.Abs(cs[i].RMSA-cs[i-1].RMSA))
	}
	return quantile(steps, 0.5), len(steps) >= plateauLeastN
}

// learnCalm takes the last stretch of the running motor.
func (g *grip) learnCalm(c Current) {
	hold := g.lim.set.StallHoldS
	if c.EndS < g.calm.nextS+hold || c.EndS < g.sinceS+1+hold {
		return
	}
	g.calm.nextS = c.EndS
	if !c.Wave {
		n := len(g.past)
		for n > 0 && g.past[n-1].StartS > c.EndS-hold-c.rowS() {
			n--
		}
		if w := g.past[n:]; len(w) >= plateauLeastN {
			if f := flatnessOf(w); f.mean > 0 && (g.calm.beats == 0 || f.span < g.calm.beats*f.mean) {
				g.calm.beats = f.span / f.mean
			}
		}
		return
	}
	if c.FundA > 0 && !g.shared {
		g.calm.third = max(g.calm.third, c.ThirdA/c.FundA)
	}
	if d, _, ok := g.deviation(c.EndS-hold, c.EndS); ok && d > 0 && (g.calm.leastA == 0 || d < g.calm.leastA) {
		g.calm.leastA = d
	}
	if t, ok := g.ear.treble(c.EndS-hold, c.EndS); ok && (!g.calm.heard || t < g.calm.trebleDB) {
		g.calm.trebleDB, g.calm.heard = t, true
	}
}

// stoodStill says whether the current of some records is as still as only a locked rotor's, level, and not another
// appliance's on top of it: that draws no harmonics, but leaves the motor's.
func (g *grip) stoodStill(w []Current) bool {
	l, mean := line{}, meanOver{}
	for i := range w {
		l.add(w[i].EndS, w[i].RMSA)
		mean.add(w[i].RMSA, 1)
	}
	last := w[len(w)-1]
	onTop := crest(last) < pulseCrest || last.ThirdA < sameThird*g.calm.third*last.FundA
	if g.calm.third > pulsesThird && onTop && !isSine(w, g.idleA) {
		return false
	}
	if math.Abs(l.slope())*(last.EndS-w[0].EndS) > flatShare*mean.mean() {
		return false // a run-up's may follow a line too
	}
	return l.deviation() <= max(stillDev*mean.mean(), min(stillRatio*g.calm.leastA, flatDev*mean.mean()))
}

// softer says whether anything of what was heard just before an instant has gone since.
func (g *grip) softer(fromS, toS float64) bool {
	a0, c0, ok0 := g.ear.levels(fromS-1.2, fromS-0.2)
	a1, c1, ok1 := g.ear.levels(fromS+0.1, toS)
	t0, _ := g.ear.treble(fromS-1.2, fromS-0.2)
	t1, _ := g.ear.treble(fromS+0.1, toS)
	return ok0 && ok1 && max(a0-a1, c0-c1, t0-t1) > crackMoreDB
}

// fellSilent says whether the sound fell as the current rose to where it has stood since an instant: a rotor that turns and
// draws more grinds harder, and one that slows down draws ever more. Single impacts before it do not count, nor does what
// hides the empty motor.
func (g *grip) fellSilent(fromS, toS float64) bool {
	mid := (fromS + toS) / 2
	_, was, ok := g.deviation(fromS-1.2, fromS-0.2)
	_, first, _ := g.deviation(fromS, mid)
	_, is, _ := g.deviation(mid, toS)
	if !ok || is < jumpRatio*was || math.Abs(is-first) > stillDev*is {
		return false
	}
	fall := math.Inf(-1)
	for _, of := range []func(f *Heard) float64{func(f *Heard) float64 { return f.EA }, func(f *Heard) float64 { return f.ET }} {
		before, ok0 := g.ear.median(fromS-1.2, fromS-0.2, of)
		now, ok1 := g.ear.median(fromS+0.05, toS, of)
		if ok0 && ok1 {
			fall = max(fall, before-now)
		}
	}
	return fall >= hushDB
}

// stillerUp says whether the current was the more ragged before it rose to where it has stood since an instant: what turns
// and draws more is more ragged, not less, and no other appliance that comes on top smooths it.
func (g *grip) stillerUp(fromS, toS float64) bool {
	_, was, ok := g.deviation(fromS-beforeStillS-g.lim.set.StallHoldS, fromS-beforeStillS)
	_, is, _ := g.deviation(fromS, toS)
	before, _ := g.jitter(fromS-beforeStillS-g.lim.set.StallHoldS, fromS-beforeStillS)
	now, _ := g.jitter(fromS, toS)
	return ok && is > jumpRatio*was && before > risenRagged*now
}

// silent says whether the cutters were not heard between two instants, or, where nothing is heard, whether the current
// stood higher than any rotor grinds.
func (g *grip) silent(fromS, toS float64) bool {
	if !g.ear.any {
		_, mean, _ := g.deviation(fromS, toS)
		return mean > wideRatio*g.lim.ratedA
	}
	lower, ok := g.lower(fromS, toS)
	t, heard := g.ear.treble(fromS+0.1, toS)
	switch {
	case ok && lower >= hushDB:
		return true
	case heard && g.calm.heard:
		return t < g.calm.trebleDB+crackMoreDB && g.softer(fromS, toS)
	}
	return ok && lower >= 0
}
