package live

import (
	"fmt"

	"quern/config"
	"quern/detect"
	"quern/detect/mass"
	"quern/rig"
)

// pan is what the engine knows of the scale. Its instants are in seconds since the epoch, whether a
// session is open or not, so that a load may be placed before one and taken in it.
type pan struct {
	set   mass.Settings
	auto  bool
	taker *mass.Taker

	motor   bool // it runs, or may: so far as the readings are concerned
	flowing bool // current flows, or the motor is heard
	drain   *mass.Drain
	due     bool    // leftovers lie on the pan that are to be read once they have drained
	placedS float64 // when the load was placed that was looked at last
	skip    bool    // the load was taken by force before it came to rest: it is not taken again by itself

	expect  *Expect
	used    map[rig.Role]Expect // in what each role was weighed last
	capture *CaptureNow         // what came to rest last, booked or not
	booked  []WeighingNow       // of the open session; never changed in place, for snapshots share it
	takenG  rig.Figure          // indication that was booked last, while it stands on the pan
	takenS  float64             // when it was
}

// takerSettings says how the bench's scale is read.
func takerSettings(b *config.Bench) mass.Settings {
	s, t := &b.Scale, &b.Scale.Take
	set := mass.Settings{DivisionG: s.DivisionG, VerificationG: s.VerificationG, RestS: t.RestS, Readings: t.Readings,
		MinStepG: max(t.LeastG, 5*s.DivisionG), DripGPerMin: t.DripGPerMin, SlopeLimitGPerMin: t.SlopeLimitGPerMin, GapS: readingStandsS}
	if s.Device.Kind == "serial" && s.Device.Mode == "request" {
		set.GapS = max(set.GapS, 2.5*s.Device.IntervalS) // two answers may be lost
	}
	return set
}

// readingStandsS is how long a reading of a scale that sends by itself stands, s; as long as it may be
// silent by default.
const readingStandsS = 2.0

func newPan(set config.Setup) pan {
	s := takerSettings(&set.Bench)
	return pan{set: s, auto: set.Bench.Scale.Take.Auto, taker: mass.NewTaker(s), used: map[rig.Role]Expect{}}
}

// choose follows a choice of another unit or procedure.
func (p *pan) choose(set config.Setup) {
	if s := takerSettings(&set.Bench); s != p.set {
		p.set, p.taker = s, mass.NewTaker(s)
	}
	p.auto = set.Bench.Scale.Take.Auto
	p.await(nil)
}

// forget drops what belonged to the session that has closed.
func (p *pan) forget() {
	p.drain, p.due, p.skip, p.booked, p.takenG = nil, false, false, nil, rig.Figure{}
	p.await(nil)
}

// await sets what is weighed next.
func (p *pan) await(x *Expect) {
	p.expect, p.due = x, false
}

// wet says whether what is weighed under a role drains.
func wet(r rig.Role) bool {
	return r == rig.Chamber || r == rig.Coarse || r == rig.Fine || r == rig.Passed
}

// weighIn gives the scale's readings to the taker, and books what comes to rest if it is what is expected.
func (e *Engine) weighIn(b rig.Block) {
	for _, r := range b.Readings {
		x := e.pan.expect
		e.pan.taker.Wet(x != nil && wet(x.Role) && r.Value >= e.pan.set.MinStepG) // an empty pan does not drip
		c, taken := e.pan.taker.Push(r, e.pan.motor)
		if e.pan.drain != nil {
			e.pan.drain.Watch(e.pan.taker.Now())
		}
		if g := e.pan.takenG; g.OK && !near(r.Value, g.V, 2*e.pan.set.DivisionG) {
			e.pan.takenG = rig.Figure{}
		}
		if taken && e.pan.auto {
			e.captured(c)
		}
	}
}

func near(a, b, within float64) bool { return a-b <= within && b-a <= within }

// captured books what came to rest by itself, or shows why not.
func (e *Engine) captured(c mass.Candidate) {
	p := &e.pan
	placed := p.placed() || p.due
	skip := p.skip && c.GrossG >= p.set.MinStepG
	p.due, p.skip = false, false
	p.capture = &CaptureNow{AtS: rig.Fig(c.AtS), GrossG: rig.Fig(c.GrossG), StepG: c.StepG}
	x := p.expect
	if x == nil {
		return
	}
	if skip {
		p.capture.Why = "it was taken by force just before: press the button if this is another load"
		return
	}
	if p.capture.Why = e.unfit(c.GrossG, *x, placed); p.capture.Why != "" {
		return
	}
	if d := e.drained(c.AtS, x.Role); wet(x.Role) && d.Timing == mass.Early {
		p.due = true
		p.capture.Why = fmt.Sprintf("it drains: it is read in %.0f s", e.setup.Procedure.After.DrainS-d.DrainedS.V)
		return
	}
	e.bookCapture(c)
}

