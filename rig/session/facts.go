package session

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"

	"quern/rig"
	"quern/rig/line"
)

// factField holds the number of a fact in its session, from 1. Marks of old journals have none.
const factField = "fact"

// whySuffix ends the name of the field that says why a figure is absent: net_g_why.
const whySuffix = "_why"

// scribe numbers facts and turns them into points. The four Append methods return the fact's number;
// what is refused harms nothing and uses no number.
type scribe struct {
	stamp stamper
	last  int                               // number of the last fact
	put   func(p line.Point, e error) error // appends a point, or puts e into words
}

func (s *scribe) number(fact int, p line.Point, err error) (int, error) {
	if err := s.put(p, err); err != nil {
		return 0, err
	}
	s.last = fact
	return fact, nil
}

// AppendWeighing keeps a mass with its evidence. Its Fact is given by the session and returned.
func (s *scribe) AppendWeighing(w rig.Weighing) (fact int, err error) {
	w.Fact = s.last + 1
	p, err := s.stamp.weighing(w)
	switch {
	case err != nil:
	case !slices.Contains(rig.Roles, w.Role):
		err = fmt.Errorf("a weighing of role %q, expected one of %q", w.Role, rig.Roles)
	case !w.GrossG.OK && !w.NetG.OK && !w.TareG.OK:
		err = errors.New("a weighing without any mass")
	default:
		err = checkRun(w.Run)
	}
	if err == nil {
		err = bounded(saying{"an item", w.Item, rig.LongestWord}, saying{"a vessel", w.Vessel, rig.LongestWord}, saying{"a text of what the scale showed", w.Shown, rig.LongestText},
			by(w.Who), saying{"a note", w.Note, rig.LongestText})
	}
	return s.number(w.Fact, p, err)
}

// AppendCheck keeps an instrument or a condition compared with what it should be.
func (s *scribe) AppendCheck(c rig.Check) (fact int, err error) {
	c.Fact = s.last + 1
	p, err := s.stamp.check(c)
	if err == nil && !slices.Contains(rig.CheckKinds, c.Kind) {
		err = fmt.Errorf("a check of kind %q, expected one of %q", c.Kind, rig.CheckKinds)
	}
	if err == nil {
		err = bounded(by(c.Who), saying{"a note", c.Note, rig.LongestText})
	}
	return s.number(c.Fact, p, err)
}

// AppendCorrection keeps what a person says against the record. Target, New, Who, Why and At must be
// said; whether they make sense is for those who apply it.
func (s *scribe) AppendCorrection(c rig.Correction) (fact int, err error) {
	c.Fact = s.last + 1
	p, err := s.stamp.correction(c)
	if err == nil {
		err = checkRun(c.Run)
	}
	for _, f := range []struct{ name, value string }{{"target", c.Target}, {"new value", c.New}, {"name of who made it", c.Who}, {"reason", c.Why}} {
		if err == nil && f.value == "" {
			err = fmt.Errorf("a correction without its %s", f.name)
		}
	}
	if err == nil {
		err = bounded(saying{"a target", c.Target, rig.LongestWord}, saying{"an old value", c.Old, rig.LongestText}, saying{"a new value", c.New, rig.LongestText}, by(c.Who), saying{"a reason", c.Why, rig.LongestText})
	}
	return s.number(c.Fact, p, err)
}

// AppendRemark keeps what a person had to say at an instant; one line of text.
func (s *scribe) AppendRemark(r rig.Remark) (fact int, err error) {
	r.Fact = s.last + 1
	p, err := s.stamp.remark(r)
	if err == nil {
		err = checkRun(r.Run)
	}
	if err == nil {
		err = bounded(saying{"a text", r.Text, rig.LongestText}, by(r.Who))
	}
	return s.number(r.Fact, p, err)
}

// AppendFacts keeps weighings, checks and remarks in the order of their numbers; each gets the session's next one.
func (s *scribe) AppendFacts(f rig.Facts) error {
	type fact struct {
		n   int
		add func() (int, error)
	}
	var all []fact
	for _, x := range f.Weighings {
		all = append(all, fact{x.Fact, func() (int, error) { return s.AppendWeighing(x) }})
	}
	for _, x := range f.Checks {
		all = append(all, fact{x.Fact, func() (int, error) { return s.AppendCheck(x) }})
	}
	for _, x := range f.Remarks {
		all = append(all, fact{x.Fact, func() (int, error) { return s.AppendRemark(x) }})
	}
	slices.SortStableFunc(all, func(a, b fact) int { return cmp.Compare(a.n, b.n) })
	for _, x := range all {
		if _, err := x.add(); err != nil {
			return err
		}
	}
	return nil
}

