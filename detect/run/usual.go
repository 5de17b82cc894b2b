package run

import (
	"math"
	"slices"
)

// An empty chamber has its own ways: a loose collar ticks, readings beat with the mains, a regulator hunts. What it does in
// one block of ten can be at most ten times likelier with load, however far above its median that stands.

const (
	neverSeen  = 0.1  // of a block, that what the empty chamber has not been seen to do counts for: it may do it all the same
	strayShare = 0.05 // of the blocks may be load that was taken for none
	likeNats   = 1.0  // nats within which evidence is as much
)

// usual is the evidence for load that the blocks of the empty chamber would give, in order.
type usual struct{ rough, jerky, sound []float64 }

// learnUsual weighs the blocks of the anchors that the empty chamber was learned from.
func (l *loads) learnUsual(t *template, idle []anchor, long int) {
	var u usual
	for _, a := range idle {
		for i := a.first; i < a.first+long; i++ {
			e := l.evidence(i, t)
			u.rough, u.jerky, u.sound = append(u.rough, e.rough), append(u.jerky, e.jerky), append(u.sound, e.sound)
		}
	}
	slices.Sort(u.rough)
	slices.Sort(u.jerky)
	slices.Sort(u.sound)
	t.usual = u
}

// atMost returns evidence for load, but no more than the share of the empty chamber's blocks that show as much allows.
func atMost(nats float64, of []float64) float64 {
	i, _ := slices.BinarySearch(of, nats-likeNats)
	if nats <= 0 || i == len(of) {
		return nats
	}
	n := float64(len(of))
	return min(nats, max(0, math.Log((n+1)/(max(float64(len(of)-i)-strayShare*n, 0)+neverSeen))))
}

// tempered takes from the evidence of a block what the empty chamber gives of itself.
func (u *usual) tempered(e evidence) evidence {
	e.rough, e.jerky, e.sound = atMost(e.rough, u.rough), atMost(e.jerky, u.jerky), atMost(e.sound, u.sound)
	return e
}
