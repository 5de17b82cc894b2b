package run

import (
	"math"
	"slices"
)

// silentS round an anchor must be free of impacts, s.
const silentS = 1.5

// besideFar times what drift and the supply do, a compressor that came unseen may lift the no-load current.
const besideFar = 1.2

// restShare of the no-load current, from which what flows while the motor is off is another appliance's, and may go unseen.
const restShare = 0.2

// constantN anchors in a row, about 2.5 s, that draw the same make a current that is constant.
const constantN = 5

// anchorBlocks is the length of an anchor in blocks, 0.8 s, and anchorRows that in readings, if they are longer.
const (
	anchorBlocks = 8
	anchorRows   = 3
)

// template is what an empty chamber looks like in this run: current and sound, with their spread. The
// current is a line in time, since a motor drifts by a few per cent as it warms.
type template struct {
	at0, at1   float64 // instants of the two anchors, s
	amp0, amp1 float64 // no-load current there
	sigmaA     float64 // spread of block means round the line
	sdA        float64 // usual deviation within a block
	sdRad      float64 // and that of the phase
	stepA      float64 // usual step from one block's mean to the next
	strayA     float64 // usual distance of a block's mean from what flows about it
	guestA     float64 // what other appliances drew there
	shifted    bool    // another appliance moved the current: its height says nothing of load
	highA      float64 // the highest current that counts as an empty chamber's
	la0, la1   float64 // level there; NaN: not heard
	sigmaDB    float64
	topDB      float64 // usual excess of the loudest 20 ms over its block
	trebleDB   float64 // usual level above 4 kHz of the loudest 20 ms there; NaN: not heard
	treble     float64 // its spread, dB
	usual      usual   // what it shows of load by itself
}

func (t *template) line(atS, a, b float64) float64 {
	if t.at1 <= t.at0 {
		return a
	}
	x := min(max((atS-t.at0)/(t.at1-t.at0), 0), 1)
	return a + (b-a)*x
}

func (t *template) amp(atS float64) float64 { return t.line(atS, t.amp0, t.amp1) }
func (t *template) la(atS float64) float64  { return t.line(atS, t.la0, t.la1) }

// shiftedIn says whether the height of a block's current says nothing of load.
func (t *template) shiftedIn(b *block) bool {
	return t.shifted || math.Abs(float64(b.guestA)-t.guestA) > 0.05*t.amp0
}

// anchor is a second of blocks that may be an empty chamber.
type anchor struct {
	first              int // block
	at, amp, sigma, sd float64
	rad, step          float64
	la, sigmaLA, top   float64
	treble, sigmaT     float64
	guestA             float64
	ok                 bool
}

func anchorOf(bs []block) anchor {
	var a anchor
	var room [6][2 * anchorBlocks]float64 // so that short ones, which are most, need no memory
	amps, sds, rads, las, tops, trebles := room[0][:0], room[1][:0], room[2][:0], room[3][:0], room[4][:0], room[5][:0]
	for i := range bs {
		b := &bs[i]
		if b.held {
			return a
		}
		if b.part == 0 { // a reading speaks once
			amps, sds, rads = append(amps, float64(b.meanA)), append(sds, float64(b.sdA)), append(rads, float64(b.sdRad))
		}
		if !math.IsNaN(float64(b.laDB)) {
			las, tops = append(las, float64(b.laDB)), append(tops, float64(b.topDB-b.laDB))
		}
		if b.trebleDB == b.trebleDB {
			trebles = append(trebles, float64(b.trebleDB))
		}
	}
	if len(amps) < 2 {
		return a
	}
	a.at = (bs[0].fromS + bs[len(bs)-1].toS) / 2
	a.sd, _ = middle(sds)
	a.rad, _ = middle(rads)
	steps := sds[:0]
	for i := 1; i < len(amps); i++ {
		steps = append(steps, math.Abs(amps[i]-amps[i-1]))
	}
	a.step, _ = middle(steps)
	a.amp, a.sigma = middle(amps)
	a.la, a.sigmaLA, a.top = math.NaN(), math.NaN(), math.NaN()
	if len(las) >= 3 {
		a.la, a.sigmaLA = middle(las)
		a.top, _ = middle(tops)
	}
	a.treble, a.sigmaT = math.NaN(), math.NaN()
	if len(trebles) >= 3 {
		a.treble, a.sigmaT = middle(trebles)
	}
	a.guestA, a.ok = float64(bs[0].guestA), true
	return a
}

// middle returns the median and a robust standard deviation (median absolute deviation x 1.4826), and leaves other values
// in their place.
func middle(v []float64) (mid, sigma float64) {
	slices.Sort(v)
	mid = v[len(v)/2]
	for i := range v {
		v[i] = math.Abs(v[i] - mid)
	}
	slices.Sort(v)
	return mid, 1.4826 * v[len(v)/2]
}

// quantile of the last hundred values.
func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.Inf(-1)
	}
	s := slices.Clone(v[max(0, len(v)-100):])
	slices.Sort(s)
	return s[int(q*float64(len(s)-1))]
}

// band is the half-width of the no-load band round a no-load current, A.
func (l *loads) band(amp, sigma float64) float64 {
	share := l.set.BandOther
	if l.induction {
		share = l.set.BandInduction
	}
	return max(l.set.BandSigmas*sigma, share*amp, 2*l.digit()) // a reading one step up says nothing
}

// digitLeastN times the least step of readings must be seen to be their last digit: readings without noise have few steps.
const digitLeastN = 6

// digit is the last digit of readings that are given in few, A; 0: not seen to be.
func (l *loads) digit() float64 {
	if l.digitN < digitLeastN {
		return 0
	}
	return l.digitA
}

