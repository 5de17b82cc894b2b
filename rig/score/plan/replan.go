package plan

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"quern/rig"
)

const notNeeded = "not needed: " // begins the reason for a replacement that is taken back

// Replan enters what became of slots and gives every voided one a replacement, later and under the
// same procedure:
//
//   - in its own block where slots of that are still open and the food lasts, which makes the block
//     whole again;
//   - else in a later block of the procedure whose batch has room (a voided run has used its food);
//   - else as a new block with a batch of its own, between two blocks or at the end of a day, rather
//     where runs are planned anyway;
//   - else on an extra day, "extra-1", that follows the last.
//
// Where, is drawn from the seed and the revision among the places that make a bench wait least for a
// unit to cool; next to a run of the same unit only if nothing else is left to run there. A voided
// control is repeated at once, unless its day is over. What is closed keeps its place, number and
// planned time; what is open keeps its order and is timed anew, around what was run ahead of its turn. A skipped slot is not replaced. What could not be run on its day is void: its food is gone.
//
// The revision counts up if anything changed; saying the same again changes nothing. If a voided
// slot is done after all, a replacement still open is skipped.
func (p Plan) Replan(done []Outcome) (Plan, error) {
	next := p.clone()
	if err := next.enter(done); err != nil {
		return Plan{}, err
	}
	next.Revision++
	next.takeBack()
	rng := newPCG(p.Seed, uint64(next.Revision))
	for _, last := range []bool{false, true} { // the others first: they may part a unit from itself
		for _, s := range slices.Clone(next.Slots) {
			if s.What == Void && !next.replaced(s.Number) {
				next.replace(s, rng, last)
			}
		}
	}
	if slices.Equal(next.Slots, p.Slots) {
		return p, nil
	}
	next.retime()
	return next, nil
}

// Note adds a run that was not planned.
func (p Plan) Note(u Unplanned) (Plan, error) {
	next := p.clone()
	next.Unplanned = append(next.Unplanned, u)
	if err := next.checkUnplanned(u); err != nil {
		return Plan{}, err
	}
	return next, nil
}

func (p Plan) checkUnplanned(u Unplanned) error {
	if !p.hasBench(u.Day, u.Bench) {
		return fmt.Errorf("unplanned run: found day %q, bench %q, expected a day of the plan and one of its benches", u.Day, u.Bench)
	}
	if !rig.IsID(u.Unit) || !rig.IsID(u.Procedure) || !line(u.Note) || u.StartMin < 0 || u.StartMin >= dayMin {
		return fmt.Errorf("unplanned run: found unit %q, procedure %q, minute %d, note %q, expected two codes, a minute of the day and one line", u.Unit, u.Procedure, u.StartMin, u.Note)
	}
	return nil
}

func (p Plan) hasBench(day, bench string) bool {
	i := slices.IndexFunc(p.Days, func(d Day) bool { return d.Label == day })
	return i >= 0 && slices.Contains(p.Days[i].Benches, bench)
}

// enter writes outcomes into the slots.
func (p *Plan) enter(done []Outcome) error {
	for _, o := range done {
		i := p.find(o.Slot)
		if i < 0 {
			return fmt.Errorf("outcome of slot %d: the plan has slots 1 to %d", o.Slot, len(p.Slots))
		}
		if err := checkOutcome(o.What, o.Reason); err != nil {
			return fmt.Errorf("outcome of slot %d: %w", o.Slot, err)
		}
		p.Slots[i].What, p.Slots[i].Reason = o.What, o.Reason
	}
	return nil
}

func checkOutcome(what What, reason string) error {
	switch what {
	case Open:
		if reason != "" {
			return fmt.Errorf("found the reason %q, expected none for a run that is open", reason)
		}
	case Done:
		if reason != "" && !line(reason) {
			return fmt.Errorf("found the word %q on a run that was done, expected nothing, or one line of at most %d bytes", reason, maxReason)
		}
	case Void, Skipped:
		if reason == "" || !line(reason) {
			return fmt.Errorf("found the reason %q, expected one line of at most %d bytes: say why it is %s", reason, maxReason, what)
		}
	default:
		return fmt.Errorf("found %q, expected done, void or skipped", what)
	}
	return nil
}

// takeBack skips open replacements of what is not void any more.
func (p *Plan) takeBack() {
	for i := range p.Slots {
		s := &p.Slots[i]
		if of := p.find(s.Replaces()); of >= 0 && s.What == Open && p.Slots[of].What != Void {
			s.What, s.Reason = Skipped, notNeeded+strconv.Itoa(s.Replaces())+" is not void"
		}
	}
}

// replaced tells whether a slot has a replacement that was not taken back.
func (p *Plan) replaced(number int) bool {
	return slices.ContainsFunc(p.Slots, func(s Slot) bool {
		return s.Replaces() == number && !s.takenBack()
	})
}

func (s Slot) takenBack() bool { return s.What == Skipped && strings.HasPrefix(s.Reason, notNeeded) }

func (p *Plan) insert(at int, s Slot) { p.Slots = slices.Insert(p.Slots, at, s) }

// replace inserts a replacement of void; next to its own unit or on an extra day only if last is set.
func (p *Plan) replace(void Slot, rng *pcg, last bool) {
	s := void
	s.Number, s.Why, s.Revision = len(p.Slots)+1, replaces+strconv.Itoa(void.Number), p.Revision
	s.What, s.Reason = Open, ""
	if void.Block == 0 {
		if at := p.controlAgain(s); at >= 0 {
			p.insert(at, s)
		}
		return
	}
	used, unused := p.newSeats(s)
	for _, seats := range [][]seat{p.ownSeats(s), p.laterSeats(s), used, unused} {
		if q, ok := p.choose(seats, rng, false); ok {
			*p = q
			return
		}
	}
	if !last {
		return
	}
	if q, ok := p.choose(used, rng, true); ok {
		*p = q
		return
	}
	p.extraDay(s)
}

// controlAgain returns where a control comes that is repeated: right after what was run last on its
// bench that day; -1: the day is over there, or too short for it.
func (p *Plan) controlAgain(s Slot) int {
	at := -1
	for i, o := range p.Slots {
		if o.Day == s.Day && o.Bench == s.Bench && o.tried() {
			at = i + 1
		}
	}
	open := slices.ContainsFunc(p.Slots, func(o Slot) bool { return o.Day == s.Day && o.Bench == s.Bench && o.What == Open })
	if at < p.firstOpen(s.Bench) || p.dayOf(s.Day) < p.lastRunDay() || !open {
		return -1
	}
	q := p.clone()
	q.insert(at, s)
	if over(q.times()) > over(p.times()) {
		return -1
	}
	return at
}
