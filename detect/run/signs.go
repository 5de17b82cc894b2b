package run

// secondN blocks on each side are looked at for a second witness.
const secondN = 10

// unrestN blocks on each side are looked at for an unrest too small to show in one block.
const (
	unrestN     = 4
	unrestRatio = 1.7
)

const (
	blindRad     = 0.0015 // phase unrest of the empty chamber from which it is not: impacts are followed for the dwell
	blindShare   = 0.01   // the same for the unrest of a current that follows the load, as a share of it
	liftSteps    = 6.0    // a mean that rises by so many usual steps from block to block was pushed
	liftShare    = 0.004  // and by at least this share
	liftN        = 6      // blocks before, whose median it rises from
	driftBands   = 3.0    // half-widths of the no-load band that drift and the supply may move it by
	secondLeastN = 4      // blocks near one that must bear it out
)

// signs of load in a block.
type signs struct {
	amps    bool    // the current stands above the no-load band
	high    bool    // so far that neither drift nor the supply can have done it
	ragged  bool    // it is more ragged than in the empty chamber
	stirs   bool    // or shows a trace of it
	lifts   bool    // it rises above what it was just before
	young   bool    // the run-up may still show
	unrest  float64 // how ragged it is against the empty chamber's usual
	loud    bool    // the sound is louder than the empty chamber
	bang    bool    // an impact
	foreign bool    // another appliance was switched then
	slowed  bool    // it is quieter than the empty chamber: a motor that load slows down
	blind   bool    // the clamp is too noisy, or too slow, to show unrest
	deaf    bool    // nothing was heard
}

func (l *loads) signs(b block, t *template) signs {
	at := (b.fromS + b.toS) / 2
	amp, la := t.amp(at), t.la(at)
	var s signs
	s.young = b.young
	s.amps = b.held || !t.shifted && float64(b.meanA) > amp+l.band(amp, t.sigmaA)
	s.high = s.amps && float64(b.meanA) > amp+driftBands*l.band(amp, t.sigmaA)
	s.ragged = float64(b.sdA) > max(4*t.sdA, 0.004*amp)
	s.unrest = ratio(float64(b.sdA), t.sdA)
	if l.induction { // load shows in the phase of no other motor's current
		s.ragged = s.ragged || float64(b.sdRad) > max(4*t.sdRad, 0.004)
		s.unrest = max(s.unrest, ratio(float64(b.sdRad), t.sdRad))
	}
	s.stirs = s.unrest > 3.2
	s.blind = l.blind(t)
	s.deaf = b.laDB != b.laDB || la != la
	if s.foreign = l.isForeign(b); s.foreign {
		s.amps, s.ragged, s.stirs, s.unrest = b.held, false, false, min(s.unrest, 1)
	}
	if !s.deaf {
		s.loud = float64(b.laDB) > la+max(4*t.sigmaDB, 2)
		s.bang = float64(b.topDB) > la+t.topDB+l.set.ImpactOverDB/2
		s.slowed = !l.induction && float64(b.laDB) < la-max(4*t.sigmaDB, 1.5)
	}
	return s
}

// blind says whether the clamp is too noisy, or too slow, to show what an impact does to the current. Load shows
// in the phase of an induction motor's current, in the height of any other's.
func (l *loads) blind(t *template) bool {
	if l.induction {
		return t.sdRad == 0 || t.sdRad > blindRad
	}
	return t.sdA == 0 || t.sdA > blindShare*t.amp0
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

// lifted says whether the current rises in a block or the next above where it was going in those before, as an
// impact pushes it. What it rises from is its own near past, so that drift and other appliances do not matter.
func (l *loads) lifted(i int, t *template) bool {
	if i < liftN || l.blocks[i-liftN].young || l.blocks[i].toS-l.blocks[i-liftN].fromS > (liftN+2)*blockS || l.isForeign(l.blocks[i]) {
		return false
	}
	third := func(j int) float64 {
		a, b, c := float64(l.blocks[j].meanA), float64(l.blocks[j+1].meanA), float64(l.blocks[j+2].meanA)
		return max(min(a, b), min(max(a, b), c))
	}
	before, just := third(i-liftN), third(i-liftN/2)
	going := just + max(just-before, 0)*5/3 // at the next block, if it was rising
	most := float64(l.blocks[i].meanA)
	if i+1 < len(l.blocks) && l.blocks[i+1].fromS-l.blocks[i].toS < blockS {
		most = max(most, float64(l.blocks[i+1].meanA))
	}
	return most-going > max(liftSteps*t.stepA, liftShare*just)
}

// seconded says whether anything beside a higher current speaks for load near a block: another appliance
// on the conductor, a drifting supply, or a motor that warms lift the current too, but make it neither ragged nor
// heard. Where the clamp shows no unrest, what is heard has to do, a voice like an impact; where nothing is heard
// either, the current alone.
func seconded(sg []signs, i int) bool {
	if sg[i].deaf && sg[i].blind {
		return true
	}
	n := 0
	for j := max(0, i-secondN); j <= min(len(sg)-1, i+secondN); j++ {
		s := &sg[j]
		switch {
		case s.young:
		case s.ragged && s.lifts: // a push
			n += secondLeastN - 1
		case s.ragged || s.unrest > 2.2 || s.slowed || s.blind && (s.loud || s.bang):
			n++
		}
	}
	if sg[i].high {
		return n > 0
	}
	return n >= secondLeastN
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
