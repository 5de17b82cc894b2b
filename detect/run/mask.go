package run

import "math"

// What a stretch of load or a disturbance costs to believe in, nats: the rarer the dearer (6 nats: one block in 400),
// rounded. Of 1,636 simulated sessions another value of most of them moved 1 to 3, of loadCost, twitchRent and workShare
// up to 14.
const (
	loadCost   = 6.0  // that load came in
	againCost  = 2.3  // that it strikes again after a lull
	lullRent   = 0.07 // and what each block of that makes it less likely: it hides for seconds, not for a minute
	soundCost  = 4.0  // that a sound of something else begins: a clap, a knock, a voice
	soundRent  = 2.5  // and that it goes on for another block
	waterCost  = 6.0  // that a steady sound of something else begins: water
	waterRent  = 0.4
	youngCost  = 10.0 // more, that load came in during a run-up, which looks like one
	shiftCost  = 5.0  // that the current moves to another height: drift, the supply, another appliance
	shiftRent  = 0.5
	twitchCost = 5.0 // that the current is disturbed by something else: a dip, a switching
	twitchRent = 2.5
	steadyCost = 9.5 // that a load comes in that neither current nor sound shows to be uneven: less than water and a shift at once
	steadyRent = waterRent + shiftRent
	apartCost  = 6.0 // more, where one of the two was there before
	steadyFrom = 2.4 // nats that its current shows at least: neither drift nor the supply moves it as far
	workShare  = 0.6 // share of the blocks of a loaded stretch in which the load shows
)

// A chamber is loaded, or empty; while it is, there may be bursts of sound from elsewhere (1) or a steady one (2), and
// the current may be shifted (1) or twitching (2). A load shows in current and sound at once. After one there may be a
// lull: a piece hides in silence, and strikes again; one that is never ended was an empty chamber.
const (
	empty   = 0
	loaded  = 9 // an empty chamber's state is three times that of the sound and that of the current
	lull    = 10
	steady  = 11 // a load that is even, as what is pressed in: current and sound rise and fall at once
	statesN = 12
)

// mask says of each block whether there was load: the likeliest course of the chamber's state over the whole run
// (Viterbi's algorithm).
func (l *loads) mask(t *template) []bool {
	n := len(l.blocks)
	from := make([][statesN]int8, n)
	var score [statesN]float64
	for s := 1; s < statesN; s++ {
		score[s] = math.Inf(-1)
	}
	l.weighed = l.weighed[:0]
	for i := range l.blocks {
		e := t.usual.tempered(l.evidence(i, t))
		l.weighed = append(l.weighed, e)
		in, show := l.entry(i, &e), shown(&l.blocks[i], &e)
		var next [statesN]float64
		for s := range next {
			costs := &changes[s]
			if s == loaded {
				costs = &in
			}
			best := math.Inf(-1)
			for p, v := range score {
				if v -= costs[p]; v > best {
					best, from[i][s] = v, int8(p)
				}
			}
			next[s] = best + show[s]
		}
		score = next
	}
	last := 0
	for s, v := range score {
		if v > score[last] {
			last = s
		}
	}
	load := make([]bool, n)
	for i := n - 1; i >= 0; i-- {
		load[i] = isLoad(last)
		last = int(from[i][last])
	}
	l.trim(load, t)
	return load
}

// entry is what it costs to be loaded in a block, by the state before it.
func (l *loads) entry(i int, e *evidence) (costs [statesN]float64) {
	c := loadCost
	if l.blocks[i].young {
		c += youngCost
	}
	for p := range costs {
		costs[p] = c
	}
	costs[loaded] = 0
	if e.sound >= 0 { // a piece that strikes is heard
		costs[lull] = againCost
	}
	return costs
}

// changes holds what it costs to be in a state, but loaded, by the state before.
var changes = func() (to [statesN][statesN]float64) {
	for s := range to {
		for p := range to[s] {
			to[s][p] = change(p, s)
		}
	}
	return to
}()

// change is what going from one state to another, but loaded, costs.
func change(from, to int) float64 {
	switch {
	case from == to, to == lull && from == loaded:
		return 0
	case to == lull:
		return math.Inf(1)
	case to == steady && (from == empty || from == loaded):
		return steadyCost
	case to == steady:
		return steadyCost + apartCost
	case from >= loaded:
		from = empty
	}
	c := 0.0
	if a, b := from/3, to/3; a != b {
		switch b {
		case 1:
			c += soundCost
		case 2:
			c += waterCost
		}
	}
	if a, b := from%3, to%3; a != b {
		switch b {
		case 1:
			c += shiftCost
		case 2:
			c += twitchCost
		}
	}
	return c
}

// shown is how much likelier a block is in each state than in an undisturbed empty chamber, less what the state costs
// to go on.
func shown(b *block, e *evidence) (in [statesN]float64) {
	if b.held { // a stall or an overload is load, without any doubt
		for s := range in {
			in[s] = math.Inf(-1)
		}
		in[loaded] = 0
		return in
	}
	none := 0.0
	if e.far {
		none = -e.level
	}
	sound, stir, level := max(e.sound, 0), max(e.stir, 0), max(e.level, 0)
	for s, ofSound := range [3]float64{0, sound - soundRent, sound - stir - waterRent} {
		for c, ofCurrent := range [3]float64{0, level - shiftRent, level + max(e.jerky, 0) - twitchRent} {
			in[3*s+c] = none + ofSound + ofCurrent
		}
	}
	in[loaded] = math.Log(workShare*math.Exp(e.rough+e.level+e.sound) + 1 - workShare)
	in[lull] = -lullRent
	in[steady] = -steadyCost
	if e.level >= steadyFrom && e.sound > 0 {
		in[steady] = e.level + e.sound - stir - steadyRent
	}
	return in
}

// trimN blocks at either end of a load may owe their evidence to their neighbours.
const trimN = 2

// trim takes the blocks off both ends of a load that show none by themselves.
func (l *loads) trim(load []bool, t *template) {
	off := func(i int) bool { return !l.blocks[i].held && !l.blocks[i].young && l.traits(i, t).calm() }
	for i := 0; i < len(load); {
		if !load[i] {
			i++
			continue
		}
		from, to := i, i+1
		for to < len(load) && load[to] {
			to++
		}
		i = to
		for n := 0; n < trimN && to-from > 1 && off(from); n++ {
			load[from] = false
			from++
		}
		for n := 0; n < trimN && to-from > 1 && off(to-1); n++ {
			to--
			load[to] = false
		}
	}
}
