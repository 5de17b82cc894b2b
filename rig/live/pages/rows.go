package pages

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
	"quern/rig/session"
)

// row is a session in the list.
type row struct {
	Name  string
	Day   string // 2026-03-01
	Clock string // 10:15
	Zone  string // of the two: "UTC", "UTC+01:00"
	Runs  []runRow
	Loose string // why no run could be made of it
	found string // what a search looks through, in small letters

	started time.Time
	key     string // of its analysis; "": none
}

// runRow is a run in the list.
type runRow struct {
	N         int
	Unit      string // id
	Shown     string // what it may be called
	Procedure string // id
	Title     string // of the procedure
	Verdict   string // see verdicts
	Close     bool
	Why       string // the gate or the reason that decided
	Time      string
	Level     string
	Left      string
	Marks     []string // by hand, control run, ...
	LimitS    float64
	NoRun     bool // it stands for a session in which none was found
}

// The verdicts that the list filters by, with what they say. The four that are no pass never mix.
var verdicts = []struct{ ID, Words string }{
	{"passed", "passed"},
	{"failed", "failed"},
	{"close", "too close to call"},
	{"void", "void"},
	{"not-measurable", "not measurable"},
	{"none", "no gate to check, or no run"},
}

// VerdictWords says the verdict.
func (k runRow) VerdictWords() string {
	switch {
	case k.Verdict == "none" && k.NoRun:
		return "no run counts"
	case k.Verdict == "none":
		return "no gate to check"
	}
	for _, v := range verdicts {
		if v.ID == k.Verdict {
			return v.Words
		}
	}
	return strings.ReplaceAll(k.Verdict, "-", " ")
}

// verdictOf returns the id of an outcome.
func verdictOf(r *score.Run) string {
	return report.OutcomeKey(r.Outcome, r.NoGate())
}

// rowsOf makes the list, newest first.
func (c *Catalogue) rowsOf(r *reading, day string) []row {
	out := make([]row, 0, len(r.records))
	of := map[*rig.Record][]*score.Run{}
	bySession := map[string]*rig.Record{}
	for i := range r.records {
		bySession[r.records[i].Session] = &r.records[i]
	}
	for _, run := range r.campaign.Runs {
		rec := bySession[run.Record.Session]
		of[rec] = append(of[rec], run)
	}
	why := map[string]string{}
	for _, l := range r.campaign.Loose {
		why[l.Session] = l.Why
	}
	for i := range r.records {
		rec := &r.records[i]
		x := row{Name: rec.Session, Day: rec.Day(), Clock: rec.Clock(), Zone: rec.Zone(), started: rec.Started, Loose: why[rec.Session],
			key: session.KeyOf(rec.Settings)}
		find := []string{x.Name, x.Day, rec.Unit, rec.Procedure, x.Loose}
		for _, run := range of[rec] {
			x.Runs = append(x.Runs, runRowOf(r, run, day))
		}
		if len(of[rec]) == 0 {
			x.Runs = []runRow{unplaced(r, rec, day)}
			x.Runs[0].Why = cmp.Or(x.Loose, x.Runs[0].Why)
		}
		for _, k := range x.Runs {
			find = append(find, k.Shown, k.Title, k.Why, strings.Join(k.Marks, " "))
		}
		for _, m := range rec.Facts.Remarks {
			find = append(find, m.Text)
		}
		for _, k := range rec.Facts.Corrections {
			find = append(find, k.Who, k.Why)
		}
		x.found = strings.ToLower(strings.Join(find, "\n"))
		out = append(out, x)
	}
	slices.SortStableFunc(out, func(a, b row) int {
		return cmp.Or(b.started.Compare(a.started), strings.Compare(b.Name, a.Name))
	})
	return out
}

// unplaced stands for a session of which no run could be made.
func unplaced(r *reading, rec *rig.Record, day string) runRow {
	out := runRow{N: 1, Unit: rec.Unit, Shown: rec.Unit, Procedure: rec.Procedure, Title: rec.Procedure, Verdict: "none", NoRun: true, Why: "no run was found in it"}
	if u := r.lab.Unit(rec.Unit); u != nil {
		out.Shown = u.Shown(day)
	}
	if p := r.lab.Procedure(rec.Procedure); p != nil {
		out.Title = cmp.Or(p.Title, p.ID)
	}
	return out
}

func runRowOf(r *reading, run *score.Run, day string) runRow {
	p := run.Procedure
	out := runRow{N: run.N, Unit: run.Unit, Shown: run.Unit, Procedure: p.ID, Title: cmp.Or(p.Title, p.ID), Verdict: verdictOf(run), LimitS: p.TimeLimitS}
	if u := r.lab.Unit(run.Unit); u != nil {
		out.Shown = u.Shown(day)
	}
	out.Why = decisive(run)
	for _, g := range run.Gates {
		out.Close = out.Close || run.Status != score.Void && g.Close()
	}
	short := func(name string) string {
		if v := run.Measure(name); v.OK {
			return report.MeasureWords(name, v.V)
		}
		return ""
	}
	out.Time, out.Level, out.Left = short("run_time_s"), short("laeq_db"), short("left_share")
	if run.Record.Origin == rig.ByHand {
		out.Marks = append(out.Marks, "by hand")
	}
	if run.Status != score.Counts && run.Status != score.Void {
		out.Marks = append(out.Marks, string(run.Status)+" run")
	}
	if n := len(run.Applied); n > 0 && run.Status != score.Void {
		out.Marks = append(out.Marks, "corrected")
	}
	return out
}

// decisive says in a few words what decided a run: the reason a person gave, or the gate that failed, is
// close or cannot be judged.
func decisive(run *score.Run) string {
	if run.Status == score.Void {
		return run.Cause + ": " + run.Why
	}
	if run.Failing {
		return run.Why
	}
	rank := func(g score.GateResult) int {
		switch {
		case g.Fails() && !g.Close():
			return 4
		case g.Fails():
			return 3
		case !g.Decided():
			return 2
		case g.Close():
			return 1
		}
		return 0
	}
	best := 0
	text := ""
	for _, g := range run.Gates {
		if n := rank(g); n > best {
			best, text = n, gateLine(g)
		}
	}
	return text
}

// gateLine tells a gate in a line: "left share 7.32 % ±0.34 %, at most 5.00 %".
func gateLine(g score.GateResult) string {
	name := report.NameWords(g.Gate.Measure)
	if !g.Decided() {
		return name + ": " + rig.WhyWords(g.Why)
	}
	value := report.MeasureWords(g.Gate.Measure, g.Value.V)
	if half := report.HalfWords(g.Gate.Measure, g.Value.Total()); half != "" {
		value += " " + half
	}
	return name + " " + value + ", " + report.LimitWords(g.Gate)
}