// saying is what a person said, with its name in errors and how many bytes it may have.
type saying struct {
	name, said string
	most       int
}

func by(who string) saying { return saying{"a name of who says so", who, rig.LongestWord} }

// bounded refuses the first text that is too long: a line of the record is to be read at a glance, whichever way it came.
func bounded(all ...saying) error {
	for _, t := range all {
		if err := rig.Within(t.name, t.said, t.most); err != nil {
			return err
		}
	}
	return nil
}

func checkRun(run int) error {
	if run < 0 {
		return fmt.Errorf("run %d, expected one from 1, or 0 for none", run)
	}
	return nil
}

// measured appends a figure under its name, or why it is absent.
func measured(fields []line.Field, name string, f rig.Figure) []line.Field {
	switch {
	case f.OK:
		return append(fields, line.Field{Key: name, Value: line.FloatValue(f.V)})
	case f.Why != "":
		return append(fields, line.Field{Key: name + whySuffix, Value: line.StringValue(f.Why)})
	}
	return fields
}

// said appends a text that is not empty.
func said(fields []line.Field, name, text string) []line.Field {
	if text == "" {
		return fields
	}
	return append(fields, line.Field{Key: name, Value: line.StringValue(text)})
}

// flagged appends a flag that is set.
func flagged(fields []line.Field, name string, set bool) []line.Field {
	if !set {
		return fields
	}
	return append(fields, line.Field{Key: name, Value: line.BoolValue(true)})
}

func factFields(fact int) []line.Field {
	if fact <= 0 {
		return nil
	}
	return []line.Field{{Key: factField, Value: line.IntValue(int64(fact))}}
}

func (s stamper) weighing(w rig.Weighing) (line.Point, error) {
	f := factFields(w.Fact)
	f = measured(f, "gross_g", w.GrossG)
	f = measured(f, "tare_g", w.TareG)
	f = measured(f, "net_g", w.NetG)
	f = said(f, "shown", w.Shown)
	if w.Stable != rig.Unsaid {
		f = append(f, line.Field{Key: "stable", Value: line.BoolValue(w.Stable == rig.Yes)})
	}
	f = measured(f, "spread_g", w.SpreadG)
	f = measured(f, "slope_g_per_min", w.SlopeGPerMin)
	f = measured(f, "drained_s", w.DrainedS)
	f = flagged(f, "typed", w.Typed)
	f = flagged(f, "auto", w.Auto)
	f = flagged(f, "shaken", w.Shaken)
	f = said(said(f, "who", w.Who), "note", w.Note)
	return s.point(weighingName, w.AtS, []line.Tag{{Key: "role", Value: string(w.Role)}, {Key: "item", Value: w.Item},
		{Key: "vessel", Value: w.Vessel}, runTag(w.Run)}, f)
}

func (s stamper) check(c rig.Check) (line.Point, error) {
	f := measured(measured(factFields(c.Fact), "nominal", c.Nominal), "found", c.Found)
	f = said(said(f, "who", c.Who), "note", c.Note)
	return s.point(checkName, c.AtS, []line.Tag{{Key: "kind", Value: string(c.Kind)}}, f)
}

// correction may be made at any time, even one that a wrong clock puts before the session.
func (s stamper) correction(c rig.Correction) (line.Point, error) {
	if err := checkMade(c.At); err != nil {
		return line.Point{}, err
	}
	f := said(factFields(c.Fact), "target", c.Target)
	f = said(said(f, "old", c.Old), "new", c.New)
	f = measured(f, "u", c.U)
	f = said(said(f, "who", c.Who), "why", c.Why)
	f = said(f, "made", c.At.UTC().Format(time.RFC3339Nano))
	ns := c.At.UnixNano()
	return s.stamped(correctionName, ns, (float64(ns)-float64(s.startNs))/1e9, []line.Tag{runTag(c.Run)}, f), nil
}

func (s stamper) remark(r rig.Remark) (line.Point, error) {
	f := append(factFields(r.Fact), line.Field{Key: "text", Value: line.StringValue(r.Text)})
	return s.point(markName, r.AtS, []line.Tag{runTag(r.Run)}, said(f, "who", r.Who))
}

// checkMade makes sure that a time is one, and fits into 64 bits of nanoseconds.
func checkMade(t time.Time) error {
	if y := t.UTC().Year(); t.IsZero() || y < 1700 || y > 2261 {
		return fmt.Errorf("a correction made at %s, expected the time at which it was made", t.UTC().Format(time.RFC3339))
	}
	return nil
}
