package sim

import (
	"math"
)

// stepS is the step in which machine and material are simulated, s.
const stepS = 1.0 / 4000

// lockedShare of full speed: a slower rotor stands.
const lockedShare = 0.02

// point is the bench at the end of a step. Single precision is finer than any channel.
type point struct {
	turns  float64 // phase of the mains
	rotor  float64 // turns of the rotor
	re, im float32
	third  float32
	dc     float32
	pulse  float32
	width  float32
	speed  float32 // share of full speed
	load   float32 // torque of the material
	warm   float32 // change of the no-load sound, dB
	flags  uint8
}

const (
	flagOn     = 1 << iota // current flows
	flagLoaded             // something that can load the motor is in the chamber
	flagTap
	flagUp // run-up over in this stretch
)

// stretch is a time with current, in steps: [from, to).
type stretch struct {
	from, to int
	upAt     int  // end of the run-up; 0: never
	forced   bool // ended by protector or electronics
}

// tale is the whole session as it was.
type tale struct {
	points    []point
	stretches []stretch
	impacts   []impact
	bowl      []bowlMove
	seconds   float64
}

// bowlMove is a change of what stands on the scale.
type bowlMove struct {
	atS, grams float64
}

// player runs a scenario.
type player struct {
	sc      *Scenario
	mains   *mains
	machine machine
	chamber *chamber
	tale    tale

	acts                           []Act
	actedS                         float64    // when the last act was done
	since                          [6]float64 // since when each condition holds; -1: it does not
	at                             int
	t                              float64
	n, was                         float64 // speed, and a step before
	rotor                          float64
	sync                           float64 // turns a second at full speed
	v                              float64
	switched, on, opening, tap, up bool
	openedByMachine                bool
	upRef                          [400]float32 // speeds of the last tenth of a second
	onS                            float64
	warmth                         float64 // 0 to 1
	heatP                          float64 // of the protector
	stallS                         float64
	bowl                           float64 // on the scale; 0: no bowl
	lastI                          float64
}

func play(sc *Scenario) *tale {
	p := &player{sc: sc, mains: newMains(sc), machine: newMachine(&sc.Unit), chamber: newChamber(sc), acts: sc.Acts, heatP: sc.Unit.HotShare}
	for i := range p.since {
		p.since[i] = -1
	}
	p.sync = sc.Unit.SpeedHz
	if sc.Unit.Motor == inductionMotor {
		p.sync = p.mains.mean / 2 // four poles
	}
	limit := int(math.Round(sc.MaxS / stepS))
	p.tale.points = make([]point, 0, min(limit, int(70/stepS)))
	for p.at = 0; p.at < limit; p.at++ {
		p.t = float64(p.at) * stepS
		if p.t > sc.MaxS-sc.TailS && p.switched {
			p.acts = nil
			p.open()
		}
		p.operate()
		if len(p.acts) == 0 && !p.switched && !p.on && p.t-p.actedS > sc.TailS {
			break
		}
		p.step()
	}
	if p.on {
		p.cut()
	}
	p.tale.impacts = p.chamber.impacts
	p.tale.seconds = float64(len(p.tale.points)) * stepS
	return &p.tale
}

// operate does the acts whose time has come.
func (p *player) operate() {
	holds := [6]bool{Previous: true, Running: p.on && p.up && p.n > lockedShare, Clear: p.chamber.empty(), Locked: p.on && p.n < lockedShare && p.t-p.onS > 0.1,
		Stopped: !p.on, Heavily: p.chamber.wad > 0 && p.on}
	for i, h := range holds {
		if !h {
			p.since[i] = -1
		} else if p.since[i] < 0 {
			p.since[i] = p.t
		}
	}
	for len(p.acts) > 0 {
		a := p.acts[0]
		gone := p.inVain(a.After)
		if p.t < a.AtS || !gone && (p.since[a.After] < 0 || p.t-math.Max(p.since[a.After], p.actedS) < a.DelayS) {
			return
		}
		p.acts = p.acts[1:]
		p.actedS = p.t
		p.do(a)
	}
}

// inVain tells whether the operator gives up waiting because the machine has switched itself off: at
// once for a locked or labouring rotor, after some seconds for anything that needs a turning one.
func (p *player) inVain(w Wait) bool {
	if p.on || !p.openedByMachine || p.sc.Unit.Resets {
		return false
	}
	const patienceS = 5
	switch w {
	case Locked, Heavily:
		return true
	case Running, Clear:
		return p.t-p.since[Stopped] > patienceS
	}
	return false
}

func (p *player) do(a Act) {
	c := p.chamber
	switch a.Do {
	case SwitchOn:
		p.switched, p.opening, p.openedByMachine = true, false, false
		if p.heatP > 0.8 && p.sc.Unit.TripS > 0 {
			p.openedByMachine = true // the protector has not cooled: the switch alone does nothing
		}
	case SwitchOff:
		p.open()
	case TapOn:
		p.tap = true
	case TapOff:
		p.tap = false
	case Feed:
		c.feed(a.Portion)
		if p.bowl > 0 {
			p.weigh(p.bowl - a.SoftG - 40*float64(a.Pieces+a.Stubborn))
		}
	case Jam:
		ratio := a.Torque
		if ratio == 0 {
			ratio = 4
		}
		c.addJam(ratio*p.machine.peak(), a.HoldS)
	case Wad:
		c.wad, c.wadS, c.wadIn = a.Torque, a.HoldS, 0
	case Unjam:
		c.unjam(false)
	case Empty:
		c.unjam(false)
		c.soft, c.pieces, c.wad, c.wadIn, c.bites = 0, nil, 0, 0, nil
	case BowlOn:
		p.weigh(a.Grams)
	case BowlOff:
		p.weigh(0)
	}
}

