package plan

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"quern/rig"
)

// slot reads a line below the header.
func (f *reading) slot(row []string) error {
	if len(row) != len(header) {
		return f.fault(fmt.Sprintf("%d cells", len(row)), fmt.Sprintf("%d", len(header)), "keep a cell for every column, empty ones too")
	}
	if len(f.plan.Slots) >= maxSlots {
		return f.fault("one more slot", fmt.Sprintf("at most %d", maxSlots), "split the campaign")
	}
	s := Slot{Day: row[1], Bench: row[2], Batch: row[4], Unit: row[5], Procedure: row[6], Why: row[10]}
	for _, c := range []struct {
		column int
		to     *int
		least  int
		most   int
	}{
		{0, &s.Number, 1, maxSlots},
		{3, &s.Block, 0, maxSlots},
		{7, &s.Repeat, 0, 1000},
		{9, &s.WaitMin, 0, 2 * maxRestS / 60},
		{11, &s.Revision, 1, f.plan.Revision},
	} {
		n, ok := number(row[c.column])
		if !ok || n < c.least || n > c.most {
			return f.fault(header[c.column]+" "+strconv.Quote(row[c.column]), fmt.Sprintf("a whole number from %d to %d", c.least, c.most), "")
		}
		*c.to = n
	}
	start, ok := parseClock(row[8])
	if !ok {
		return f.fault("start "+strconv.Quote(row[8]), "a time such as 10:35", "format the column as text")
	}
	s.StartMin = start
	if err := f.outcome(&s, row[12]); err != nil {
		return err
	}
	if err := f.fits(s); err != nil {
		return err
	}
	f.lines[s.Number] = f.line
	f.plan.Slots = append(f.plan.Slots, s)
	return nil
}

func (f *reading) outcome(s *Slot, cell string) error {
	what, reason, _ := strings.Cut(cell, ": ")
	s.What, s.Reason = What(what), reason
	if err := checkOutcome(s.What, s.Reason); err != nil || cell != s.outcome() {
		return f.fault("outcome "+strconv.Quote(cell), `nothing, "done", or "void" or "skipped" with a reason`, `write such as "void: the clamp was open"`)
	}
	return nil
}

// fits tells whether s agrees with what stands above it.
func (f *reading) fits(s Slot) error {
	if f.lines[s.Number] > 0 {
		return f.fault(fmt.Sprintf("number %d, as in line %d", s.Number, f.lines[s.Number]), "each number once", "")
	}
	if !f.plan.hasBench(s.Day, s.Bench) {
		return f.fault(fmt.Sprintf("day %q, bench %q", s.Day, s.Bench), "a day of the plan and one of its benches", "format the column as text; spreadsheets like to rewrite dates")
	}
	if !rig.IsID(s.Unit) {
		return f.fault("unit "+strconv.Quote(s.Unit), rig.IDWords, "")
	}
	switch {
	case s.Why == Planned:
	case s.Why == IsControl && s.Block == 0:
	case s.Replaces() > 0 && s.Why == replaces+strconv.Itoa(s.Replaces()):
	default:
		return f.fault("why "+strconv.Quote(s.Why), `"planned", "control" (in block 0) or such as "replaces 7"`, "")
	}
	if s.Block == 0 {
		return f.fitsControl(s)
	}
	i := slices.IndexFunc(f.plan.Procedures, func(q Procedure) bool { return q.ID == s.Procedure })
	if i < 0 || s.Repeat < 1 || s.Repeat > f.plan.Procedures[i].Repeats {
		return f.fault(fmt.Sprintf("procedure %q, repeat %d", s.Procedure, s.Repeat), "a procedure stated above and one of its repeats", "")
	}
	if !rig.IsID(s.Batch) {
		return f.fault("batch "+strconv.Quote(s.Batch), rig.IDWords, "")
	}
	return f.fitsBlock(s)
}

