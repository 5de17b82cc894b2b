package mass

import (
	"fmt"
	"math"

	"quern/rig"
)

// Now is what a scale shows, and how good that is.
type Now struct {
	AtS          float64    // of the last reading
	MassG        rig.Figure // the indication; absent, "no-reading": there was none
	Stable       rig.Mark   // the device's own word
	AtRest       bool       // the last second within a division, and the device does not deny it
	RestS        float64    // for how long within one division; at least, once it is over 10 s
	NeedS        float64    // how long a weighing wants
	Ready        bool       // a weighing can be taken
	SpreadG      rig.Figure // range in the last second
	SlopeGPerMin rig.Figure // over the last 10 s since the last disturbance; negative: it loses
	Motor        bool       // the motor runs
	Pending      bool       // a load was placed or removed and has not been taken
	PlacedS      rig.Figure // when the last load was placed; known a second or so after
}

// Now returns the state after the last reading.
func (t *Taker) Now() Now {
	n := Now{MassG: rig.Absent("no-reading"), SpreadG: rig.Absent("no-reading"), SlopeGPerMin: rig.Absent("no-reading"), PlacedS: t.placedS, Motor: t.motor}
	if !t.begun {
		return n
	}
	n.AtS, n.MassG, n.Stable, n.SpreadG = t.in.AtS, rig.Fig(t.in.Value), t.in.Stable, rig.Fig(t.pan.spreadG)
	n.AtRest, n.NeedS, n.Ready, n.Pending = !t.now.Shaky, t.needS(), t.ready(), t.pending
	n.SlopeGPerMin, _ = t.past.slope(t.disturbedS)
	if n.AtRest {
		n.RestS = t.restedS()
	}
	return n
}

// Candidate is a weighing before anybody said of what.
type Candidate struct {
	AtS          float64    // of the reading
	GrossG       float64    // the indication, as it was shown
	Stable       rig.Mark   // the device's own word
	SpreadG      rig.Figure // range in the second before
	SlopeGPerMin rig.Figure // over up to 10 s since the last disturbance
	RestS        float64    // how long it had been at rest
	StepG        rig.Figure // change from what was on the pan before; absent, "by-button": it was not judged
	Auto         bool       // taken by itself
	Shaken       bool       // the motor ran
	Forced       bool       // taken although not ready
	Why          string     // what was not ready; "" unless forced
}

// Weighing returns the weighing with what the scale knows of it; role, vessel and tare are not known.
func (c Candidate) Weighing() rig.Weighing {
	return rig.Weighing{AtS: c.AtS, GrossG: rig.Fig(c.GrossG), Stable: c.Stable, SpreadG: c.SpreadG, SlopeGPerMin: c.SlopeGPerMin,
		Auto: c.Auto, Shaken: c.Shaken, Note: c.Why}
}

// NotReady says what keeps a weighing from being taken.
type NotReady struct {
	Code  string // no-reading, overload, negative, motor, moving, mark, resting
	Found string
	Do    string
	Never bool // it cannot be forced either
}

// Error returns one line: "pan moves by 3 g: wait".
func (e *NotReady) Error() string { return e.Found + ": " + e.Do }

// Take takes what the pan shows, at the operator's button. atS is now; force takes it although it is
// not ready, and marks it. The error is a *NotReady. Each press gives a weighing.
func (t *Taker) Take(atS float64, force bool) (Candidate, error) {
	no := t.obstacle(atS)
	if no != nil && (no.Never || !force) {
		return Candidate{}, no
	}
	c := t.candidate()
	if no != nil {
		c.Forced, c.Why = true, no.Found
	} else { // then the change is taken, and not to be taken again by itself
		t.pending, t.baseG, t.restG = false, t.in.Value, t.in.Value
	}
	t.taken(c)
	return c, nil
}

