package live

import (
	"errors"
	"fmt"
	"strings"

	"quern/detect/mass"
	"quern/rig"
)

// WeighingNow is a weighing of the open session.
type WeighingNow struct {
	Session      string      `json:"session"`
	Fact         int         `json:"fact"` // corrections name it
	AtS          rig.Figure  `json:"at_s"`
	Role         rig.Role    `json:"role"`
	Item         string      `json:"item,omitempty"`
	Vessel       string      `json:"vessel,omitempty"`
	GrossG       rig.Figure  `json:"gross_g"`
	TareG        rig.Figure  `json:"tare_g"`
	TareFrom     string      `json:"tare_from"`
	NetG         rig.Figure  `json:"net_g"`
	TargetG      rig.Figure  `json:"target_g,omitzero"` // of the charge, as the recipe has it
	ToleranceG   rig.Figure  `json:"tolerance_g,omitzero"`
	Stable       string      `json:"stable,omitempty"` // the scale's own word: yes, no
	SpreadG      rig.Figure  `json:"spread_g"`
	SlopeGPerMin rig.Figure  `json:"slope_g_per_min"`
	DrainedS     rig.Figure  `json:"drained_s,omitzero"`
	Timing       mass.Timing `json:"timing,omitempty"` // of leftovers
	Auto         bool        `json:"auto,omitempty"`
	Shaken       bool        `json:"shaken,omitempty"`
	Who          string      `json:"who,omitempty"`
	Note         string      `json:"note,omitempty"`
	Withdrawn    bool        `json:"withdrawn,omitempty"`
	CorrectedG   rig.Figure  `json:"corrected_g,omitzero"` // net, as it was corrected to
	of           int         // run that it is of, from 1
	as           Expect      // what was asked for
	expected     bool        // it was what was expected
}

// counts is the net mass after corrections; absent if it was withdrawn.
func (w WeighingNow) counts() rig.Figure {
	switch {
	case w.Withdrawn:
		return rig.Absent("withdrawn")
	case w.CorrectedG.OK:
		return w.CorrectedG
	}
	return w.NetG
}

// booking is what goes with a weighing beside what the scale shows.
type booking struct {
	note  string
	force bool
}

// weigh takes what the pan shows now, at the operator's button.
func (e *Engine) weigh(a Ask) (WeighingNow, error) {
	if !e.hasScale {
		return WeighingNow{}, errors.New("this bench has no scale: describe one in bench.toml, [scale.device], or type masses in afterwards with quern weigh")
	}
	x, err := e.wanted(a.Expect)
	if err != nil {
		return WeighingNow{}, err
	}
	e.drain() // what the pan shows now may still be on its way
	if last, again := e.pressedTwice(a, x); again {
		return last, nil
	}
	if err := e.check(x, a.Force); err != nil {
		return WeighingNow{}, err
	}
	if err := e.leftBehind(x, a.Force); err != nil {
		return WeighingNow{}, err
	}
	if n := e.pan.taker.Now(); n.MassG.OK && !a.Force {
		if err := e.doubtful(x, n.MassG.V); err != nil {
			return WeighingNow{}, err
		}
	}
	c, err := e.pan.taker.Take(e.sup.NowS(), a.Force)
	if err != nil {
		return WeighingNow{}, e.refused(err)
	}
	e.pan.due, e.pan.skip = false, c.Forced
	e.pan.placed() // it is taken now, and no longer new
	return e.book(c, x, booking{note: a.Text, force: a.Force})
}

// wanted completes what was asked for by what is expected: a button alone names no role.
func (e *Engine) wanted(x Expect) (Expect, error) {
	if x.Role != "" {
		return x, nil
	}
	if x.Item != "" {
		return x, fmt.Errorf("found item %q without a role, expected role charge beside it", x.Item)
	}
	p := &e.pan
	if p.expect == nil {
		return x, fmt.Errorf("found no role, expected one of %s: or say first what is weighed next (expect)", words(rig.Roles))
	}
	if p.takenG.OK {
		last := p.booked[len(p.booked)-1]
		return x, fmt.Errorf("what is on the pan was taken as weighing %d, %s, %s g net: put %s on, or name the role", last.Fact, last.as.words(), grams(last.NetG.V), p.expect.spoken())
	}
	if wet(p.expect.Role) && !e.runEnded() {
		return x, fmt.Errorf("%s is expected, but no run has ended: name the role, or wait for the run's end", p.expect.words())
	}
	out := *p.expect
	if x.Vessel != "" || x.TareG.OK {
		out.Vessel, out.TareG = x.Vessel, x.TareG
	}
	if x.Who != "" {
		out.Who = x.Who
	}
	return out, nil
}

