package plan

import (
	"cmp"
	"fmt"
	"slices"
)

// Draw draws the first revision of a plan. It returns an error for a campaign that is not well
// formed, or whose days are too short for it.
func Draw(c Campaign) (Plan, error) {
	c = c.sorted()
	if err := c.check(); err != nil {
		return Plan{}, err
	}
	p := Plan{Seed: c.Seed, Revision: 1, Procedures: c.Procedures, Days: c.Days, Control: c.Control}
	d := &drawing{units: c.Units, plan: p, rng: newPCG(c.Seed, 1), runs: map[string][]run{}, lastDay: map[string]int{}}
	d.layOut()
	if err := d.fill(); err != nil {
		return Plan{}, err
	}
	return d.finish(), nil
}

// sorted returns the campaign in the one order that a draw starts from.
func (c Campaign) sorted() Campaign {
	c.Units, c.Procedures, c.Days = slices.Clone(c.Units), slices.Clone(c.Procedures), slices.Clone(c.Days)
	slices.Sort(c.Units)
	slices.SortFunc(c.Procedures, func(a, b Procedure) int { return cmp.Compare(a.ID, b.ID) })
	for i := range c.Days {
		c.Days[i].Benches = slices.Clone(c.Days[i].Benches)
		slices.Sort(c.Days[i].Benches)
	}
	return c
}

// drawing is a plan while it is drawn.
type drawing struct {
	units   []string
	plan    Plan // without slots
	rng     *pcg
	bins    []*bin
	runs    map[string][]run // of each unit, sorted
	blocks  int
	lastDay map[string]int // of each procedure: last day that its earlier repeats use
}

// bin is one bench on one day; times are minutes from the origin of starts.
type bin struct {
	place
	dayIndex            int
	midnight, free, end int
	last                string // unit that ran last
	slots               []drawn
}

type drawn struct {
	Slot
	at int
}

func (d *drawing) layOut() {
	for i, midnight := range starts(d.plan.Days) {
		day := d.plan.Days[i]
		for _, bench := range day.Benches {
			open := midnight + day.OpenMin
			d.bins = append(d.bins, &bin{place: place{day.Label, bench}, dayIndex: i, midnight: midnight, free: open, end: open + day.Minutes})
		}
	}
}

// fill places the repeats one round after the other, in each round the procedures in random order.
func (d *drawing) fill() error {
	most := 0
	for _, q := range d.plan.Procedures {
		most = max(most, q.Repeats)
	}
	for repeat := 1; repeat <= most; repeat++ {
		var ids []string
		for _, q := range d.plan.Procedures {
			if q.Repeats >= repeat {
				ids = append(ids, q.ID)
			}
		}
		for _, id := range d.rng.sample(ids, len(ids)) {
			i := slices.IndexFunc(d.plan.Procedures, func(q Procedure) bool { return q.ID == id })
			if err := d.round(d.plan.Procedures[i], repeat); err != nil {
				return err
			}
		}
	}
	return nil
}

// round places one run of every unit under q, in as few blocks of about equal size as the batch and
// the longest day allow.
func (d *drawing) round(q Procedure, repeat int) error {
	pending, limit, last := d.units, d.limit(q), -1
	for len(pending) > 0 {
		blocks := (len(pending) + limit - 1) / limit
		best, ok := d.bestFit(q, repeat, pending, (len(pending)+blocks-1)/blocks)
		if !ok {
			return fmt.Errorf("the days are too short: no room for repeat %d of procedure %s with %d of %d units: add a day, a bench or minutes, or ask for fewer repeats",
				repeat, q.ID, len(pending), len(d.units))
		}
		d.commit(best)
		last = max(last, best.bin.dayIndex)
		var left []string
		for _, u := range pending {
			if !slices.ContainsFunc(best.slots, func(s drawn) bool { return s.Block > 0 && s.Unit == u }) {
				left = append(left, u)
			}
		}
		pending = left
	}
	d.lastDay[q.ID] = max(d.lastDay[q.ID], last+1)
	return nil
}

// limit is the largest block of q that the batch and some day can hold.
func (d *drawing) limit(q Procedure) int {
	limit := len(d.units)
	if q.Batch > 0 {
		limit = min(limit, q.Batch)
	}
	longest := 0
	for _, day := range d.plan.Days {
		longest = max(longest, (day.Minutes-d.plan.Control.Minutes)/q.Minutes)
	}
	return max(1, min(limit, longest))
}

// attempt is a block at the end of a bin, not yet part of the plan.
type attempt struct {
	bin   *bin
	slots []drawn // a control, if it opens the day, and the block
	free  int
	units int
	rank  int // lower is better
}

