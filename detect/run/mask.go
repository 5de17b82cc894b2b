package run

import (
	"math"
)

// secondN blocks on each side are looked at for a second witness.
const secondN = 10

// unrestN blocks on each side are looked at for an unrest too small to show in one block.
const (
	unrestN     = 4
	unrestRatio = 1.7
)

const (
	echoS       = 0.5    // s within which a louder sound carries on a load that the current showed
	clearBangS  = 1.0    // and an impact, if the clamp is good enough to show what made it
	blindRad    = 0.0015 // phase unrest of the empty chamber from which it is not: impacts are followed for the dwell
	goesOnN     = 10     // blocks after a run-up that are looked at: load that was in from the start is still there
	youngS      = 1.0    // s after a start in which a current above the band is the run-up's
	strayAfterS = 6.2    // s without load after which a short sign of it is a stray one
	strayS      = 0.65   // s that a stray sign of load may last
)

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