// fitsBlock checks s against the first slot of its block and of its batch.
func (f *reading) fitsBlock(s Slot) error {
	inBlock, known := f.blocks[s.Block]
	inBatch, used := f.batches[s.Batch]
	if !known && !used {
		f.blocks[s.Block], f.batches[s.Batch] = s, s
		return nil
	}
	if known != used || inBlock.Number != inBatch.Number || inBlock.Day != s.Day || inBlock.Bench != s.Bench || inBlock.Procedure != s.Procedure {
		see := f.lines[max(inBlock.Number, inBatch.Number)]
		return f.fault(fmt.Sprintf("block %d with batch %q", s.Block, s.Batch), fmt.Sprintf("one batch, day, bench and procedure a block: see line %d", see), "")
	}
	return nil
}

func (f *reading) fitsControl(s Slot) error {
	c := f.plan.Control
	if c.Unit == "" || s.Why == Planned || s.Unit != c.Unit || s.Procedure != c.Procedure || s.Repeat != 0 || s.Batch != "" {
		return f.fault(fmt.Sprintf("block 0 with unit %s, procedure %q", s.Unit, s.Procedure), "the control as stated above, of repeat 0 and no batch", "")
	}
	return nil
}

// whole tells whether everything is there: the number of runs is fixed before the first.
func (f *reading) whole() error {
	p := &f.plan
	if !f.headed || !f.seed || p.Revision == 0 || len(p.Procedures) == 0 || len(p.Days) == 0 || len(p.Slots) == 0 {
		return f.faultAt(0, fmt.Sprintf("seed %t, revision %d, %d procedures, %d days, header %t, %d slots", f.seed, p.Revision, len(p.Procedures), len(p.Days), f.headed, len(p.Slots)),
			"all of them", "draw the plan again, or take the file from a copy")
	}
	for _, q := range p.Procedures {
		if c := (Campaign{Days: p.Days, Control: p.Control}); !c.fits(q) {
			return f.faultAt(0, fmt.Sprintf("procedure %s of %d min", q.ID, q.Minutes), "a day long enough for it and the control", "copy the procedures and days from the plan's first printing")
		}
	}
	for _, s := range p.Slots {
		if s.Number > len(p.Slots) {
			return f.faultAt(f.lines[s.Number], fmt.Sprintf("number %d in a plan of %d slots", s.Number, len(p.Slots)), "all numbers from 1", "put back the lines that are missing")
		}
		if err := f.stands(s); err != nil {
			return err
		}
	}
	return f.complete()
}

// stands checks a replacement against what it replaces.
func (f *reading) stands(s Slot) error {
	n := s.Replaces()
	if n == 0 {
		return nil
	}
	i := f.plan.find(n)
	if i < 0 || n >= s.Number || f.plan.Slots[i].Unit != s.Unit || f.plan.Slots[i].Procedure != s.Procedure || f.plan.Slots[i].Repeat != s.Repeat || (f.plan.Slots[i].Block == 0) != (s.Block == 0) {
		return f.faultAt(f.lines[s.Number], s.Why, "an earlier number of the same unit, procedure and repeat", "")
	}
	for _, o := range f.plan.Slots {
		if o.Replaces() == n && o.Number < s.Number && !o.takenBack() && !s.takenBack() {
			return f.faultAt(f.lines[s.Number], fmt.Sprintf("%s, as in line %d", s.Why, f.lines[o.Number]), "one replacement a void run", "")
		}
	}
	return nil
}

// complete checks that every unit, procedure and repeat is planned once.
func (f *reading) complete() error {
	type key struct {
		unit, procedure string
		repeat          int
	}
	seen := map[key]int{}
	for _, s := range f.plan.Slots {
		if s.Why != Planned {
			continue
		}
		k := key{s.Unit, s.Procedure, s.Repeat}
		if seen[k] > 0 {
			return f.faultAt(f.lines[s.Number], fmt.Sprintf("unit %s, procedure %s, repeat %d, as in line %d", s.Unit, s.Procedure, s.Repeat, seen[k]), "each once", "")
		}
		seen[k] = f.lines[s.Number]
	}
	for _, u := range f.plan.units() {
		for _, q := range f.plan.Procedures {
			for r := 1; r <= q.Repeats; r++ {
				if seen[key{u, q.ID, r}] == 0 {
					return f.faultAt(0, fmt.Sprintf("no line for unit %s, procedure %s, repeat %d", u, q.ID, r), "every unit under every procedure and repeat", "put the line back; what is not to be run is skipped with a reason")
				}
			}
		}
	}
	return nil
}