// twiceS is how soon the same press again is the same press, s: a wet finger, or another screen.
const twiceS = 5.0

// pressedTwice returns the weighing that is asked for a second time: just now, the same thing in the same vessel, and
// nothing was moved since. Twice on record it would outlast one undo. Later it is another reading, of what has drained on.
func (e *Engine) pressedTwice(a Ask, x Expect) (WeighingNow, bool) {
	p := &e.pan
	if a.Force || !p.takenG.OK || e.sup.NowS()-p.takenS > twiceS {
		return WeighingNow{}, false
	}
	last := p.booked[len(p.booked)-1]
	return last, last.Role == x.Role && last.Item == x.Item && last.Vessel == x.Vessel && last.as.TareG == x.TareG && last.Note == a.Text
}

// doubtful says what speaks against taking what the pan shows as what it is said to be.
func (e *Engine) doubtful(x Expect, grossG float64) error {
	tare, _, _ := e.tare(x)
	netG := grossG - tare.V
	if netG < -e.pan.set.MinStepG {
		return fmt.Errorf("%s g on the pan less %s g of the vessel is %s g: is it on the pan, and is it that vessel?", grams(grossG), grams(tare.V), grams(netG))
	}
	if x.Role == rig.Charge && netG < e.pan.set.DivisionG/2 {
		return fmt.Errorf("%s g net is nothing to be fed: put %s on the pan", grams(netG), x.spoken())
	}
	if !e.pan.takenG.OK || grossG < e.pan.set.MinStepG {
		return nil // something else lies there, or nothing
	}
	// What was taken may be taken again, in another vessel or as the vessel alone, but is not another thing as well.
	last := e.pan.booked[len(e.pan.booked)-1]
	if last.Role == x.Role && last.Item == x.Item || last.Role == rig.Empty || x.Role == rig.Empty {
		return nil
	}
	return fmt.Errorf("the %s g on the pan were taken as weighing %d, %s, and nothing was moved since: put %s on, or take that weighing back first (undo)", grams(grossG), last.Fact, last.as.words(), x.spoken())
}

// leftBehind refuses leftovers when no session is open whose run they could be of.
func (e *Engine) leftBehind(x Expect, force bool) error {
	if e.rec != nil || !wet(x.Role) || force {
		return nil
	}
	last := "its session"
	if e.lastDir != "" {
		last = e.lastDir
	}
	return fmt.Errorf("no session is open, so that there is no run whose %s this could be: put it on record with quern weigh %s --role %s --gross MASS; force begins a session for it", x.Role, last, x.Role)
}

// refused puts into words why the taker takes nothing.
func (e *Engine) refused(err error) error {
	var no *mass.NotReady
	if errors.As(err, &no) && no.Code == "motor" && e.known.State == rig.Unknown && e.has(rig.Clamp) {
		return errors.New("whether the motor runs is not known, for the clamp is gone: see to its plug, or take it by force, marked as shaken")
	}
	if errors.As(err, &no) && !no.Never {
		return fmt.Errorf("%w (force takes it all the same, and says so)", err)
	}
	return err
}

