package sheet

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
)

// runView is one run on a page.
type runView struct {
	ID, Heading      string
	Session          string
	Day, Clock       string
	Outcome, Verdict string // in words, and what the style sheet calls it
	Why              string
	Marks            []string
	Figure           *figure
	NoFigure         string // why there is none
	Events           []eventView
	Gates            []gateView
	Measures         []measureView
	Notes            []string
	Warnings         []rig.Warning
	Remarks          []remarkView
}

type eventView struct{ At, Words, Within, Sure, Evidence string }

type gateView struct {
	Name, Limit, Value, Verdict, Words, Surely, Note string
	Close                                            bool
}

type measureView struct {
	Name, What, Value string
	Absent            bool
	From              []string
}

type remarkView struct{ At, Text, Who string }

// verdictOf is what the style sheet calls the outcome of a test.
func verdictOf(ts *score.TestScore) string { return report.OutcomeKey(ts.Outcome, ts.NoGate()) }

// runView shows run r of session x; heading says which it is.
func (b *book) runView(x *exhibit, r *score.Run, id, heading, stem string) runView {
	v := runView{ID: id, Heading: heading, Session: r.Record.Session, Day: r.Day(), Clock: r.Record.Clock() + " " + r.Record.Zone(),
		Outcome: report.RunOutcomeWords(r), Verdict: report.OutcomeKey(r.Outcome, r.NoGate()), Why: decisive(b.Style, r)}
	if r.Record.Origin == rig.ByHand {
		v.Marks = append(v.Marks, "by hand")
	}
	if r.Status != score.Counts && r.Status != score.Void {
		v.Marks = append(v.Marks, string(r.Status)+" run")
	}
	if slices.ContainsFunc(r.Applied, func(k rig.Correction) bool { return !itself(r.Record, k) }) {
		v.Marks = append(v.Marks, "corrected")
	}
	title := fmt.Sprintf("%s, %s, %s, %s", b.shown(r.Unit), procedureTitle(r), heading, r.Day())
	if v.Figure = b.picture(x, r.N, title, stem); v.Figure == nil {
		v.NoFigure = cmp.Or(x.whyNot, "nothing was detected")
	}
	if r.N <= len(x.result.Runs) {
		for _, e := range x.result.Runs[r.N-1].Events {
			v.Events = append(v.Events, eventViewOf(e))
		}
	}
	for _, m := range r.Remarks {
		v.Notes = append(v.Notes, report.PlainWords(m))
	}
	for _, m := range x.rec.Facts.Remarks {
		if m.Run == 0 || m.Run == r.N {
			v.Remarks = append(v.Remarks, remarkView{report.AtWords(m.AtS), m.Text, m.Who})
		}
	}
	for _, w := range append(slices.Clone(x.rec.Warnings), x.result.Warnings...) {
		if !slices.Contains(v.Warnings, w) {
			v.Warnings = append(v.Warnings, w)
		}
	}
	return v
}

// shown is what a unit may be called.
func (b *book) shown(id string) string {
	if u := b.c.Lab.Unit(id); u != nil {
		return u.Shown(b.Day)
	}
	return id
}

func procedureTitle(r *score.Run) string { return cmp.Or(r.Procedure.Title, r.Procedure.ID) }

func eventViewOf(e rig.Event) eventView {
	out := eventView{Words: report.KindWords(e.Kind), Evidence: e.Evidence, At: "-", Within: "-", Sure: "-"}
	if e.AtS.OK {
		out.At = report.TimeWords(e.AtS.V)
	}
	if e.WithinS.OK {
		out.Within = fmt.Sprintf("±%.2f s", math.Ceil(100*e.WithinS.V-1e-9)/100) // rounded up: not surer than it is
	}
	if e.Sure.OK {
		out.Sure = fmt.Sprintf("%.0f %%", 100*e.Sure.V)
	}
	return out
}

// decisive says in a few words what decided a run.
func decisive(style report.Style, r *score.Run) string {
	if r.Status == score.Void {
		return "void (" + r.Cause + "): " + r.Why
	}
	if r.Failing {
		return r.Why
	}
	best, text := 0, ""
	for _, g := range r.Gates {
		n := 0
		switch {
		case g.Fails() && !g.Close():
			n = 4
		case g.Fails():
			n = 3
		case !g.Decided():
			n = 2
		case g.Close():
			n = 1
		}
		if n > best {
			best, text = n, gateLine(style, g)
		}
	}
	return text
}

