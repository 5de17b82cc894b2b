package plan

import (
	"slices"

	"quern/rig"
)

// UnitBalance is where a unit came within its blocks.
type UnitBalance struct {
	Unit         string
	Runs         int        // planned or done, controls left out
	MeanPosition rig.Figure // over its runs: 0 is the beginning of a block, 1 its end, 0.5 the middle
}

// Balance says how even a run order is. What was skipped is left out; what was voided is in: it heated
// its unit and took its place.
type Balance struct {
	Units       []UnitBalance // by code
	Before      [][]int       // Before[i][j]: blocks in which Units[i] came before Units[j]
	LongestRow  int           // most runs of one unit directly one after the other, on one bench and day
	LeastRest   rig.Figure    // min, shortest time between two runs of a unit; absent: none ran twice
	ShortRests  int           // how many rests are shorter than asked for
	WaitMin     int           // min that benches stand idle until a unit has rested
	Blocks      int
	WholeBlocks int // of them, those that hold every unit
}

// Balance returns the statistics of the plan as it stands.
func (p Plan) Balance() Balance {
	units, blocks := p.units(), map[int][]string{}
	top := 0
	for _, s := range p.Slots {
		if s.Block > 0 && s.ran() {
			blocks[s.Block] = append(blocks[s.Block], s.Unit)
			top = max(top, s.Block)
		}
	}
	b := Balance{Units: make([]UnitBalance, len(units)), Before: make([][]int, len(units))}
	for i, u := range units {
		b.Units[i].Unit, b.Before[i] = u, make([]int, len(units))
	}
	sums := make([]float64, len(units))
	for n := 1; n <= top; n++ {
		if order := blocks[n]; len(order) > 0 {
			b.add(order, units, sums)
		}
	}
	for i := range b.Units {
		b.Units[i].MeanPosition = rig.Absent("unit-not-run")
		if n := b.Units[i].Runs; n > 0 {
			b.Units[i].MeanPosition = rig.Fig(sums[i] / float64(n))
		}
	}
	b.rests(p)
	b.LongestRow = p.longestRow()
	return b
}

// add takes one block in.
func (b *Balance) add(order, units []string, sums []float64) {
	b.Blocks++
	index := make([]int, len(order))
	for k, u := range order {
		i, _ := slices.BinarySearch(units, u)
		index[k] = i
		b.Units[i].Runs++
		sums[i] += (float64(k) + 0.5) / float64(len(order))
	}
	distinct := 0
	for k, i := range index {
		if slices.Contains(index[:k], i) {
			continue
		}
		distinct++
		for l, j := range index[k+1:] {
			if j != i && !slices.Contains(index[:k+1+l], j) {
				b.Before[i][j]++
			}
		}
	}
	if distinct == len(units) {
		b.WholeBlocks++
	}
}

func (b *Balance) rests(p Plan) {
	runs, last := map[string][]timed{}, p.lastRunDay()
	for i, t := range p.planned() {
		if s := p.Slots[i]; s.ran() && !p.leftOver(s, last) {
			b.WaitMin += s.WaitMin
			runs[s.Unit] = append(runs[s.Unit], t)
		}
	}
	b.LeastRest = rig.Absent("no-second-run")
	for _, of := range runs {
		slices.SortFunc(of, func(x, y timed) int { return x.start - y.start })
		for i := 1; i < len(of); i++ {
			if rest := float64(of[i].start - of[i-1].end); !b.LeastRest.OK || rest < b.LeastRest.V {
				b.LeastRest = rig.Fig(rest)
			}
			if of[i].start < of[i-1].ready {
				b.ShortRests++
			}
		}
	}
}

// planned is when the slots are to run by what stands in them; ready is when the unit has rested
// after the slot.
func (p Plan) planned() []timed {
	midnight, at := map[string]int{}, starts(p.Days)
	for i, d := range p.Days {
		midnight[d.Label] = at[i]
	}
	out := make([]timed, len(p.Slots))
	for i, s := range p.Slots {
		minutes, rest := p.takes(s)
		start := midnight[s.Day] + s.StartMin
		out[i] = timed{start: start, end: start + minutes, ready: start + minutes + rest}
	}
	return out
}

func (p Plan) longestRow() int {
	longest, last, row := 0, map[place]string{}, map[place]int{}
	for _, s := range p.Slots {
		if !s.ran() {
			continue
		}
		at := place{s.Day, s.Bench}
		if last[at] != s.Unit {
			row[at] = 0
		}
		last[at] = s.Unit
		row[at]++
		longest = max(longest, row[at])
	}
	return longest
}
