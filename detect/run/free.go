package run

// When its load has gone a motor whose current follows the load runs up again: its current falls to what it is without
// load, by less from block to block, the nearer it comes. What works in the chamber does not go as evenly.

// freeMostN is how many blocks that takes at most.
const freeMostN = 12

// runsFree says whether from a block on the current only falls, and ever slower, until its height shows no load.
func (l *loads) runsFree(i int, t *template) bool {
	stray := max(t.stepA, l.digitA, leastStep*t.amp0)
	fell := func(j int) float64 { return float64(l.blocks[j-1].meanA) - float64(l.blocks[j].meanA) }
	for j := i; j >= 2 && j < min(i+freeMostN, len(l.blocks)); j++ {
		if l.level(j, t) < byFollower.even() {
			return j > i
		}
		if fell(j) < stray || fell(j) > fell(j-1)+stray || l.blocks[j].young {
			return false
		}
	}
	return false
}
