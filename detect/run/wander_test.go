package run

import (
	"math"
	"testing"
)

// TestSupplyMovesAllAlike looks at an empty motor's current beside a heater's: the supply makes both wander, and that is no
// unrest. A load is, and so is what wanders by more than the supply can make it.
func TestSupplyMovesAllAlike(t *testing.T) {
	const rows = 40
	fill := func(emptySd float64) (*loads, template) {
		l := &loads{ear: &ear{}}
		for i := range rows {
			sd := emptySd
			if i >= rows/2 {
				sd = 0.06 // loaded
			}
			l.blocks = append(l.blocks, block{fromS: 0.1 * float64(i), toS: 0.1 * float64(i+1), meanA: 6.6, sdA: float32(sd), guestA: 5.1, laDB: float32(math.NaN())})
		}
		tp := template{amp0: 1.5, amp1: 1.5, sdA: 0.003, stepA: 0.002, sigmaA: 0.002, la0: math.NaN(), la1: math.NaN()}
		l.learnBeside(&tp)
		return l, tp
	}
	l, tp := fill(0.009)
	if x := l.traits(3, &tp); x.unrest > 0.3 {
		t.Errorf("an empty motor beside a heater: unrest %.2f", x.unrest)
	}
	if x := l.traits(rows-3, &tp); x.unrest < 1 {
		t.Errorf("a loaded one: unrest %.2f", x.unrest)
	}
	l, tp = fill(0.05)
	if x := l.traits(3, &tp); x.unrest < 1 {
		t.Errorf("loaded all the time: unrest %.2f", x.unrest)
	}
}