func (p *player) weigh(g float64) {
	p.bowl = g
	p.tale.bowl = append(p.tale.bowl, bowlMove{p.t, g})
}

// open opens the operator's switch: current goes on to its next zero, in an arc.
func (p *player) open() {
	p.switched = false
	p.opening = p.on
}

func (p *player) step() {
	u := &p.sc.Unit
	theta := 2 * math.Pi * p.mains.step(p.at)
	// The socket's voltage sags under the current's active part (one step late).
	p.v = p.mains.v - p.sc.Supply.SourceOhm*p.lastI/p.sc.Supply.VoltageV
	if p.switched && !p.on && !p.openedByMachine {
		p.begin(theta)
	}
	warm := 1.0
	torque := 0.0
	if p.on {
		p.warmth += (1 - p.warmth) * stepS / math.Max(u.WarmUpS, 1)
		warm += u.WarmUp * p.warmth
		torque = p.machine.step(p.v, p.n, warm)
	}
	locked := p.on && p.n < lockedShare
	load := p.chamber.step(p.at, p.n, locked)
	against := p.machine.drag(p.n) + load
	p.was = p.n
	if p.n == 0 && torque < against {
		p.n = 0 // nothing moves
	} else {
		p.n = math.Max(0, p.n+(torque-against)*stepS/u.InertiaS)
	}
	p.rotor += p.n * p.sync * stepS
	f := flow{}
	if p.on {
		f = p.machine.flow()
		p.lastI = f.re + f.pulse
		p.runUp()
		p.protect(&f)
		p.end(&f, theta)
	} else {
		p.lastI = 0
		p.cool()
	}
	q := point{turns: theta / (2 * math.Pi), rotor: p.rotor, speed: float32(p.n), load: float32(load), warm: float32(u.WarmUpDB * p.warmth)}
	if p.on {
		q.re, q.im, q.third, q.dc, q.pulse, q.width = float32(f.re), float32(f.im), float32(f.third), float32(f.dc), float32(f.pulse), float32(f.width)
		q.flags |= flagOn
		if p.up {
			q.flags |= flagUp
		}
	}
	if !p.chamber.empty() {
		q.flags |= flagLoaded
	}
	if p.tap {
		q.flags |= flagTap
	}
	p.tale.points = append(p.tale.points, q)
}

// begin closes the circuit.
func (p *player) begin(theta float64) {
	p.on, p.up, p.onS, p.stallS = true, false, p.t, 0
	p.upRef = [400]float32{}
	p.machine.start(theta, p.v)
	p.tale.stretches = append(p.tale.stretches, stretch{from: p.at})
}

// runUp notes when the run-up is over: the rotor has nearly its no-load speed, or gains no more. One that a
// wedged piece stops on its way up never was.
func (p *player) runUp() {
	slot := &p.upRef[p.at%len(p.upRef)]
	before := float64(*slot)
	*slot = float32(p.n)
	if p.up || p.n < 0.25 {
		return
	}
	if p.n > 0.93*p.machine.noLoad() || p.t-p.onS > 0.15 && math.Abs(p.n-before) < 0.02 && math.Abs(p.n-p.was) < 0.0005 {
		p.up = true
		p.tale.stretches[len(p.tale.stretches)-1].upAt = p.at
	}
}

// protect warms the protector, and runs the electronics of a permanent-magnet motor.
func (p *player) protect(f *flow) {
	u := &p.sc.Unit
	if p.n < lockedShare && p.t-p.onS > 0.1 {
		p.stallS += stepS
	} else {
		p.stallS = 0
	}
	if u.Motor == magnetMotor {
		if u.ShutOffS > 0 && p.stallS > u.ShutOffS {
			p.force()
		}
		return
	}
	if u.TripS == 0 {
		return
	}
	// Bimetal: warmed by the square of the current. Its cooling while current flows is slow.
	a := (f.re*f.re + f.im*f.im) / (u.LockedA * u.LockedA)
	p.heatP += stepS * (a/u.TripS - p.heatP/120)
	if p.heatP >= 1 {
		p.force()
	}
}

// force opens the circuit from within the machine.
func (p *player) force() {
	if !p.openedByMachine {
		p.openedByMachine, p.opening = true, true
		p.tale.stretches[len(p.tale.stretches)-1].forced = true
	}
}

func (p *player) cool() {
	u := &p.sc.Unit
	p.heatP *= 1 - stepS/math.Max(u.CoolS, 1)
	if u.Resets && p.openedByMachine && p.heatP < 0.45 {
		p.openedByMachine = false
	}
}

// end ends the current at its next zero once a contact has opened.
func (p *player) end(f *flow, theta float64) {
	if !p.opening {
		return
	}
	now := f.at(theta)
	next := f.at(theta + 2*math.Pi*p.mains.mean*stepS)
	if now == 0 || now*next <= 0 {
		p.cut()
	}
}

func (p *player) cut() {
	p.on, p.opening = false, false
	p.tale.stretches[len(p.tale.stretches)-1].to = p.at
}