// obstacle returns the first thing that is not ready, or nil.
func (t *Taker) obstacle(atS float64) *NotReady {
	if !t.begun {
		return &NotReady{"no-reading", "no reading yet", "look whether the scale is on and plugged in", true}
	}
	n := t.Now()
	switch age := atS - n.AtS; {
	case age > t.set.GapS:
		return &NotReady{"no-reading", fmt.Sprintf("no reading for %.0f s", age), "look whether the scale is on and plugged in", true}
	case n.MassG.V > t.set.MaxG:
		return &NotReady{"overload", fmt.Sprintf("pan shows %s g, over the scale's %s g", t.grams(n.MassG.V), t.grams(t.set.MaxG)), "take some off, or weigh it in parts", false}
	case n.MassG.V < 0:
		return &NotReady{"negative", fmt.Sprintf("pan shows %s g, less than nothing", t.grams(n.MassG.V)), "empty it and set it to zero", false}
	case n.Motor:
		return &NotReady{"motor", "the motor runs", "readings are shaken; stop it, or take it marked", false}
	case !still(n.SpreadG.V, t.set.DivisionG):
		return &NotReady{"moving", fmt.Sprintf("pan moves by %s g", t.grams(n.SpreadG.V)), "wait", false}
	case !n.AtRest:
		return &NotReady{"mark", "the scale's own mark says that it moves", "wait; if that stays so, look for a draught or a slanting table", false}
	case n.RestS < n.NeedS*0.999:
		return &NotReady{"resting", fmt.Sprintf("pan at rest for %.1f s of %.1f s", n.RestS, n.NeedS), "wait", false}
	case !n.Ready:
		return &NotReady{"resting", fmt.Sprintf("%d readings at rest of %d", t.readings(), t.needReadings()), "wait", false}
	}
	return nil
}

// grams writes a mass to the division's decimals.
func (t *Taker) grams(g float64) string {
	d := 0
	for x := t.set.DivisionG; d < 4 && math.Abs(x-math.Round(x)) > 1e-9*x; x *= 10 {
		d++
	}
	return fmt.Sprintf("%.*f", d, g)
}

func (t *Taker) candidate() Candidate {
	n := t.Now()
	return Candidate{AtS: n.AtS, GrossG: t.in.Value, Stable: n.Stable, SpreadG: n.SpreadG, SlopeGPerMin: n.SlopeGPerMin, RestS: n.RestS,
		StepG: rig.Absent("by-button"), Shaken: n.Motor}
}

// After is what became of the last weighing in the 5 s after it: the criterion of a stable indication
// for printing or storing in OIML R 76-1:2006, 4.4.2 and A.4.12 (from memory).
type After struct {
	OfS      float64  // the weighing's instant
	WatchedS float64  // up to 5 s
	WorstG   float64  // farthest from what was taken
	Held     rig.Mark // yes: within 1 e and no more than two adjacent values; no: not; unsaid: not watched for 5 s
}

// After returns the evidence on the last weighing; the zero After before the first.
func (t *Taker) After() After { return t.after }

func (t *Taker) taken(c Candidate) {
	t.after, t.watching = After{OfS: c.AtS}, true
	t.of, t.lo, t.hi = c.GrossG, c.GrossG, c.GrossG
}

// watch follows the last weighing until 5 s are over, or the load changes.
func (t *Taker) watch(gap bool) {
	a := &t.after
	if t.disturbed || gap || t.motor {
		t.watching = false
	}
	if !t.watching {
		return
	}
	ageS := t.in.AtS - a.OfS
	if ageS <= longestWaitS {
		t.lo, t.hi = min(t.lo, t.in.Value), max(t.hi, t.in.Value)
		a.WatchedS, a.WorstG = ageS, max(t.hi-t.of, t.of-t.lo)
	}
	switch {
	case !still(t.hi-t.lo, t.set.VerificationG):
		a.Held, t.watching = rig.No, false
	case ageS >= longestWaitS*0.999:
		a.Held, a.WatchedS, t.watching = rig.Yes, longestWaitS, false
	}
}
