package run

import "math"

// A witness turns a trait into evidence: the logarithm of how much likelier the trait is in a loaded block than in
// an empty one, between knots on straight lines. Rounded from the distributions of the simulated bench's usual and
// hostile sessions; ends are flat, so that no single block decides.
type witness []struct{ at, nats float64 }

func (w witness) of(x float64) float64 {
	switch n := len(w); {
	case x != x:
		return 0 // absent
	case x <= w[0].at:
		return w[0].nats
	case x >= w[n-1].at:
		return w[n-1].nats
	}
	i := 1
	for w[i].at < x {
		i++
	}
	a, b := w[i-1], w[i]
	return a.nats + (b.nats-a.nats)*(x-a.at)/(b.at-a.at)
}

var (
	byRough    = witness{{0, -3}, {0.5, 0}, {0.7, 2.5}, {1, 4}, {3, 6}}
	byJag      = witness{{-0.7, -1.5}, {0, 0}, {1, 3}, {3, 5}}
	byTreble   = witness{{0, -2.5}, {0.9, 0}, {1.5, 1.8}, {3, 3}, {10, 6}}
	byLoud     = witness{{0, -2}, {0.7, 0}, {1.5, 1}, {5, 3}, {10, 5.3}}
	byStir     = witness{{0, -1.5}, {0.9, 0}, {1.5, 1.5}, {2.3, 3}}
	byLevel    = witness{{0, -0.7}, {0.5, 0}, {3, 2.5}} // induction: load hides in the magnetising current
	byFollower = witness{{0, -3}, {0.4, 0}, {1, 3}}     // of a current that follows the load, or stands so high that it must
)

// traits are a block's, in units of what the empty chamber of this run does. NaN: not known.
type traits struct {
	level  float64 // mean current above the no-load line, half-widths of the no-load band
	unrest float64 // ln of the deviation of the cycle RMS over the usual one
	turn   float64 // and of the phase
	loud   float64 // level above the empty chamber's, dB
	top    float64 // that of the loudest 20 ms
	treble float64 // and of the 20 ms loudest above 4 kHz
	jag    float64 // ln of how far the block's mean is from that of its neighbours over a usual step
	stir   float64 // ln of how much the sound changes from block to block over the usual
	lift   float64 // ln of how far the mean stands above what flows before and after it, over what the empty chamber's strays
}

// leastDB is the finest change of the sound from block to block that counts, dB.
const leastDB = 0.15

// mostDB is the most that the sound of an empty chamber with running water changes so, dB: a template that says more
// had voices in it.
const mostDB = 1.0

// leastStep is the finest step of a block's mean that counts, as a share of the current: below it a supply wanders.
const leastStep = 0.0005

// calmest is how calm a block may count at most, ln: where the clamp sees less than a supply's wander all the time, being
// below that is nothing that an empty chamber has before a light load.
const calmest = -0.3

// traits looks at a block.
func (l *loads) traits(i int, t *template) traits {
	b := &l.blocks[i]
	at := (b.fromS + b.toS) / 2
	amp, nan := t.amp(at), math.NaN()
	x := traits{level: l.level(i, t), unrest: nan, turn: nan, loud: nan, top: nan, treble: nan, jag: nan, stir: nan}
	wander := 1.0
	if t.shiftedIn(b) {
		wander = max(float64(b.meanA)/amp, 1) // the supply makes all wander that flows
	}
	least := wander * leastStep * amp
	step := max(wander*t.stepA, least, l.digitA)
	if before, after, ok := l.between(i); ok && !b.stepped && !before.stepped && !after.stepped {
		d := math.Abs(float64(b.meanA) - (float64(before.meanA)+float64(after.meanA))/2)
		if off, ok := l.offBeat(i); ok {
			d = min(d, off)
		}
		x.jag = math.Log(max(d/step, 0.2))
	}
	x.stir = l.stir(i, t)
	x.lift = l.lift(i, t)
	if t.sdA > 0 && b.sdA > 0 && !b.stepped {
		x.unrest = max(math.Log(float64(b.sdA)/max(wander*t.sdA, least)), calmest)
	}
	if l.induction && t.sdRad > 0 && b.sdRad > 0 && !b.stepped {
		x.turn = max(math.Log(float64(b.sdRad)/max(t.sdRad, leastStep)), calmest)
	}
	if la := t.la(at); la == la && b.laDB == b.laDB {
		x.loud = float64(b.laDB) - la
		x.top = float64(b.topDB) - la - t.topDB
		if t.trebleDB != 0 {
			x.treble = float64(b.trebleDB) - t.trebleDB
		}
	}
	return x
}

