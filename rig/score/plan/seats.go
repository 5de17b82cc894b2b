package plan

import (
	"fmt"
	"slices"
)

// seat is a place where a replacement could come.
type seat struct {
	at    int    // index in Slots before which it is put
	slots []Slot // a control, if it opens a new day, and the replacement
}

// firstOpen returns the index after the last slot that was run at a bench.
func (p *Plan) firstOpen(bench string) int {
	for i := len(p.Slots) - 1; i >= 0; i-- {
		if s := p.Slots[i]; s.Bench == bench && s.tried() {
			return i + 1
		}
	}
	return 0
}

// lastRunDay returns the index of the last day on which anything was run.
func (p Plan) lastRunDay() int {
	last := 0
	for _, s := range p.Slots {
		if s.tried() {
			last = max(last, p.dayOf(s.Day))
		}
	}
	return last
}

func (p Plan) dayOf(label string) int {
	return slices.IndexFunc(p.Days, func(d Day) bool { return d.Label == label })
}

// ownSeats lists the seats in the block of the slot that s replaces.
func (p *Plan) ownSeats(s Slot) []seat { return p.blockSeats(s, s.Block) }

// laterSeats lists the seats in all other blocks of the procedure.
func (p *Plan) laterSeats(s Slot) []seat {
	var out []seat
	seen := map[int]bool{0: true, s.Block: true}
	for _, o := range p.Slots {
		if o.Procedure == s.Procedure && !seen[o.Block] {
			seen[o.Block] = true
			out = append(out, p.blockSeats(s, o.Block)...)
		}
	}
	return out
}

// blockSeats lists the seats in a block: before each of its slots that can still be preceded, and at
// its end. There are none if its day is past or its food is used up.
func (p *Plan) blockSeats(s Slot, block int) []seat {
	first := slices.IndexFunc(p.Slots, func(o Slot) bool { return o.Block == block })
	s.Day, s.Bench, s.Block, s.Batch = p.Slots[first].Day, p.Slots[first].Bench, block, p.Slots[first].Batch
	from := p.firstOpen(s.Bench)
	if p.dayOf(s.Day) < p.lastRunDay() || !p.foodLeft(s) {
		return nil
	}
	var out []seat
	for i, o := range p.Slots {
		if o.Block != block {
			continue
		}
		if i >= from {
			out = append(out, seat{i, []Slot{s}})
		}
		first = i
	}
	if first+1 >= from {
		out = append(out, seat{first + 1, []Slot{s}})
	}
	return out
}

// foodLeft tells whether the batch of s serves one more run.
func (p *Plan) foodLeft(s Slot) bool {
	i := slices.IndexFunc(p.Procedures, func(q Procedure) bool { return q.ID == s.Procedure })
	served := 0
	for _, o := range p.Slots {
		if o.Batch == s.Batch && o.ran() {
			served++
		}
	}
	return p.Procedures[i].Batch == 0 || served < p.Procedures[i].Batch
}

// newSeats lists the seats for a block of its own, on every bench and day still to come: before each
// block and after the last where the bench is used that day, and where it is not.
func (p *Plan) newSeats(s Slot) (used, unused []seat) {
	s.Block, s.Batch = p.newBlock(s.Procedure)
	ends := p.dayEnds()
	for d := p.lastRunDay(); d < len(p.Days); d++ {
		for _, bench := range p.Days[d].Benches {
			s.Day, s.Bench = p.Days[d].Label, bench
			seats, empty := p.placeSeats(s, ends[d])
			if empty {
				unused = append(unused, seats...)
			} else {
				used = append(used, seats...)
			}
		}
	}
	return used, unused
}

// dayEnds returns for each day the index after its last slot, or that of an earlier day.
func (p *Plan) dayEnds() []int {
	out, index := make([]int, len(p.Days)), map[string]int{}
	for i, d := range p.Days {
		index[d.Label] = i
	}
	for i, s := range p.Slots {
		out[index[s.Day]] = i + 1
	}
	for i := 1; i < len(out); i++ {
		out[i] = max(out[i], out[i-1])
	}
	return out
}

// placeSeats lists the seats at one bench on one day, whose slots end before index end.
func (p *Plan) placeSeats(s Slot, end int) (out []seat, empty bool) {
	from, block := p.firstOpen(s.Bench), 0
	empty = true
	for i, o := range p.Slots {
		if o.Day != s.Day || o.Bench != s.Bench {
			continue
		}
		if i >= from && o.Block > 0 && o.Block != block && !empty {
			out = append(out, seat{i, []Slot{s}})
		}
		block, empty = o.Block, false
	}
	if end < from {
		return out, empty
	}
	if empty && p.Control.Unit != "" {
		return append(out, seat{end, p.withControl(s)}), empty
	}
	return append(out, seat{end, []Slot{s}}), empty
}

