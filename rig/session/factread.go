package session

import (
	"fmt"
	"strconv"
	"time"

	"quern/rig"
	"quern/rig/line"
)

// collector gathers facts from lines of line protocol.
type collector struct {
	facts rig.Facts
	first int // number of the first, 0: none has one
	last  int // largest number so far
}

// factOf returns the measurement of a line that holds a fact, or "". Nearly all lines of a journal
// are readings: they are told from facts without being read.
func factOf(text []byte) string {
	if len(text) == 0 {
		return ""
	}
	switch text[0] { // the first letters of the four names
	case weighingName[0]:
		if isOf(text, weighingName) {
			return weighingName
		}
	case markName[0]:
		if isOf(text, markName) {
			return markName
		}
	case checkName[0]: // and of correctionName
		if isOf(text, checkName) {
			return checkName
		}
		if isOf(text, correctionName) {
			return correctionName
		}
	}
	return ""
}

// batch takes the facts of a batch that proves itself; name stands in errors.
func (c *collector) batch(name string, b batch) error {
	for {
		text, number, ok := b.cut()
		if !ok {
			return nil
		}
		measurement := factOf(text)
		if measurement == "" {
			continue
		}
		p, err := line.Parse(text)
		if err == nil {
			err = c.take(measurement, p)
		}
		if err != nil {
			return line.Fault(name, number, err)
		}
	}
}

// take adds the fact that a point holds.
func (c *collector) take(measurement string, p line.Point) error {
	f := factPoint{p: p}
	fact := f.number(measurement == markName)
	if fact > 0 && fact <= c.last {
		f.fail("fact %d after fact %d", fact, c.last)
	}
	switch measurement {
	case weighingName:
		if w := f.weighing(fact); f.err == nil {
			c.facts.Weighings = append(c.facts.Weighings, w)
		}
	case checkName:
		if x := f.check(fact); f.err == nil {
			c.facts.Checks = append(c.facts.Checks, x)
		}
	case correctionName:
		if x := f.correction(fact); f.err == nil {
			c.facts.Corrections = append(c.facts.Corrections, x)
		}
	case markName:
		if r := f.remark(fact); f.err == nil {
			c.facts.Remarks = append(c.facts.Remarks, r)
		}
	}
	if f.err == nil && fact > 0 {
		if c.first == 0 {
			c.first = fact
		}
		c.last = fact
	}
	return f.err
}

// factPoint reads the parts of a fact, and keeps the first fault.
type factPoint struct {
	p   line.Point
	err error
}

func (f *factPoint) fail(format string, args ...any) {
	if f.err == nil {
		f.err = fmt.Errorf("%s: %s", f.p.Measurement, fmt.Sprintf(format, args...))
	}
}

// number returns the fact's number; 0 for one that may have none.
func (f *factPoint) number(optional bool) int {
	v := f.p.Field(factField)
	if optional && v.Kind() == line.None {
		return 0
	}
	n, ok := v.Int()
	if !ok || n < 1 || n > 1<<31 {
		f.fail("no number of a fact from 1 in field %q", factField)
	}
	return int(n)
}

// field returns a field of the kind, or false if there is none. A field of another kind is a fault:
// passed over, it would look like a figure that was not measured.
func (f *factPoint) field(key string, kind line.Kind) (line.Value, bool) {
	v := f.p.Field(key)
	if v.Kind() != kind && v.Kind() != line.None {
		f.fail("field %q is of another kind than this program writes", key)
	}
	return v, v.Kind() == kind
}

func (f *factPoint) text(key string) string {
	v, _ := f.field(key, line.String)
	text, _ := v.Text()
	return text
}

func (f *factPoint) flag(key string) bool {
	v, ok := f.field(key, line.Bool)
	set, _ := v.Bool()
	return ok && set
}

func (f *factPoint) figure(key string) rig.Figure {
	if v, ok := f.field(key, line.Float); ok {
		x, _ := v.Float()
		return rig.Fig(x)
	}
	return rig.Absent(f.text(key + whySuffix))
}

// maxAtS is the latest instant that nanoseconds can hold, s; about 291 years.
const maxAtS = 9.2e9

func (f *factPoint) atS() float64 {
	v, _ := f.field(timeField, line.Float)
	x, ok := v.Float()
	if !ok || !(x >= 0 && x < maxAtS) {
		f.fail("no time from the session's start in field %q", timeField)
	}
	return x
}

func (f *factPoint) run() int {
	tag := f.p.Tag("run")
	if tag == "" {
		return 0
	}
	n, err := strconv.Atoi(tag)
	if err != nil || n < 1 {
		f.fail("run %q, expected a number from 1", tag)
	}
	return n
}

func (f *factPoint) weighing(fact int) rig.Weighing {
	w := rig.Weighing{Fact: fact, AtS: f.atS(), Run: f.run(), Role: rig.Role(f.p.Tag("role")), Item: f.p.Tag("item"),
		Vessel: f.p.Tag("vessel"), GrossG: f.figure("gross_g"), TareG: f.figure("tare_g"), NetG: f.figure("net_g"),
		Shown: f.text("shown"), SpreadG: f.figure("spread_g"), SlopeGPerMin: f.figure("slope_g_per_min"),
		DrainedS: f.figure("drained_s"), Typed: f.flag("typed"), Auto: f.flag("auto"), Shaken: f.flag("shaken"),
		Who: f.text("who"), Note: f.text("note")}
	if v, ok := f.field("stable", line.Bool); ok {
		w.Stable = rig.No
		if yes, _ := v.Bool(); yes {
			w.Stable = rig.Yes
		}
	}
	return w
}

func (f *factPoint) check(fact int) rig.Check {
	return rig.Check{Fact: fact, AtS: f.atS(), Kind: rig.CheckKind(f.p.Tag("kind")), Nominal: f.figure("nominal"),
		Found: f.figure("found"), Who: f.text("who"), Note: f.text("note")}
}

func (f *factPoint) correction(fact int) rig.Correction {
	made, err := time.Parse(time.RFC3339Nano, f.text("made"))
	if err == nil {
		err = checkMade(made)
	}
	if err != nil {
		f.fail("no time such as 2026-03-02T09:30:00Z in field \"made\" (%v)", err)
	}
	return rig.Correction{Fact: fact, At: made.UTC(), Run: f.run(), Target: f.text("target"), Old: f.text("old"),
		New: f.text("new"), U: f.figure("u"), Who: f.text("who"), Why: f.text("why")}
}

func (f *factPoint) remark(fact int) rig.Remark {
	return rig.Remark{Fact: fact, AtS: f.atS(), Run: f.run(), Text: f.text("text"), Who: f.text("who")}
}

// collect reads a journal to its end: each, if any, sees every batch, and the facts of those that
// prove themselves are gathered.
func (c *collector) collect(j *journal, each func(batch)) error {
	return j.each(func(b batch) error {
		if each != nil {
			each(b)
		}
		return c.batch(j.name, b)
	})
}
