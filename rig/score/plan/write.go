package plan

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// header names the columns of a plan's file.
var header = []string{"number", "day", "bench", "block", "batch", "unit", "procedure", "repeat", "start", "wait_min", "why", "revision", "outcome"}

// rules stand on top of the file. No commas, so that a spreadsheet keeps each in one cell.
var rules = []string{
	"Run order of a campaign: one line a run; each bench works down its lines. This file is the plan.",
	"A block is one food batch on one day at one bench with one procedure; within it the order of the units is drawn.",
	"A unit rests between its runs for at least the rest of the procedure it ran; wait_min is how long the bench stands idle for that.",
	"No unit runs twice in a row at a bench unless nothing else is left. Controls open the day and are not drawn.",
	"The number of runs was fixed before the first. A void run is replaced once and stays listed; unplanned runs do not count.",
	"The same units with the same seed always give this same order. A new revision keeps what was run and the order of what is left.",
}

// Write writes the plan as CSV, readable in a spreadsheet: comment lines with the rules in words and
// what the plan was drawn for, a header, and a line a slot. No cell begins with = + - or @, which
// spreadsheets take for a formula. [Read] gives back the same plan.
func (p Plan) Write(w io.Writer) error {
	out := csv.NewWriter(w)
	for _, row := range append(p.comments(), header) {
		_ = out.Write(row) // Error tells
	}
	for _, s := range p.Slots {
		_ = out.Write(s.row())
	}
	out.Flush()
	return out.Error()
}

func (p Plan) comments() (rows [][]string) {
	add := func(key, format string, args ...any) {
		rows = append(rows, []string{"# " + key + ": " + fmt.Sprintf(format, args...)})
	}
	for _, r := range rules {
		rows = append(rows, []string{"# " + r})
	}
	add(keySeed, "%d", p.Seed)
	add(keyRevision, "%d", p.Revision)
	for _, q := range p.Procedures {
		add(keyProcedure, "%s repeats=%d minutes=%d rest_s=%d batch=%d", q.ID, q.Repeats, q.Minutes, q.RestS, q.Batch)
	}
	if c := p.Control; c.Unit != "" {
		add(keyControl, "%s %s minutes=%d rest_s=%d", c.Unit, c.Procedure, c.Minutes, c.RestS)
	}
	for _, d := range p.Days {
		add(keyDay, "%s open=%s minutes=%d %s", d.Label, clock(d.OpenMin), d.Minutes, strings.Join(d.Benches, " "))
	}
	for _, u := range p.Unplanned {
		add(keyUnplanned, "%s", strings.TrimSpace(strings.Join([]string{u.Day, u.Bench, u.Unit, u.Procedure, clock(u.StartMin), u.Note}, " ")))
	}
	return rows
}

func (s Slot) row() []string {
	return []string{
		strconv.Itoa(s.Number), s.Day, s.Bench, strconv.Itoa(s.Block), s.Batch, s.Unit, s.Procedure, strconv.Itoa(s.Repeat),
		clock(s.StartMin), strconv.Itoa(s.WaitMin), s.Why, strconv.Itoa(s.Revision), s.outcome(),
	}
}

// outcome writes what became of s and why: "void: the clamp was open".
func (s Slot) outcome() string {
	if s.Reason == "" {
		return string(s.What)
	}
	return string(s.What) + ": " + s.Reason
}