// level is how far a block's current stands above the no-load line, half-widths of the no-load band.
func (l *loads) level(i int, t *template) float64 {
	b := &l.blocks[i]
	amp := t.amp((b.fromS + b.toS) / 2)
	return (float64(b.meanA) - amp) / l.band(amp, t.sigmaA)
}

// stir returns the logarithm of how much the sound changes from block to block about one over what it does in the
// empty chamber: running water is steady, however loud.
func (l *loads) stir(i int, t *template) float64 {
	of, usual := func(b *block) float64 { return float64(b.trebleDB) }, t.treble
	if t.trebleDB == 0 {
		of, usual = func(b *block) float64 { return float64(b.laDB) }, t.sigmaDB
	}
	sum, n := 0.0, 0.0
	for j := max(i-1, 1); j <= min(i+1, len(l.blocks)-2); j++ {
		d := of(&l.blocks[j]) - (of(&l.blocks[j-1])+of(&l.blocks[j+1]))/2
		sum += d * d
		n++
	}
	return math.Log(max(math.Sqrt(sum/n), 0.01) / min(max(usual, leastDB), mostDB))
}

// between returns the blocks before and after one and its reading, and says whether the motor ran evenly from one to the
// other.
func (l *loads) between(i int) (before, after *block, ok bool) {
	b := &l.blocks[i]
	p, n := i-1-int(b.part), i+1+int(b.rest)
	if p < 0 || n >= len(l.blocks) {
		return nil, nil, false
	}
	before, after = &l.blocks[p], &l.blocks[n]
	return before, after, !before.young && !b.young && after.fromS-before.toS < (b.parts()+2)*blockS
}

// dullDB is by how much the loudest moment may rise further than what is above 4 kHz before it is rather a voice or a
// knock: impacts of what is ground are bright. What is only dull is no evidence either way.
const dullDB = 2.0

// even returns the trait that says nothing.
func (w witness) even() float64 {
	for _, k := range w {
		if k.nats == 0 {
			return k.at
		}
	}
	return 0
}

// Times the no-load current to which neither drift nor the supply lifts that of an induction motor, and that of one
// whose current follows the load.
const (
	farInduction = 1.2
	farFollower  = 1.5
)

func (l *loads) far() float64 {
	if l.induction {
		return farInduction
	}
	return farFollower
}

// A current that stands out of its band and bites at once is load's, heard or not: soft food makes no impacts. So much
// of both, nats, and so much a sound like the empty chamber's may then speak against it. An induction motor's whose unrest
// would show, and that is as bare of it as without load, may be a compressor's on top.
const (
	plainLevel = 2.0
	plainRough = 3.0
	unheard    = -1.0
	bareRough  = -2.0
)

// evidence of load in a block, nats: from the current's unrest, its height, and the sound. Stir is against a steady sound.
// Far: the current is so high that nothing but load can have lifted it.
type evidence struct {
	rough, level, sound, stir float64
	jerky                     float64 // rough but for a rise, which no disturbance of the supply is as smooth as
	far                       bool
}

// slowedDB is by how much what is above 4 kHz is fainter of a motor that load has slowed down: its brushes and its fan.
// Dull blows do not hide that.
const (
	slowedDB    = 1.5
	slowedLevel = 0.5 // half-widths of the no-load band that its current stands above no load then
	slowedBy    = 0.5 // dB a half-width that it is quieter at least: beside another appliance it draws more, and is as loud
	slowedN     = 3   // blocks over which that does not fall
	slowedMost  = 2.0 // nats that it speaks for load at most, one a dB
)

