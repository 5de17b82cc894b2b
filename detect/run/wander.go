package run

import (
	"math"
	"slices"
)

// stillest is the share of the blocks beside another appliance that show how an empty motor's current wanders there.
const stillest = 0.1

// wanders is by how much more a current wanders that another appliance is part of: by what its stillest blocks do, and no
// more than in proportion, for the supply moves all that flows alike.
func (t *template) wanders(whole float64) float64 {
	if t.sdA == 0 {
		return 1
	}
	return min(max(t.besideSd*whole/t.sdA, 1), max(whole/t.amp0, 1))
}

// learnBeside takes how much the stillest of the blocks wander that another appliance is part of, as a share.
func (l *loads) learnBeside(t *template) {
	var v []float64
	for i := range l.blocks {
		if b := &l.blocks[i]; t.shiftedIn(b) && b.sdA > 0 && !b.stepped && !l.isForeign(*b) {
			v = append(v, float64(b.sdA/b.meanA))
		}
	}
	if slices.Sort(v); len(v) > 0 {
		t.besideSd = v[int(stillest*float64(len(v)))]
	}
}

// shiftedIn says whether the height of a block's current says nothing of load.
func (t *template) shiftedIn(b *block) bool {
	return t.shifted || math.Abs(float64(b.guestA)-t.guestA) > 0.05*t.amp0
}
