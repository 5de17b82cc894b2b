package run

import "math"

// likelyNats below the likeliest course another one is still to be reckoned with: one in twenty.
const likelyNats = 3.0

// likely is how likely it is that the first or the last load is in a block: the score of the likeliest course of which
// that is true, nats.
type likely struct{ first, last []float64 }

// hidesS is how long a piece that goes on striking may be silent, s: a click later than that is a click.
const hidesS = 12.0

// loading are the states in which there is load.
var loading = [2]int{loaded, steady}

// isLoad says whether there is load in a state.
func isLoad(s int) bool { return s == loaded || s == steady }

// likely goes over all courses of the chamber once forward and once back.
func (l *loads) likely() likely {
	es := l.weighed
	n := len(es)
	k := likely{make([]float64, n), make([]float64, n)}
	// The best score up to a block in a state of load: come by any way, and by one without load before.
	any, fresh := make([][2]float64, n), make([][2]float64, n)
	none := math.Inf(-1)
	var score, never [statesN]float64
	for s := 1; s < statesN; s++ {
		score[s], never[s] = none, none
	}
	for i := range es {
		in, show := l.entry(i, &es[i]), shown(&l.blocks[i], &es[i])
		onward(&score, &in, &show)
		onward(&never, &in, &show)
		for j, s := range loading {
			any[i][j], fresh[i][j] = score[s], never[s]
			never[s] = none
		}
	}
	// The best score after a block, by its state: by any way, and by one without load.
	var rest, clear [statesN]float64
	for i := n - 1; i >= 0; i-- {
		k.first[i], k.last[i] = none, none
		for j, s := range loading {
			k.first[i] = max(k.first[i], fresh[i][j]+rest[s])
			k.last[i] = max(k.last[i], any[i][j]+clear[s])
		}
		in, show := l.entry(i, &es[i]), shown(&l.blocks[i], &es[i])
		var r, c [statesN]float64
		for p := range r {
			r[p], c[p] = none, none
		}
		for s := range rest {
			costs := &changes[s]
			if s == loaded {
				costs = &in
			}
			load := isLoad(s)
			for p := range r {
				v := show[s] - costs[p]
				if x := v + rest[s]; x > r[p] {
					r[p] = x
				}
				if x := v + clear[s]; !load && x > c[p] {
					c[p] = x
				}
			}
		}
		rest, clear = r, c
	}
	return k
}

// onward takes the best score in each state from one block to the next.
func onward(score, in, show *[statesN]float64) {
	var next [statesN]float64
	for s := range next {
		costs := &changes[s]
		if s == loaded {
			costs = in
		}
		best := math.Inf(-1)
		for p, v := range score {
			if v -= costs[p]; v > best {
				best = v
			}
		}
		next[s] = best + show[s]
	}
	*score = next
}

// reach returns how far from an instant others lie that are about as likely, s, if it is further than told anyway, and
// how likely the instant is against them.
func (l *loads) reach(score []float64, of func(*block) float64, atS, withinS float64) (s, share float64) {
	near, other := math.Inf(-1), math.Inf(-1)
	for i, v := range score {
		switch d := math.Abs(of(&l.blocks[i]) - atS); {
		case d <= withinS:
			near = max(near, v)
		case d <= hidesS:
			other = max(other, v)
		}
	}
	best := max(near, other)
	s = withinS
	for i, v := range score {
		if d := math.Abs(of(&l.blocks[i]) - atS); d <= hidesS && v >= best-likelyNats {
			s = max(s, d)
		}
	}
	return s, 1 / (1 + math.Exp(min(other-near, 0)))
}