// silentRound says that no impact was heard within some seconds of an instant: what lifts the current then
// is not in the chamber.
func (l *loads) silentRound(atS, quietDB float64) bool {
	for _, b := range l.blocks {
		if math.Abs(b.fromS-atS) < silentS && !b.young && float64(b.topDB) > quietDB+l.set.ImpactOverDB {
			return false
		}
	}
	return true
}

// constant says whether the current stands within a narrow band for some seconds with an anchor in them.
func (l *loads) constant(all []anchor, i int) bool {
	within := 0.01
	if !l.induction {
		within = 0.03
	}
	a := &all[i]
	n := 1
	for _, step := range [2]int{-1, 1} {
		for j := i + step; j >= 0 && j < len(all) && n < constantN && math.Abs(all[j].amp-a.amp) <= within*a.amp; j += step {
			n++
		}
	}
	return n >= constantN
}

// learn finds the empty chamber in the run: the calmest, lowest seconds of it, and whether the start
// and the end of the run belong to them.
func (l *loads) learn() (template, bool) {
	long := max(anchorBlocks, int(anchorRows*l.rowS/blockS+0.5))
	all := l.anchors(long)
	if len(all) == 0 {
		return template{}, false
	}
	idle, low := l.idle(all)
	if len(idle) == 0 {
		return template{}, false
	}
	first, last := idle[0], idle[len(idle)-1]
	t := template{guestA: low.guestA, at0: first.at, at1: last.at, amp0: first.amp, amp1: last.amp, la0: first.la, la1: last.la}
	for _, a := range idle {
		t.highA = max(t.highA, a.amp)
		t.shifted = t.shifted || a.amp-low.amp > max(2*l.band(low.amp, 0), 0.06*low.amp)
	}
	usual := func(of func(anchor) float64) float64 {
		var v []float64
		for _, a := range idle {
			if x := of(a); x == x {
				v = append(v, x)
			}
		}
		if len(v) == 0 {
			return 0
		}
		slices.Sort(v)
		return v[len(v)/2]
	}
	t.sdA, t.sdRad = usual(func(a anchor) float64 { return a.sd }), usual(func(a anchor) float64 { return a.rad })
	t.sigmaA, t.sigmaDB = usual(func(a anchor) float64 { return a.sigma }), usual(func(a anchor) float64 { return a.sigmaLA })
	t.stepA = 1.4826 * usual(func(a anchor) float64 { return a.step })
	var strays []float64
	for _, a := range idle {
		for i := a.first; i < a.first+long; i++ {
			strays = append(strays, math.Abs(l.above(i)))
		}
	}
	t.strayA = 1.4826 * quantile(strays, 0.5)
	t.topDB = usual(func(a anchor) float64 { return a.top })
	t.trebleDB, t.treble = usual(func(a anchor) float64 { return a.treble }), usual(func(a anchor) float64 { return a.sigmaT })
	l.learnUsual(&t, idle, long)
	return t, true
}

// anchors returns the stretches of so many blocks, half of them apart, and the last one of the run.
func (l *loads) anchors(long int) (all []anchor) {
	add := func(first int) {
		if a := anchorOf(l.blocks[first : first+long]); a.ok {
			a.first = first
			all = append(all, a)
		}
	}
	n := len(l.blocks)
	for i := 0; i+long <= n; i += long / 2 {
		if l.blocks[i+long-1].toS-l.blocks[i].fromS < 3*blockS*float64(long) {
			add(i)
		}
	}
	if n >= long {
		add(n - long)
	}
	return all
}

// calm says which anchors are: little deviation within their blocks and between them.
func (l *loads) calm(all []anchor) []bool {
	rags := make([]float64, len(all))
	for i, a := range all {
		if rags[i] = math.Hypot(a.sd, a.sigma); l.induction {
			rags[i] = math.Hypot(rags[i], a.rad*a.amp)
		}
	}
	sorted := slices.Sorted(slices.Values(rags))
	calm := make([]bool, len(all))
	for i, a := range all {
		calm[i] = rags[i] <= max(3*sorted[len(all)/20], 0.004*a.amp)
	}
	return calm
}

// idle returns the anchors at which the chamber was empty, and the lowest.
func (l *loads) idle(all []anchor) (idle []anchor, low anchor) {
	calm, quiet := l.calm(all), math.Inf(1)
	low.amp = math.Inf(1)
	for i, a := range all {
		if calm[i] && a.amp < low.amp {
			low = a
		}
	}
	// Drift and supply move the no-load current by a few per cent within a run.
	drifted := func(a anchor) bool { return a.amp-low.amp <= max(1.5*l.band(low.amp, 0), 0.04*low.amp) }
	for i, a := range all {
		if calm[i] && drifted(a) && a.la == a.la {
			quiet = min(quiet, a.la)
		}
	}
	for i, a := range all {
		// Another appliance moves it further, but is not heard, and draws the same all the time; load is
		// heard: louder by its impacts, or quieter where it slows the motor down. Where a waveform showed none come or
		// go, and neither drift, the supply nor a compressor that came unseen lifts it so far, it is load, heard or not.
		lowest := drifted(a) && (a.la != a.la || a.la <= quiet+4)
		if calm[i] && (lowest || (!l.wave || len(l.foreign) > 0 || l.restA > restShare*low.amp || a.amp <= besideFar*l.far()*low.amp) && math.Abs(a.la-quiet) <= 1.5 && a.amp < 2.5*low.amp && l.constant(all, i) && l.silentRound(a.at, quiet)) {
			idle = append(idle, a)
		}
	}
	return idle, low
}
