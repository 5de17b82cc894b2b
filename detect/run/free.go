package run

import "math"

// When its load has gone a motor whose current follows the load runs up again: its current falls to what it is without
// load, by less from block to block, the nearer it comes. What works in the chamber does not go as evenly.

// freeMostN is how many blocks that takes at most, for a rotor that little slows down, and freeParts in how many parts of
// that it is looked at: from one block to the next a slow fall drowns in what the current strays by.
const (
	freeMostN  = 35
	freeParts  = 5
	freeStrays = 3.0 // usual steps, that it may rise by in between
)

// runsFree says whether a block is of a stretch in which the current only falls, and ever slower, until its height shows no load.
func (l *loads) runsFree(i int, t *template) bool {
	for from := i; from > max(i-freeMostN, 1) && !l.blocks[from].young; from-- {
		if l.freeFrom(from, t) > i {
			return true
		}
	}
	return false
}

// freeFrom returns the block from which the current falls no further if the motor runs free from a block up to that; 0: it
// does not.
func (l *loads) freeFrom(i int, t *template) int {
	to := i
	stray := max(t.stepA, l.digitA, leastStep*t.amp0)
	falls := func(j int, by float64) bool { return float64(l.blocks[j].meanA) < float64(l.blocks[j-1].meanA)+by }
	for to < min(i+freeMostN, len(l.blocks)) && l.level(to, t) >= byFollower.even() && !l.blocks[to].young {
		if to++; to < len(l.blocks) && !falls(to, freeStrays*stray) {
			return 0
		}
	}
	part := (to - i + freeParts - 1) / freeParts
	if to == i || to == len(l.blocks) || to == i+freeMostN || l.blocks[to].young || i < max(part, 2) {
		return 0
	}
	mean := func(from int) float64 {
		m := meanOver{}
		for _, b := range l.blocks[from : from+part] {
			m.add(float64(b.meanA), 1)
		}
		return m.mean()
	}
	for j := i; j < to && j+part <= len(l.blocks); j += part {
		fell, before := mean(j-part)-mean(j), math.Inf(1)
		if j > i || part == 1 { // else the load went somewhere in there
			before = mean(j-2*part) - mean(j-part)
		}
		if fell < stray || fell > before+stray {
			return 0
		}
	}
	for to < len(l.blocks) && falls(to, stray) {
		to++ // the rest of the way
	}
	return to
}
