package run

import (
	"fmt"
	"math"
	"slices"

	"quern/rig"
)

// template is what an empty chamber looks like in this run: current and sound, with their spread. The
// current is a line in time, since a motor drifts by a few per cent as it warms.
type template struct {
	at0, at1   float64 // instants of the two anchors, s
	amp0, amp1 float64 // no-load current there
	sigmaA     float64 // spread of block means round the line
	sdA        float64 // usual deviation within a block
	sdRad      float64 // and that of the phase
	shifted    bool    // another appliance moved the current: its height says nothing of load
	la0, la1   float64 // level there; NaN: not heard
	sigmaDB    float64
	topDB      float64 // usual excess of the loudest 20 ms over its block
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

// anchor is a second of blocks that may be an empty chamber.
type anchor struct {
	at, amp, sigma, sd float64
	rad                float64
	la, sigmaLA, top   float64
	ok                 bool
}

// anchorBlocks is the length of an anchor in blocks: 0.8 s.
const anchorBlocks = 8

func anchorOf(bs []block) anchor {
	var a anchor
	if len(bs) < 3 {
		return a
	}
	amps, sds := make([]float64, 0, len(bs)), make([]float64, 0, len(bs))
	var las, tops, rads []float64
	for _, b := range bs {
		if b.held {
			return a
		}
		amps, sds, rads = append(amps, float64(b.meanA)), append(sds, float64(b.sdA)), append(rads, float64(b.sdRad))
		if !math.IsNaN(float64(b.laDB)) {
			las, tops = append(las, float64(b.laDB)), append(tops, float64(b.topDB-b.laDB))
		}
	}
	a.at = (bs[0].fromS + bs[len(bs)-1].toS) / 2
	a.amp, a.sigma = middle(amps)
	a.sd, _ = middle(sds)
	a.rad, _ = middle(rads)
	a.la, a.sigmaLA, a.top = math.NaN(), math.NaN(), math.NaN()
	if len(las) >= 3 {
		a.la, a.sigmaLA = middle(las)
		a.top, _ = middle(tops)
	}
	a.ok = true
	return a
}

// middle returns the median and a robust standard deviation (median absolute deviation x 1.4826).
func middle(v []float64) (mid, sigma float64) {
	s := slices.Clone(v)
	slices.Sort(s)
	mid = s[len(s)/2]
	for i := range s {
		s[i] = math.Abs(s[i] - mid)
	}
	slices.Sort(s)
	return mid, 1.4826 * s[len(s)/2]
}

// band is the half-width of the no-load band round a no-load current, A.
func (l *loads) band(amp, sigma float64) float64 {
	share := l.set.BandOther
	if l.induction {
		share = l.set.BandInduction
	}
	return max(l.set.BandSigmas*sigma, share*amp)
}

// learn finds the empty chamber in the run: the calmest, lowest seconds of it, and whether the start
// and the end of the run belong to them.
func (l *loads) learn() (template, bool) {
	n := len(l.blocks)
	if n < anchorBlocks {
		return template{}, false
	}
	var all []anchor
	for i := 0; i+anchorBlocks <= n; i += anchorBlocks / 2 {
		if w := l.blocks[i : i+anchorBlocks]; w[anchorBlocks-1].toS-w[0].fromS < 3*blockS*anchorBlocks {
			if a := anchorOf(w); a.ok {
				all = append(all, a)
			}
		}
	}
	if a := anchorOf(l.blocks[n-anchorBlocks:]); a.ok {
		all = append(all, a)
	}
	if len(all) == 0 {
		return template{}, false
	}
	// The calm ones: little deviation within blocks and between them.
	rag := func(a anchor) float64 { return math.Hypot(math.Hypot(a.sd, a.sigma)/a.amp, a.rad) }
	rags := make([]float64, len(all))
	for i, a := range all {
		rags[i] = rag(a)
	}
	slices.Sort(rags)
	calm := max(3*rags[len(rags)/20], 0.004)
	low, quiet := math.Inf(1), math.Inf(1)
	for _, a := range all {
		if rag(a) <= calm {
			low = min(low, a.amp)
			if a.la == a.la {
				quiet = min(quiet, a.la)
			}
		}
	}
	var idle []anchor
	most := 0.0
	for _, a := range all {
		// Drift and supply move the no-load current by a few per cent within a run. Another appliance
		// moves it further, but is not heard; load is.
		shift := a.amp - low
		drifted := shift <= max(1.5*l.band(low, 0), 0.04*low)
		if rag(a) <= calm && (drifted && (a.la != a.la || a.la <= quiet+4) || a.la <= quiet+1.5 && a.amp < 2.5*low) {
			idle = append(idle, a)
			most = max(most, shift)
		}
	}
	if len(idle) == 0 {
		return template{}, false
	}
	first, last := idle[0], idle[len(idle)-1]
	t := template{shifted: most > max(2*l.band(low, 0), 0.06*low), at0: first.at, at1: last.at, amp0: first.amp, amp1: last.amp, la0: first.la, la1: last.la}
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
	t.topDB = usual(func(a anchor) float64 { return a.top })
	return t, true
}

// signs of load in a block.
type signs struct {
	amps   bool    // the current stands above the no-load band
	ragged bool    // it is more ragged than in the empty chamber
	stirs  bool    // or shows a trace of it
	young  bool    // the run-up may still show
	unrest float64 // how ragged it is against the empty chamber's usual
	loud   bool    // the sound is louder than the empty chamber
	bang   bool    // an impact
	deaf   bool    // nothing was heard
}

func (l *loads) signs(b block, t *template) signs {
	at := (b.fromS + b.toS) / 2
	amp, la := t.amp(at), t.la(at)
	var s signs
	s.young = b.young
	s.amps = b.held || !t.shifted && float64(b.meanA) > amp+l.band(amp, t.sigmaA)
	s.ragged = float64(b.sdA) > max(4*t.sdA, 0.004*amp) || float64(b.sdRad) > max(4*t.sdRad, 0.004)
	s.unrest = max(ratio(float64(b.sdA), t.sdA), ratio(float64(b.sdRad), t.sdRad))
	s.stirs = s.unrest > 3.2
	s.deaf = b.laDB != b.laDB || la != la
	if !s.deaf {
		s.loud = float64(b.laDB) > la+max(4*t.sigmaDB, 2)
		s.bang = float64(b.topDB) > la+t.topDB+l.set.ImpactOverDB/2
	}
	return s
}

// secondN blocks on each side are looked at for a second witness.
const secondN = 10

// seconded says whether anything beside a higher current speaks for load near a block: another appliance
// on the conductor, or the supply, lifts the current too, but neither makes it ragged nor is heard. Where
// nothing is heard at all, the current has to do.
func seconded(sg []signs, i int) bool {
	if sg[i].deaf {
		return true
	}
	for j := max(0, i-secondN); j <= min(len(sg)-1, i+secondN); j++ {
		if s := &sg[j]; !s.young && (s.loud || s.bang || s.ragged || s.unrest > 2.2) {
			return true
		}
	}
	return false
}

// ragged says whether a ragged block is load and not just the switching of another appliance: it is
// heard, or goes on.
func ragged(sg []signs, i int) bool {
	n := 0
	for j := max(0, i-secondN); j <= min(len(sg)-1, i+secondN); j++ {
		s := &sg[j]
		if s.young {
			continue
		}
		if s.unrest > 2.2 {
			n++
		}
		if (s.bang || s.loud) && j >= i-5 && j <= i+5 {
			return true
		}
	}
	return n >= 9
}

// bangs counts the impacts within a second of a block.
func bangs(sg []signs, i int) int {
	n := 0
	for j := max(0, i-secondN); j <= min(len(sg)-1, i+secondN); j++ {
		if sg[j].bang {
			n++
		}
	}
	return n
}

// ratio returns a over b; 0 where b is nothing to compare with.
func ratio(a, b float64) float64 {
	if b <= 0 {
		return 0
	}
	return a / b
}

// unrestN blocks on each side are looked at for an unrest too small to show in one block.
const (
	unrestN     = 4
	unrestRatio = 1.7
)

// restless says whether a block and those round it are together more ragged than the empty chamber.
func restless(sg []signs, i int) bool {
	if sg[i].unrest < 1.5 || sg[i].young {
		return false
	}
	sum, n := 0.0, 0.0
	most := 2.5 // so that the switching of another appliance, strong and short, does not pass for unrest
	if sg[i].deaf {
		most = 4
	}
	for j := max(0, i-unrestN); j <= min(len(sg)-1, i+unrestN); j++ {
		if !sg[j].young {
			sum += min(sg[j].unrest, most)
			n++
		}
	}
	return sum/n > unrestRatio
}

const (
	echoS       = 0.5    // s within which a louder sound carries on a load that the current showed
	clearBangS  = 1.0    // and an impact, if the clamp is good enough to show what made it
	blindRad    = 0.0015 // phase unrest of the empty chamber from which it is not: impacts are followed for the dwell
	goesOnN     = 10     // blocks after a run-up that are looked at: load that was in from the start is still there
	youngS      = 1.0    // s after a start in which a current above the band is the run-up's
	strayAfterS = 7.0    // s without load after which a short sign of it is a stray one
	strayS      = 0.65   // s that a stray sign of load may last
	clearLeastS = 1.0    // s of clear chamber before the last stop that make it certain
)

// end tells load_start, load_end and the loaded stretches of a run, and its no-load current.
func (l *loads) end(f *Found) {
	t, ok := l.learn()
	if !ok {
		f.IdleA = rig.Absent("no-load-not-seen")
		l.warn("no-load-not-seen", fmt.Sprintf("no calm second without load was found in the run from %.1f s: no-load current, load_start and load_end are not known", f.StartS()))
		return
	}
	f.IdleA = rig.Fig((t.amp0 + t.amp1) / 2)
	load := l.mask(&t)
	l.tell(f, &t, load)
}

// mask says of each block whether there was load. The current decides where it can; an impact that
// stirs the current at all is the grinder's; a sound without any trace in the current (a clap, a
// voice) counts only as the tail of a load that the current showed.
func (l *loads) mask(t *template) []bool {
	load := make([]bool, len(l.blocks))
	sg := make([]signs, len(l.blocks))
	for i, b := range l.blocks {
		sg[i] = l.signs(b, t)
	}
	for i := range l.blocks {
		s := sg[i]
		next := func(f func(signs) bool) bool {
			return i > 0 && f(sg[i-1]) || i+1 < len(sg) && f(sg[i+1])
		}
		load[i] = s.ragged && ragged(sg, i) && (s.amps || s.bang || s.loud || next(func(x signs) bool { return x.ragged || x.amps })) ||
			s.amps && next(func(x signs) bool { return x.amps || x.ragged }) && (l.blocks[i].held || seconded(sg, i)) ||
			s.bang && (s.stirs || next(func(x signs) bool { return x.stirs })) ||
			restless(sg, i) ||
			t.sdRad == 0 && s.bang && bangs(sg, i) >= 3 // readings show no more
	}
	l.pardon(load, sg)
	bangsS := clearBangS
	if t.sdRad > blindRad {
		bangsS = l.set.DwellS
	}
	lastS := math.Inf(-1) // end of the last block with load
	for i, b := range l.blocks {
		if load[i] || sg[i].bang && b.fromS-lastS < bangsS {
			load[i], lastS = true, b.toS
			continue
		}
		load[i] = sg[i].loud && b.fromS-lastS < echoS // but a voice must not carry itself on
	}
	l.dropStrays(load)
	return load
}

// dropStrays takes out what is short and comes long after the last load: a clap that met a twitch of the
// current, the switching of another appliance. What is ground shows again before the dwell is over.
func (l *loads) dropStrays(load []bool) {
	lastS := math.Inf(-1)
	for i := 0; i < len(load); {
		if !load[i] {
			i++
			continue
		}
		j := i
		for j < len(load) && load[j] {
			j++
		}
		if l.blocks[i].fromS-lastS > strayAfterS && lastS > 0 && float64(j-i)*blockS < strayS && !l.blocks[i].held {
			for k := i; k < j; k++ {
				load[k] = false
			}
		} else {
			lastS = l.blocks[j-1].toS
		}
		i = j
	}
}

// pardon takes the end of a run-up out of the mask, unless the load goes on after it.
func (l *loads) pardon(load []bool, sg []signs) {
	for k, on := range l.stretches {
		first, end := -1, -1
		for i, b := range l.blocks {
			if b.young && b.fromS >= on.FromS && b.fromS < on.ToS {
				if first < 0 {
					first = i
				}
				end = i + 1
			}
		}
		if first < 0 {
			continue
		}
		n := 0
		for i := end; i < min(end+goesOnN, len(load)); i++ {
			if load[i] && l.blocks[i].toS <= on.ToS {
				n++
			}
		}
		goesOn := n >= goesOnN*8/10
		if goesOn {
			continue
		}
		if k > 0 { // what was left from before the stop may be ground away in the run-up: its impacts tell
			for i := first; i < end; i++ {
				if sg[i].bang {
					first = i + 1
				}
			}
		}
		for i := first; i < end && load[i]; i++ {
			load[i] = false
		}
	}
}

// lasting says whether load goes on after a block: material that goes in does not leave at once.
func lasting(load []bool, i int) bool {
	n := 0
	for j := i; j < min(i+10, len(load)); j++ {
		if load[j] {
			n++
		}
	}
	return n >= 4
}

// tell turns the mask into events and states.
func (l *loads) tell(f *Found, t *template, load []bool) {
	first, last := -1, -1
	for i, b := range load {
		if b {
			if first < 0 && lasting(load, i) {
				first = i
			}
			last = i
		}
	}
	heard := t.la0 == t.la0
	evidence := "current and its raggedness"
	sure := 0.7
	if heard {
		evidence, sure = "current, its raggedness and the impacts in the sound", 0.9
	}
	if first >= 0 {
		b := l.blocks[first]
		f.Events = append(f.Events, event(rig.LoadStart, b.fromS, 2*blockS, sure,
			fmt.Sprintf("%s left the empty chamber's (%.2f A)", evidence, t.amp(b.fromS))))
	}
	stop := f.EndS()
	switch {
	case first < 0:
	case stop-l.blocks[last].toS < clearLeastS:
		l.warn("not-clear", fmt.Sprintf("the motor stopped at %.1f s with the chamber still loaded, or too soon after to tell", stop))
	default:
		at := l.blocks[last].toS
		for _, on := range l.stretches { // cleared by hand while the motor stood
			if on.ToS < stop && math.Abs(on.ToS-at) < 1.5*blockS {
				at = on.ToS
			}
		}
		f.Events = append(f.Events, event(rig.LoadEnd, at, 0.5, sure,
			fmt.Sprintf("%s came back to the empty chamber's for the last %.1f s", evidence, stop-at)))
		if !heard && l.induction {
			l.warn("load-end-by-current", "load_end comes from the current alone: on an induction motor that is early, the last of the load hides in it")
		}
	}
	f.States = l.paint(f.States, load)
}

// paint splits the running spans into loaded and no-load ones.
func (l *loads) paint(spans []rig.Span, load []bool) []rig.Span {
	var out []rig.Span
	put := func(s rig.State, from, to float64) {
		if to <= from {
			return
		}
		if n := len(out); n > 0 && out[n-1].State == s && from-out[n-1].ToS.V < 1e-9 {
			out[n-1].ToS = rig.Fig(to)
			return
		}
		out = append(out, rig.Span{State: s, FromS: rig.Fig(from), ToS: rig.Fig(to)})
	}
	i := 0
	for _, s := range spans {
		if s.State != rig.NoLoad {
			put(s.State, s.FromS.V, s.ToS.V)
			continue
		}
		at, state := s.FromS.V, rig.NoLoad
		for ; i < len(l.blocks) && l.blocks[i].toS <= s.FromS.V; i++ {
		}
		for j := i; j < len(l.blocks) && l.blocks[j].fromS < s.ToS.V; j++ {
			now := rig.NoLoad
			if near(load, j) {
				now = rig.Loaded
			}
			if now != state {
				put(state, at, max(at, l.blocks[j].fromS))
				at, state = max(at, l.blocks[j].fromS), now
			}
		}
		put(state, at, s.ToS.V)
	}
	return out
}

// near says whether there is load within half a second of a block: the ribbon should not flicker.
func near(load []bool, i int) bool {
	for j := max(i-5, 0); j <= min(i+5, len(load)-1); j++ {
		if load[j] {
			return true
		}
	}
	return false
}

func (l *loads) warn(code, text string) {
	l.warnings = append(l.warnings, rig.Warning{Code: code, Text: text})
}