// gateLine tells a gate in a line: "left share 7.32 % ±0.34 %, at most 5.00 %".
func gateLine(style report.Style, g score.GateResult) string {
	name := report.NameWords(g.Gate.Measure)
	if !g.Decided() {
		return name + " cannot be judged: " + report.WhyWords(g.Why)
	}
	return name + " " + style.Gated(g) + ", asked: " + style.Limit(g.Gate)
}

func (b *book) gateViewOf(g score.GateResult) gateView {
	v := gateView{Name: report.NameWords(g.Gate.Measure), Limit: b.Style.Limit(g.Gate), Value: b.Style.Gated(g), Words: report.VerdictWords(g), Surely: report.SurelyWords(g),
		Note: g.Gate.Note, Close: g.Close(), Verdict: "passed"}
	switch {
	case !g.Decided():
		v.Verdict = "not-measurable"
	case g.Fails():
		v.Verdict = "failed"
	}
	return v
}

// measures lists all measures of a run that anybody could have asked for.
func (b *book) measures(r *score.Run) (out []measureView) {
	for _, m := range rig.Measures {
		v := r.Measure(m.Name)
		if !v.OK && (v.Why == "not-weighed" || v.Why == "not-recorded") {
			continue
		}
		x := measureView{Name: report.NameWords(m.Name), What: m.What, Value: b.Style.Value(m.Name, v), Absent: !v.OK}
		for _, t := range v.From {
			x.From = append(x.From, traceWords(t))
		}
		if v.Note != "" {
			x.From = append(x.From, v.Note)
		}
		out = append(out, x)
	}
	return out
}

// checkedView is a check of an instrument or of the water.
type checkedView struct {
	Day, Session, What, Nominal, Found, Who, Note string
	Withdrawn                                     bool
}

func checksOf(rec *rig.Record) (out []checkedView) {
	for _, k := range rec.Facts.Checks {
		nominal, found := report.CheckValues(k)
		out = append(out, checkedView{Day: rec.Day(), Session: rec.Session, What: string(k.Kind), Nominal: nominal, Found: found, Who: k.Who, Note: k.Note, Withdrawn: !rec.Facts.CheckCounts(k.Fact)})
	}
	return out
}

// correctionView is what a person said against what was recorded.
type correctionView struct {
	Session, Words, Old, Why, Who, When string
	Run                                 int
}

// itself tells whether a correction is the value of a run taken by hand, and corrects none.
func itself(rec *rig.Record, k rig.Correction) bool {
	return rec.Origin == rig.ByHand && k.Why == score.TakenByHand
}

func correctionsOf(rec *rig.Record) (out []correctionView) {
	for _, k := range rec.Facts.Corrections {
		if itself(rec, k) {
			continue
		}
		out = append(out, correctionView{Session: rec.Session, Run: k.Run, Words: report.CorrectionWords(k), Old: k.Old, Why: k.Why, Who: k.Who, When: rec.InstantWords(k.At)})
	}
	return out
}

// weighingView is one weighing.
type weighingView struct {
	Fact                                          int
	What, Net, Gross, Tare, At, Drained, How, Who string
	Corrected, Note                               string
	From                                          string // where a tare is from that was not given with it
	Withdrawn                                     bool
}

func (b *book) weighings(rec *rig.Record, nets []score.Net) (out []weighingView) {
	mass := func(f rig.Figure) string {
		if !f.OK {
			return "-"
		}
		return b.Style.Weighed(f.V)
	}
	for i, w := range rec.Facts.Weighings {
		net := nets[i]
		v := weighingView{Fact: w.Fact, What: string(w.Role), Net: mass(net.G), Gross: mass(w.GrossG), Tare: mass(w.TareG), At: report.AtWords(w.AtS), How: report.TakenWords(w), Who: w.Who, Note: w.Note, Drained: "-"}
		if !w.TareG.OK && net.TareG.OK {
			v.Tare, v.From = mass(net.TareG), net.From
		}
		if w.Item != "" {
			v.What += ": " + strings.ReplaceAll(w.Item, "-", " ")
		}
		if w.Vessel != "" {
			v.What += " in " + w.Vessel
		}
		if w.DrainedS.OK {
			v.Drained = report.TimeWords(w.DrainedS.V)
		}
		for _, k := range rec.Facts.Corrections {
			if k.Target == fmt.Sprintf("weighing.%d", w.Fact) {
				v.Corrected, v.Withdrawn = report.CorrectionWords(k)+", by "+k.Who+": "+k.Why, k.New == "withdrawn"
			}
		}
		out = append(out, v)
	}
	return out
}