// withControl puts the control that opens a day before s.
func (p *Plan) withControl(s Slot) []Slot {
	c := Slot{Number: s.Number, Day: s.Day, Bench: s.Bench, Unit: p.Control.Unit, Procedure: p.Control.Procedure, Why: IsControl, Revision: s.Revision}
	s.Number++
	return []Slot{c, s}
}

func (p *Plan) newBlock(procedure string) (int, string) {
	block, batches := 0, map[string]bool{}
	for _, o := range p.Slots {
		block, batches[o.Batch] = max(block, o.Block), true
	}
	n := 1
	for batches[batchName(procedure, n)] {
		n++
	}
	return block + 1, batchName(procedure, n)
}

// choose draws one of the seats that cost the least idle time, and returns the plan with it taken.
// Beside itself a unit may come only if last is set, and then only at the end of a day.
func (p *Plan) choose(seats []seat, rng *pcg, last bool) (Plan, bool) {
	base := p.times()
	var best []seat
	least := 0
	q := *p // with the slots of one seat after the other
	for _, c := range seats {
		q.Slots = append(append(append(make([]Slot, 0, len(p.Slots)+2), p.Slots[:c.at]...), c.slots...), p.Slots[c.at:]...)
		at := c.at + len(c.slots) - 1
		if (q.beside(at, -1) || q.beside(at, 1)) && !(last && !q.followed(at)) {
			continue
		}
		times := q.times()
		if over(times) > over(base) {
			continue
		}
		cost := idle(times) - idle(base)
		if len(best) == 0 || cost < least {
			best, least = best[:0], cost
		}
		if cost == least {
			best = append(best, c)
		}
	}
	if len(best) == 0 {
		return Plan{}, false
	}
	c := best[rng.below(len(best))]
	q = p.clone()
	q.Slots = slices.Insert(q.Slots, c.at, c.slots...)
	return q, true
}

// beside tells whether the slot that runs before (-1) or after (1) the one at index i, on its bench
// and day, is of the same unit.
func (p *Plan) beside(i, step int) bool {
	s := p.Slots[i]
	for j := i + step; j >= 0 && j < len(p.Slots); j += step {
		if o := p.Slots[j]; o.Day == s.Day && o.Bench == s.Bench && o.ran() {
			return o.Unit == s.Unit
		}
	}
	return false
}

// followed tells whether anything is to be run after the slot at i on its bench and day.
func (p *Plan) followed(i int) bool {
	s := p.Slots[i]
	return slices.ContainsFunc(p.Slots[i+1:], func(o Slot) bool { return o.Day == s.Day && o.Bench == s.Bench && o.ran() })
}

// over adds up by how much open slots outlast their day, min.
func over(times []timed) (sum int) {
	for _, t := range times {
		sum += t.over
	}
	return sum
}

// idle adds up the minutes for which benches wait.
func idle(times []timed) (sum int) {
	for _, t := range times {
		sum += t.wait
	}
	return sum
}

// extraDay puts s on a new day after the last, with its control; on the one after that if the unit
// has not rested by then.
func (p *Plan) extraDay(s Slot) {
	s.Block, s.Batch = p.newBlock(s.Procedure)
	before, days := over(p.times()), len(p.Days)
	for n := 1; ; n++ {
		day := p.longestDay()
		day.Label = fmt.Sprintf("extra-%d", n)
		if p.dayOf(day.Label) >= 0 {
			continue
		}
		p.Days = append(p.Days, day)
		s.Day = day.Label
		if !slices.Contains(day.Benches, s.Bench) {
			s.Bench = day.Benches[0]
		}
		q := p.clone()
		q.Slots = append(q.Slots, s)
		if p.Control.Unit != "" {
			q.Slots = append(p.clone().Slots, p.withControl(s)...)
		}
		if over(q.times()) <= before || len(p.Days) > days+maxRestS/60/dayMin+1 {
			*p = q
			return
		}
	}
}

// longestDay returns the day with the most time.
func (p *Plan) longestDay() Day {
	out := p.Days[0]
	for _, d := range p.Days[1:] {
		if d.Minutes > out.Minutes {
			out = d
		}
	}
	return out
}