// placed says whether a load was placed since this was asked last. The change of the indication would not
// do: a bowl is lighter than the one before it, and comes after an empty pan all the same.
func (p *pan) placed() bool {
	at := p.taker.Now().PlacedS
	if !at.OK || at.V <= p.placedS {
		return false
	}
	p.placedS = at.V
	return true
}

// bookCapture books a weighing that nobody asked for by a button.
func (e *Engine) bookCapture(c mass.Candidate) {
	w, err := e.book(c, *e.pan.expect, booking{})
	if err != nil {
		e.pan.capture.Why = err.Error()
		e.opts.Log.Warn("a weighing was not booked by itself", "err", err)
		return
	}
	e.pan.capture.Fact = w.Fact
}

// unfit says why what came to rest is not what is expected; "": it is. placed: a load was placed.
func (e *Engine) unfit(grossG float64, x Expect, placed bool) string {
	tare, _, err := e.tare(x)
	netG := grossG - tare.V
	target, tolerance := e.target(x)
	stated := target.OK && tolerance.OK
	switch {
	case err != nil:
		return err.Error()
	case grossG < e.pan.set.MinStepG:
		return "the pan is empty"
	case !stated && !placed:
		return "the load became less"
	case x.Role == rig.Empty:
		return ""
	case wet(x.Role) && (e.rec == nil || !e.runEnded()):
		return "no run has ended yet"
	case netG < -e.pan.set.MinStepG:
		return fmt.Sprintf("%s g less the %s g of the vessel is less than nothing: it is not that vessel", grams(grossG), grams(tare.V))
	case wet(x.Role):
		return ""
	case netG < e.pan.set.MinStepG:
		return fmt.Sprintf("%s g net is no charge yet", grams(netG))
	case stated && !near(netG, target.V, max(tolerance.V, e.pan.set.DivisionG/2)+1e-9):
		return fmt.Sprintf("%s g net, %s ±%s g wanted: put it right, or take it with the button", grams(netG), grams(target.V), grams(tolerance.V))
	}
	return ""
}

// readDrained reads leftovers that have drained for as long as they should and still lie there at rest.
func (e *Engine) readDrained(nowS float64) {
	p := &e.pan
	if !p.due || p.expect == nil {
		return
	}
	n := p.taker.Now()
	if d := e.drained(n.AtS, p.expect.Role); !d.DrainedS.OK || d.DrainedS.V < e.setup.Procedure.After.DrainS || !n.Ready || e.unfit(n.MassG.V, *p.expect, true) != "" {
		return
	}
	c, err := p.taker.Take(nowS, false)
	if err != nil {
		return // it is tried again at the next look
	}
	p.due, c.Auto = false, true
	p.capture = &CaptureNow{AtS: rig.Fig(c.AtS), GrossG: rig.Fig(c.GrossG), StepG: c.StepG}
	e.bookCapture(c)
}

// drained says how long leftovers have drained at an instant, and how a reading of some of them would lie then.
func (e *Engine) drained(atS float64, of rig.Role) mass.Drained {
	if e.pan.drain == nil {
		return mass.NewDrain(0, 0, 0).At(atS, of)
	}
	return e.pan.drain.At(atS, of)
}

func (e *Engine) newDrain(armedS float64) *mass.Drain {
	a := &e.setup.Procedure.After
	return mass.NewDrain(armedS, a.DrainS, a.DrainToleranceS)
}

// followMotor notes whether the motor runs, and arms the drain timer when it has stopped.
func (e *Engine) followMotor(known detect.Now) {
	if known.State == "" {
		return
	}
	e.pan.motor = known.Running || known.State == rig.Unknown && e.decides
	switch {
	case known.Running:
		e.pan.drain, e.pan.due = nil, false
	case e.pan.flowing && e.rec != nil:
		e.pan.drain = e.newDrain(e.rec.fold.baseS + known.StopS)
	}
	e.pan.flowing = known.Running
}

// runEnded says whether there are leftovers: a run, and the motor off. Where nothing tells, the operator
// knows.
func (e *Engine) runEnded() bool {
	return !e.decides || e.known.Runs > 0 && !e.pan.motor
}

// grams writes a mass as a scale shows it.
func grams(g float64) string { return fmt.Sprintf("%g", round3(g)) }
