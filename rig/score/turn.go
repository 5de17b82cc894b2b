package score

import (
	"math"

	"quern/rig"
)

// clockS is far finer than any reading's time, and coarser than what is lost of it between the epoch and the session's
// start, s.
const clockS = 1e-5

// turnS returns how long leftovers had drained when it was their turn: they have drained for the stated time, and the
// scale is through with what was read before the first reading of their own. The daemon judges by the same rule
// (mass.Drain). One timer is told by the instant at which it began; of what was typed in that is not known.
func (b *balance) turnS(c candidate) float64 {
	turn := b.of.After.DrainS
	began := func(w *rig.Weighing) float64 { return w.AtS - w.DrainedS.V }
	for i := range b.all {
		w := &b.all[i]
		if !w.DrainedS.OK || w.Typed || c.Typed || w.Role == rig.Charge || math.Abs(began(w)-began(c.Weighing)) > 1000*clockS {
			continue
		}
		if w.Role == c.Role {
			break
		}
		turn = max(turn, w.DrainedS.V)
	}
	return turn
}
