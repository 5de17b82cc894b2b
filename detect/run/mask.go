package run

import (
	"math"
)

const (
	echoS       = 0.5  // s within which a louder sound carries on a load that the current showed
	clearBangS  = 1.0  // and an impact, if the clamp is good enough to show what made it
	calmRatio   = 1.15 // mean unrest of blocks with impacts, below which none of them was in the chamber
	calmLeastN  = 6    // blocks with impacts that are needed to say so
	goesOnN     = 10   // blocks after a run-up that are looked at: load that was in from the start is still there
	youngS      = 1.0  // s after a start in which a current above the band is the run-up's
	strayAfterS = 6.2  // s without load after which a short sign of it is a stray one
	strayS      = 0.65 // s that a stray sign of load may last
)

// mask says of each block whether there was load. The current decides where it can; an impact that
// stirs the current at all is the grinder's; a sound without any trace in the current (a clap, a
// voice) counts only as the tail of a load that the current showed.
func (l *loads) mask(t *template) []bool {
	load := make([]bool, len(l.blocks))
	sg := make([]signs, len(l.blocks))
	for i, b := range l.blocks {
		sg[i] = l.signs(b, t)
		sg[i].lifts = l.lifted(i, t)
	}
	for i, b := range l.blocks {
		s := sg[i]
		next := func(f func(signs) bool) bool {
			beside := func(j int) bool {
				return j >= 0 && j < len(sg) && math.Abs(l.blocks[j].fromS-b.fromS) < 2*blockS && f(sg[j])
			}
			return beside(i-1) || beside(i+1)
		}
		load[i] = s.ragged && ragged(sg, i) && (s.amps || s.bang || s.loud || next(func(x signs) bool { return x.ragged || x.amps })) ||
			s.amps && next(func(x signs) bool { return x.amps || x.ragged }) && (l.blocks[i].held || seconded(sg, i)) ||
			s.bang && (s.lifts && !s.young || s.stirs || next(func(x signs) bool { return x.stirs })) ||
			t.sdRad > 0 && restless(sg, i) || // the beat of readings against the mains is no unrest
			t.sdRad == 0 && s.bang && bangs(sg, i) >= 3 && (l.induction || liftsNear(sg, i)) // readings show no more
	}
	l.pardon(load, sg)
	l.carryOn(load, sg)
	l.dropStrays(load, sg)
	return load
}

// liftsNear says whether the current rises within three blocks of one.
func liftsNear(sg []signs, i int) bool {
	for j := max(0, i-3); j <= min(len(sg)-1, i+3); j++ {
		if sg[j].lifts && !sg[j].young {
			return true
		}
	}
	return false
}

// carryOn lets what is heard carry on a load that the current showed: impacts, and for a moment what is louder. A
// voice must not carry itself on: where the clamp would show what makes an impact, only for a second after the
// last that it did show; where it would not, as long as impacts go on, unless there are many of them and the
// current is as calm as ever in all.
func (l *loads) carryOn(load []bool, sg []signs) {
	shownS, lastS := math.Inf(-1), math.Inf(-1) // end of the last block with load that the current showed, and of any
	var chain []int
	end := func() {
		sum := 0.0
		for _, i := range chain {
			sum += sg[i].unrest
		}
		if n := len(chain); n >= calmLeastN && sum/float64(n) < calmRatio && sum > 0 {
			for _, i := range chain {
				load[i] = false
			}
		}
		chain = chain[:0]
	}
	for i, b := range l.blocks {
		switch {
		case load[i]:
			end()
			shownS, lastS = b.toS, b.toS
		case sg[i].bang && (b.fromS-shownS < clearBangS || sg[i].blind && b.fromS-lastS < l.set.DwellS):
			load[i], lastS = true, b.toS
			chain = append(chain, i)
		default:
			load[i] = sg[i].loud && b.fromS-lastS < echoS
		}
	}
	end()
}

// dropStrays takes out what is short and comes long after the last load: a clap that met a twitch of the
// current, the switching of another appliance. An impact that shakes the current hard is none of these,
// however long the piece that makes it has hidden.
func (l *loads) dropStrays(load []bool, sg []signs) {
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
		if l.blocks[i].fromS-lastS > strayAfterS && lastS > 0 && l.blocks[j-1].toS-l.blocks[i].fromS < strayS && !l.blocks[i].held && !l.strikes(sg, i, j) {
			for k := i; k < j; k++ {
				load[k] = false
			}
		} else {
			lastS = l.blocks[j-1].toS
		}
		i = j
	}
}

// strikes says whether an impact is heard in the blocks from i to before j, and shakes or lifts the current in
// the same tenth of a second or the next. Where nothing is heard, the current must come back to what it was: another
// appliance would have moved it.
func (l *loads) strikes(sg []signs, i, j int) bool {
	shaken := func(k int) bool { return k < j && (sg[k].ragged || sg[k].lifts) }
	for k := i; k < j; k++ {
		if (sg[k].bang || sg[k].deaf && l.returns(i, j)) && (shaken(k) || shaken(k+1)) {
			return true
		}
	}
	return false
}

// returns says whether the current is the same some blocks after a stretch as it was before it.
func (l *loads) returns(i, j int) bool {
	if i < liftN/2 || j+liftN > len(l.blocks) {
		return false
	}
	mid := func(from int) float64 {
		m, _ := middle([]float64{float64(l.blocks[from].meanA), float64(l.blocks[from+1].meanA), float64(l.blocks[from+2].meanA)})
		return m
	}
	before := mid(i - liftN/2)
	return math.Abs(mid(j+liftN/2)-before) < l.band(before, 0)
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
		for i := first; i < end; i++ {
			load[i] = false
		}
	}
}