// evidence weighs a block. Where a witness is absent (no microphone, readings without unrest) the others decide; near
// another appliance's switching or a dip of the supply only the sound does.
func (l *loads) evidence(i int, t *template) evidence {
	b := &l.blocks[i]
	var e evidence
	x := l.traits(i, t)
	if x.treble == x.treble {
		e.sound = byTreble.of(max(x.treble-1.5*max(x.top-x.treble-dullDB, 0), min(x.treble, byTreble.even())))
	} else {
		e.sound = byLoud.of(x.top)
	}
	if !l.induction && (x.loud < -0.5 || x.treble < -slowedDB) { // a motor that load slows down is quieter
		e.sound = max(e.sound, 0)
	}
	slowed := x.level > slowedLevel && x.loud < -max(0.5, slowedBy*x.level) && l.slows(i)
	if slowed {
		e.sound = max(e.sound, min(-x.loud, slowedMost))
	}
	e.stir = byStir.of(x.stir)
	if e.sound > 0 {
		e.sound += min(e.stir, 0) * e.sound / 6 // the louder and the steadier, the more it is like water
	}
	if b.young {
		if b.fromS < l.stretches[0].ToS {
			return evidence{}
		}
		return evidence{sound: e.sound / 2, stir: e.stir} // what was left from before a stop may be ground away in a run-up
	}
	if l.isForeign(*b) || l.dips(i, t) {
		return e
	}
	e.jerky = l.rough(i, t, x.turn, x.unrest, x.jag)
	e.rough = e.jerky
	if x.lift == x.lift {
		e.rough = l.rough(i, t, x.turn, x.unrest, x.jag, x.lift)
	}
	if t.sdA == 0 && b.laDB != b.laDB && !l.lifted(i, t) {
		e.jerky, e.rough = min(e.jerky, 0), min(e.rough, 0)
	}
	if slowed {
		e.rough = max(e.rough, 0) // however evenly
	}
	if i+1 < len(l.blocks) && l.blocks[i+1].fromS-b.toS < blockS && !l.isForeign(l.blocks[i+1]) {
		x.level = max(x.level, l.level(i+1, t)) // the rotor's inertia lets the current rise late
	}
	switch {
	case t.shiftedIn(b):
	case !l.induction && l.runsFree(i, t):
		e.rough = min(e.rough, 0)
	case len(l.foreign) == 0 && float64(b.meanA) > l.far()*t.amp(b.fromS):
		e.level, e.far = byFollower.of(x.level), true
		if !l.induction || e.rough > bareRough || float64(b.meanA) > besideFar*l.far()*t.amp(b.fromS) {
			e.sound = max(e.sound, 0)
		}
	case l.induction:
		e.level = byLevel.of(x.level)
		if e.level >= plainLevel && e.jerky >= plainRough {
			e.sound = max(e.sound, unheard)
		}
	default:
		e.level = byFollower.of(x.level)
		if x.lift > liftShows {
			e.level = max(e.level, 0) // the band is as wide as drift, which is slower
		}
		if e.level > 0 {
			e.rough = max(e.rough, 0) // a load that such a current follows may be even
		}
	}
	return e
}

// isForeign says whether another appliance was switched on or off about a block.
func (l *loads) isForeign(b block) bool {
	for _, f := range l.foreign {
		if b.toS > f.FromS && b.fromS < f.ToS {
			return true
		}
	}
	return false
}

// slows says of a series motor that draws more than without load and is quieter whether it is load that slows it down:
// its current falls as it runs up again. Electronics bring other motors up so that they draw more and are quieter.
func (l *loads) slows(i int) bool {
	return !l.induction && !l.pulsed && i >= slowedN && l.blocks[i].meanA >= (1-leastStep)*l.blocks[i-slowedN].meanA
}

// calm says whether a block shows no load by itself.
func (x traits) calm() bool {
	return !(x.unrest > 0.6 || x.turn > 0.6 || x.treble > 1 || x.top > 1.5 || x.level > 0.5)
}
