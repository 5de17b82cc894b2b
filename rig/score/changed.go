package score

import (
	"math"

	"quern/rig"
)

// RunChange is what another analysis made of a run.
type RunChange struct {
	Run      string // session and number
	Unit     string
	Events   []EventChange
	Measures []MeasureChange
	Outcome  [2]Outcome // old and new
}

// EventChange is an event that came, went or moved.
type EventChange struct {
	Kind     rig.Kind
	Old, New rig.Figure // s of the session; absent: there was or is none
}

// MeasureChange is a measure that came out otherwise.
type MeasureChange struct {
	Measure  string
	Old, New rig.Figure
}

// movedS is how far an event may move and still be the same, s: what JSON shows.
const movedS = 0.0005

// Changed compares two analyses of the same sessions, run by run, and leaves out what is alike.
func Changed(old, new *Campaign) []RunChange {
	before := map[string]*Run{}
	for _, r := range old.Runs {
		before[r.Name()] = r
	}
	var out []RunChange
	seen := map[string]bool{}
	for _, r := range new.Runs {
		seen[r.Name()] = true
		if c, differs := change(before[r.Name()], r); differs {
			out = append(out, c)
		}
	}
	for _, r := range old.Runs {
		if !seen[r.Name()] {
			c, _ := change(r, nil)
			out = append(out, c)
		}
	}
	return out
}

// change compares two analyses of one run; either may be missing.
func change(old, new *Run) (RunChange, bool) {
	var c RunChange
	var events [2][]rig.Event
	for i, r := range []*Run{old, new} {
		if r == nil {
			continue
		}
		c.Run, c.Unit, c.Outcome[i] = r.Name(), r.Unit, r.Outcome
		if r.run != nil {
			events[i] = r.run.Events
		}
	}
	for _, k := range rig.Kinds {
		c.Events = append(c.Events, eventChanges(k, events[0], events[1])...)
	}
	for _, m := range rig.Measures {
		a, b := rig.Figure{}, rig.Figure{}
		if old != nil {
			a = old.Measure(m.Name).Figure
		}
		if new != nil {
			b = new.Measure(m.Name).Figure
		}
		if a.OK != b.OK || a.OK && math.Abs(a.V-b.V) > 1e-9*math.Max(1, math.Abs(a.V)) {
			c.Measures = append(c.Measures, MeasureChange{m.Name, a, b})
		}
	}
	return c, old == nil || new == nil || len(c.Events)+len(c.Measures) > 0 || c.Outcome[0] != c.Outcome[1]
}

// eventChanges pairs the events of a kind, nearest in order, and returns those that are not alike.
func eventChanges(k rig.Kind, old, new []rig.Event) []EventChange {
	at := func(events []rig.Event) []rig.Figure {
		var out []rig.Figure
		for _, e := range events {
			if e.Kind == k {
				out = append(out, e.AtS)
			}
		}
		return out
	}
	a, b := at(old), at(new)
	var out []EventChange
	for len(a) > 0 || len(b) > 0 {
		switch {
		case len(a) > len(b) && (len(b) == 0 || len(a) > 1 && math.Abs(a[1].V-b[0].V) < math.Abs(a[0].V-b[0].V)):
			out = append(out, EventChange{k, a[0], rig.Absent("gone")})
			a = a[1:]
		case len(b) > len(a) && (len(a) == 0 || len(b) > 1 && math.Abs(b[1].V-a[0].V) < math.Abs(b[0].V-a[0].V)):
			out = append(out, EventChange{k, rig.Absent("not there"), b[0]})
			b = b[1:]
		default:
			if math.Abs(a[0].V-b[0].V) > movedS {
				out = append(out, EventChange{k, a[0], b[0]})
			}
			a, b = a[1:], b[1:]
		}
	}
	return out
}