// book puts a weighing on record: in the open session, or in one that it opens, so that nothing that was
// weighed in before the motor starts is lost.
func (e *Engine) book(c mass.Candidate, x Expect, b booking) (WeighingNow, error) {
	tare, from, err := e.tare(x)
	if err != nil {
		return WeighingNow{}, err
	}
	if err := e.nextRun(x, b.force); err != nil {
		return WeighingNow{}, err
	}
	if e.rec == nil {
		e.open(c.AtS, x.words()+" was weighed")
		if e.rec == nil {
			return WeighingNow{}, errors.New("no session could be opened: see the daemon's fault in quern status")
		}
	}
	w := c.Weighing()
	w.AtS = max(0, c.AtS-e.rec.fold.baseS)
	w.Role, w.Item, w.Vessel, w.Who, w.TareG = x.Role, x.Item, x.Vessel, x.Who, tare
	w.NetG = rig.Fig(c.GrossG - tare.V)
	w.Note = b.note
	if c.Forced {
		w.Note = strings.TrimSpace(b.note + " (taken although " + c.Why + ")")
	}
	shown := WeighingNow{TareFrom: from, of: e.runAtHand(), as: x}
	if wet(x.Role) {
		d := e.drained(c.AtS, x.Role)
		w.DrainedS, shown.Timing = d.DrainedS, d.Timing
	}
	if w.Fact, err = e.rec.w.AppendWeighing(w); err != nil {
		return WeighingNow{}, err
	}
	if err := e.kept(); err != nil {
		return WeighingNow{}, err
	}
	if e.pan.drain != nil && wet(x.Role) {
		e.pan.drain.Read(c, x.Role)
	}
	shown.TargetG, shown.ToleranceG = e.target(x)
	shown.fill(w)
	shown.Session = e.rec.name
	return e.booked(shown), nil
}

// fill copies what is on record.
func (w *WeighingNow) fill(x rig.Weighing) {
	w.Fact, w.AtS, w.Role, w.Item, w.Vessel = x.Fact, rig.Fig(x.AtS), x.Role, x.Item, x.Vessel
	w.GrossG, w.TareG, w.NetG, w.SpreadG, w.SlopeGPerMin, w.DrainedS = x.GrossG, x.TareG, x.NetG, x.SpreadG, x.SlopeGPerMin, x.DrainedS
	w.Auto, w.Shaken, w.Who, w.Note = x.Auto, x.Shaken, x.Who, x.Note
	w.Stable = map[rig.Mark]string{rig.Yes: "yes", rig.No: "no"}[x.Stable]
}

// booked notes a weighing that is on record, and moves on to what is weighed next.
func (e *Engine) booked(w WeighingNow) WeighingNow {
	p := &e.pan
	w.expected = p.expect != nil && p.expect.Role == w.Role && p.expect.Item == w.Item
	p.booked = append(p.booked[:len(p.booked):len(p.booked)], w) // snapshots hold the old ones
	p.takenG, p.takenS = w.GrossG, e.sup.NowS()
	if w.Role != rig.Empty {
		p.used[w.Role] = w.as
	}
	if w.expected {
		p.await(e.following(w.as))
	}
	e.opts.Log.Info("weighed", "session", w.Session, "fact", w.Fact, "what", w.as.words(), "net_g", round3(w.NetG.V), "by_itself", w.Auto)
	return w
}

// kept makes a fact last, and the session stay open for want of a run.
func (e *Engine) kept() error {
	e.rec.asked = true
	if err := e.sync(e.sup.NowS()); err != nil {
		e.broken(err)
		return err
	}
	return nil
}

// nextRun begins the session of the next run if what is weighed in is its charge: the run at hand has
// been, had its own charge, and all of its leftovers were weighed.
func (e *Engine) nextRun(x Expect, force bool) error {
	if e.rec == nil || x.Role != rig.Charge || e.known.Runs == 0 || e.pan.motor || !e.charged() {
		return nil
	}
	again := x.Item == "" || e.weighed(rig.Charge, x.Item) || e.weighed(rig.Charge, "")
	out := e.outstanding()
	if force || !again && len(out) == len(e.setup.Procedure.Weighs()) {
		return nil // an ingredient that was still missing after a short try of the motor
	}
	if len(out) > 0 {
		return fmt.Errorf("the run has been, and %s of it is not weighed: weigh that, or end the session, before the next charge; force books it to this run", words(out))
	}
	expected := e.pan.expect
	if err := e.close("the charge of the next run is weighed in"); err != nil {
		return fmt.Errorf("the session before could not be closed well: %w", err)
	}
	e.pan.await(expected)
	return nil
}
