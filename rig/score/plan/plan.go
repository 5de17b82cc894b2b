// Package plan draws the run order of a campaign and keeps it while the campaign goes on.
//
// Runs are randomised inside blocks. A block is one food batch on one day at one bench; it holds one
// procedure, and every unit once where the batch and the day have room for all of them (a randomised
// complete block). The repeats of a unit lie in different blocks, and on different days where there
// are enough. A unit rests between its runs: other units run meanwhile, and where no other can, the
// slot states how long the bench waits. Benches work side by side.
//
// Everything follows from the seed: the same campaign and seed give the same plan, in whatever order
// units, procedures and benches were named. A plan is changed only by [Plan.Replan], which keeps
// what is done, and the order of what is left.
//
// Minutes are whole minutes of a day from midnight unless a name says otherwise; rests are seconds.
package plan

import (
	"slices"
	"strconv"
	"strings"

	"quern/rig"
)

// Procedure is what the plan needs to know of a procedure.
type Procedure struct {
	ID      string
	Repeats int // runs of each unit that count
	Minutes int // expected time at the bench of one run, with weighing and cleaning
	RestS   int // s, least rest of a unit from the end of such a run to the start of its next
	Batch   int // runs that one food batch serves; 0: as many as one likes
}

// Day is a working day. Labels are dates such as 2026-11-03, or names of days that follow each other
// directly.
type Day struct {
	Label   string
	OpenMin int // minute of the day at which work begins: 540 is 09:00
	Minutes int // time for runs, from then on
	Benches []string
}

// Control is the run that opens every day at every bench. It is not randomised and belongs to no
// block. The zero Control means that there is none.
type Control struct {
	Unit      string
	Procedure string
	Minutes   int
	RestS     int // s
}

// Campaign is what a plan is drawn for.
type Campaign struct {
	Units      []string // blind codes
	Procedures []Procedure
	Days       []Day // in order of time
	Control    Control
	Seed       uint64
}

// What became of a slot.
type What string

const (
	Open    What = ""        // still to be run
	Done    What = "done"    // it counts
	Void    What = "void"    // run, or tried, and does not count: it is replaced
	Skipped What = "skipped" // not run and not replaced: the unit is out of the campaign, say
)

// Outcome is what became of one slot. Of several for one slot the last counts.
type Outcome struct {
	Slot     int // its number
	What     What
	Reason   string     // needed for Void and Skipped: one line; of Done it may say what is still wanting
	EndedMin rig.Figure // minute of its day at which the run ended; absent: as planned. Only Next uses it
	Day      string     // on which it was run; "": on its own. Only Next uses it
}

// Why a slot is there, unless it "replaces 7".
const (
	Planned   = "planned"
	IsControl = "control"
	replaces  = "replaces "
)

// Slot is one run of the plan.
type Slot struct {
	Number    int    // from 1; stays with the slot for ever
	Day       string // label
	Bench     string
	Block     int    // from 1; 0 for a control
	Batch     string // food batch, such as mixed-2; "" for a control
	Unit      string // blind code
	Procedure string
	Repeat    int    // from 1; 0 for a control
	StartMin  int    // planned start, minute of the day
	WaitMin   int    // how long the bench stands idle before it until the unit has rested
	Why       string // Planned, IsControl or "replaces 7"
	Revision  int    // of the plan that brought it in
	What      What
	Reason    string
}

// Replaces returns the number of the slot that s stands in for; 0: it is no replacement.
func (s Slot) Replaces() int {
	digits, ok := strings.CutPrefix(s.Why, replaces)
	n, err := strconv.Atoi(digits)
	if !ok || err != nil {
		return 0
	}
	return n
}

// ran tells whether s took or will take time, food and the unit's heat.
func (s Slot) ran() bool { return s.What != Skipped }

// tried tells whether s has been run, whether or not it counts.
func (s Slot) tried() bool { return s.What == Done || s.What == Void }

// Unplanned is a run that the plan does not know of. It is noted so that nobody forgets it, and
// never counts; the unit rests after it as after any other.
type Unplanned struct {
	Day       string
	Bench     string
	Unit      string
	Procedure string
	StartMin  int
	Note      string
}

// Plan is a run order. The slots of a bench stand in the order in which they are to be run; in the
// first revision those of all benches do.
type Plan struct {
	Seed       uint64
	Revision   int // from 1
	Procedures []Procedure
	Days       []Day
	Control    Control
	Slots      []Slot
	Unplanned  []Unplanned
}

func (p Plan) clone() Plan {
	p.Procedures = slices.Clone(p.Procedures)
	p.Days = slices.Clone(p.Days)
	p.Slots = slices.Clone(p.Slots)
	p.Unplanned = slices.Clone(p.Unplanned)
	return p
}

// find returns the index of the slot with a number; -1: there is none.
func (p Plan) find(number int) int {
	return slices.IndexFunc(p.Slots, func(s Slot) bool { return s.Number == number })
}

// units lists the campaign's units, sorted; a control's unit is not among them for being that.
func (p Plan) units() []string {
	var out []string
	for _, s := range p.Slots {
		if s.Why != IsControl && s.Block > 0 {
			out = append(out, s.Unit)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// takes returns how long a run of s holds the bench and how long its unit rests after it, min.
func (p Plan) takes(s Slot) (minutes, rest int) {
	if s.Block == 0 {
		return p.Control.Minutes, restMin(p.Control.RestS)
	}
	return p.procedureTakes(s.Procedure)
}

func (p Plan) procedureTakes(id string) (minutes, rest int) {
	for _, q := range p.Procedures {
		if q.ID == id {
			return q.Minutes, restMin(q.RestS)
		}
	}
	if id == p.Control.Procedure {
		return p.Control.Minutes, restMin(p.Control.RestS)
	}
	return 0, 0
}

// restMin rounds a rest up to whole minutes.
func restMin(restS int) int { return (restS + 59) / 60 }
