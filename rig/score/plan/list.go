package plan

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"quern/rig"
)

// At is a moment at a bench.
type At struct {
	Day    string
	Bench  string
	Minute int // of the day
}

// Turn is what a bench does next.
type Turn struct {
	Slot    Slot // Number 0: nothing is left at this bench
	WaitMin int  // until its unit has rested and its day is open; 0: go
}

// Next returns the next open slot of a bench, and how long its unit must still rest. done holds the
// outcomes since the last Replan; a run that ended at another time than planned counts from when it
// ended. What was left over from an earlier day comes first, but for the control that opens the day.
func (p Plan) Next(done []Outcome, at At) (Turn, error) {
	q := p.clone()
	if err := q.enter(done); err != nil {
		return Turn{}, err
	}
	day := q.dayOf(at.Day)
	if day < 0 || !q.hasBench(at.Day, at.Bench) {
		return Turn{}, fmt.Errorf("found day %q, bench %q, expected a day of the plan and one of its benches", at.Day, at.Bench)
	}
	midnights := starts(q.Days)
	ready := q.readies(done, Slot.tried)
	if s, ok := q.nextAt(at); ok {
		d := q.dayOf(s.Day)
		from := max(midnights[d]+q.Days[d].OpenMin, ready[s.Unit])
		return Turn{s, max(0, from-midnights[day]-at.Minute)}, nil
	}
	return Turn{}, nil
}

// nextAt returns the first open slot of a bench, or the open control of its day.
func (p Plan) nextAt(at At) (next Slot, ok bool) {
	for _, s := range p.Slots {
		if s.Bench != at.Bench || s.What != Open {
			continue
		}
		if s.Day == at.Day && s.Block == 0 {
			return s, true
		}
		if !ok {
			next, ok = s, true
		}
	}
	return next, ok
}

// readies returns when each unit has rested after those of its runs that count says; unplanned ones
// are always among them. Minutes from the origin of starts.
func (p Plan) readies(done []Outcome, count func(Slot) bool) map[string]int {
	midnights, ready := starts(p.Days), map[string]int{}
	for _, u := range p.Unplanned {
		minutes, rest := p.procedureTakes(u.Procedure)
		ready[u.Unit] = max(ready[u.Unit], midnights[p.dayOf(u.Day)]+u.StartMin+minutes+rest)
	}
	for i, t := range p.planned() {
		s := p.Slots[i]
		if !count(s) {
			continue
		}
		end, rest := t.end, t.ready-t.end
		for _, o := range done {
			if o.Slot != s.Number || !o.EndedMin.OK {
				continue
			}
			d := p.dayOf(o.Day)
			if d < 0 {
				d = p.dayOf(s.Day)
			}
			end = midnights[d] + int(o.EndedMin.V+0.999)
		}
		ready[s.Unit] = max(ready[s.Unit], end+rest)
	}
	return ready
}

// List writes the plan as a list to work down: a heading for each day and bench, a line for each
// batch and slot, ">" before what is next at each bench, and before which time a unit must not run.
// done holds the outcomes since the last Replan.
func (p Plan) List(w io.Writer, done []Outcome) error {
	q := p.clone()
	if err := q.enter(done); err != nil {
		return err
	}
	out := bufio.NewWriter(w)
	open, next, wide := 0, map[string]int{}, q.widths()
	for i, s := range q.Slots {
		if s.What == Open {
			open++
			if _, ok := next[s.Bench]; !ok {
				next[s.Bench] = i
			}
		}
	}
	fmt.Fprintf(out, "Run order, seed %d, revision %d: %d of %s left\n", q.Seed, q.Revision, open, rig.Count(len(q.Slots), "run"))
	for _, d := range q.Days {
		for _, bench := range d.Benches {
			block, headed := -1, false
			for i, s := range q.Slots {
				if s.Day != d.Label || s.Bench != bench {
					continue
				}
				if !headed {
					fmt.Fprintf(out, "\n%s, %s, %s to %s\n", d.Label, bench, clock(d.OpenMin), clock(d.OpenMin+d.Minutes))
					headed = true
				}
				if s.Block != block && s.Block > 0 {
					fmt.Fprintf(out, "  block %d, food batch %s\n", s.Block, s.Batch)
				}
				block = s.Block
				mark := " "
				if n, ok := next[bench]; ok && n == i {
					mark = ">"
				}
				text := fmt.Sprintf("%s %3d  %s  %-*s  %-*s  %s", mark, s.Number, clock(s.StartMin), wide[0], s.Unit, wide[1], s.Procedure, q.remarks(i, done))
				fmt.Fprintln(out, strings.TrimRight(text, " "))
			}
		}
	}
	for _, u := range q.Unplanned {
		fmt.Fprintf(out, "\nunplanned, does not count: %s, %s, %s, %s, %s %s\n", u.Day, u.Bench, clock(u.StartMin), u.Unit, u.Procedure, u.Note)
	}
	return out.Flush()
}

func (p Plan) widths() (wide [2]int) {
	for _, s := range p.Slots {
		wide[0], wide[1] = max(wide[0], len(s.Unit)), max(wide[1], len(s.Procedure))
	}
	return wide
}

// remarks says what else there is to know about the slot at i.
func (p Plan) remarks(i int, done []Outcome) string {
	s := p.Slots[i]
	var out []string
	if s.Block == 0 {
		out = append(out, IsControl)
	} else {
		out = append(out, fmt.Sprintf("repeat %d", s.Repeat))
	}
	if s.Replaces() > 0 {
		out = append(out, s.Why)
	}
	if s.What != Open {
		return strings.Join(append(out, s.outcome()), ", ")
	}
	if p.leftOver(s, p.lastRunDay()) {
		return strings.Join(append(out, "left over"), ", ")
	}
	before := p
	before.Slots = p.Slots[:i]
	ready := before.readies(done, Slot.ran)
	d := p.dayOf(s.Day)
	if from := ready[s.Unit] - starts(p.Days)[d]; from > p.Days[d].OpenMin {
		out = append(out, "not before "+clock(from))
	}
	if s.WaitMin > 0 {
		out = append(out, fmt.Sprintf("the bench waits %d min", s.WaitMin))
	}
	return strings.Join(out, ", ")
}
