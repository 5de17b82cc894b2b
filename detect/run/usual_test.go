package run_test

import (
	"math"
	"testing"
)

// TestUsualOfTheEmptyChamber runs a motor with a loose collar, which ticks as brightly as a soft load does, loaded or not: what
// it does empty is no load.
func TestUsualOfTheEmptyChamber(t *testing.T) {
	b := bench{motor: "induction", lockedA: 25, stepS: 0.1, seconds: 40, course: []moment{{0, 0, 0, 0, 45, 46, 33, false}, {3, 22, 0.001, 0, 65, 66, 55, false}}}
	for s := 3.5; s < 36; s += 0.05 {
		m := moment{s, 3.4, 0.0005, 0, 70, 71, 58, false}
		if math.Mod(s, 0.6) < 0.1 {
			m.topDB = 63
		}
		if s >= 12 && s < 20 {
			m.rmsA, m.aDB, m.cDB, m.topDB, m.ragged = 4.2, 75, 75, 70, 0.03
		}
		b.course = append(b.course, m)
	}
	b.course = append(b.course, moment{36, 0, 0, 0, 45, 46, 33, false})
	if got := b.loads(); len(got) != 2 || !(math.Abs(got[0].AtS.V-12) <= 1.3) || !(math.Abs(got[1].AtS.V-20) <= 0.5) {
		t.Errorf("got %v", got)
	}
}