// bestFit tries a block of the given size at the end of every bin: best is one that holds all of it
// on a later day than the earlier repeats, then all of it, then most of it. A unit that would
// follow itself is the last resort.
func (d *drawing) bestFit(q Procedure, repeat int, pending []string, size int) (attempt, bool) {
	bins := slices.Clone(d.bins)
	slices.SortStableFunc(bins, func(a, b *bin) int {
		return cmp.Or(cmp.Compare(a.dayIndex, b.dayIndex), cmp.Compare(a.free, b.free))
	})
	var best attempt
	for _, b := range bins {
		if b.end-b.free < q.Minutes {
			continue
		}
		a := d.try(b, q, repeat, pending, size)
		if a.units > 0 && (best.bin == nil || a.rank < best.rank || a.rank == best.rank && a.units > best.units) {
			best = a
		}
		if best.bin != nil && best.rank == 0 {
			break
		}
	}
	return best, best.bin != nil
}

// try draws a block at the end of b.
func (d *drawing) try(b *bin, q Procedure, repeat int, pending []string, size int) attempt {
	a, last := attempt{bin: b, free: b.free}, b.last
	var extra []run // of the control that opens the day
	if len(b.slots) == 0 && d.plan.Control.Unit != "" {
		c := d.plan.Control
		at := earliest(d.runs[c.Unit], b.free, c.Minutes, restMin(c.RestS))
		a.free, last, extra = at+c.Minutes, c.Unit, []run{{at, at + c.Minutes, restMin(c.RestS)}}
		a.slots = append(a.slots, drawn{Slot{Day: b.day, Bench: b.bench, Unit: c.Unit, Procedure: c.Procedure, Why: IsControl}, at})
	}
	if size == 1 { // no order to draw that would part a unit from itself
		pending = others(pending, last)
	}
	left := d.rng.sample(pending, size)
	for len(left) > 0 {
		unit, at := d.pick(left, last, a.free, q, extra)
		if at+q.Minutes > b.end {
			break
		}
		if unit == last {
			a.rank = 3
		}
		a.slots = append(a.slots, drawn{Slot{Day: b.day, Bench: b.bench, Block: d.blocks + 1, Unit: unit, Procedure: q.ID, Repeat: repeat, Why: Planned}, at})
		a.free, last, a.units = at+q.Minutes, unit, a.units+1
		left = slices.DeleteFunc(left, func(u string) bool { return u == unit })
	}
	switch {
	case a.units < size:
		a.rank += 2
	case repeat > 1 && b.dayIndex < d.lastDay[q.ID]:
		a.rank++
	}
	return a
}

// others returns the units without one, unless that is all there is.
func others(units []string, without string) []string {
	out := slices.DeleteFunc(slices.Clone(units), func(u string) bool { return u == without })
	if len(out) == 0 {
		return units
	}
	return out
}

// pick draws the next unit out of those that can start first; the one that ran last comes only if
// no other is left.
func (d *drawing) pick(left []string, last string, free int, q Procedure, control []run) (string, int) {
	var first []string
	at := 0
	for _, u := range others(left, last) {
		runs := d.runs[u]
		if u == d.plan.Control.Unit {
			runs = inserted(runs, control...)
		}
		e := earliest(runs, free, q.Minutes, restMin(q.RestS))
		if len(first) == 0 || e < at {
			first, at = first[:0], e
		}
		if e == at {
			first = append(first, u)
		}
	}
	slices.Sort(first)
	return first[d.rng.below(len(first))], at
}

func inserted(runs []run, more ...run) []run {
	out := append(slices.Clone(runs), more...)
	slices.SortFunc(out, func(a, b run) int { return cmp.Compare(a.start, b.start) })
	return out
}

func (d *drawing) commit(a attempt) {
	d.blocks++
	for _, s := range a.slots {
		minutes, rest := d.plan.takes(s.Slot)
		d.runs[s.Unit] = inserted(d.runs[s.Unit], run{s.at, s.at + minutes, rest})
		a.bin.last = s.Unit
	}
	a.bin.free, a.bin.slots = a.free, append(a.bin.slots, a.slots...)
}

// finish puts the slots in order of time and numbers slots, blocks and batches in that order.
func (d *drawing) finish() Plan {
	var all []drawn
	for _, b := range d.bins {
		all = append(all, b.slots...)
	}
	slices.SortStableFunc(all, func(a, b drawn) int { return cmp.Compare(a.at, b.at) })
	p, blocks := d.plan, map[int]int{}
	batches, names := map[string]int{}, map[int]string{}
	for i, s := range all {
		s.Number, s.Revision = i+1, p.Revision
		if old := s.Block; old > 0 {
			if blocks[old] == 0 {
				blocks[old] = len(blocks) + 1
				batches[s.Procedure]++
				names[old] = batchName(s.Procedure, batches[s.Procedure])
			}
			s.Block, s.Batch = blocks[old], names[old]
		}
		p.Slots = append(p.Slots, s.Slot)
	}
	p.retime()
	return p
}

func batchName(procedure string, n int) string { return fmt.Sprintf("%s-%d", procedure, n) }
