package sim

import (
	"math"
	"math/cmplx"
)

// flow is the current of a motor at an instant, against the voltage's phase θ (its cosine):
// √2·(re·cos θ − im·sin θ) + a third harmonic + a dying d.c. part + the pulses of a rectifier.
type flow struct {
	re, im float64 // A RMS
	third  float64 // A RMS
	dc     float64 // A
	pulse  float64 // A RMS of the pulses
	width  float64 // half of the angle in which a pulse flows, rad
}

// machine is a motor as a circuit: the rotor's mechanics are the shaft's.
type machine interface {
	// start closes the switch at the phase theta under the voltage v (share of rated).
	start(theta, v float64)
	// step advances by stepS at the voltage v and the speed n and returns the torque on the rotor.
	step(v, n, warm float64) float64
	// drag is the torque of bearings, air and water.
	drag(n float64) float64
	// peak is the largest torque at rated voltage.
	peak() float64
	flow() flow
	// noLoad is the speed when nothing but the drag loads it.
	noLoad() float64
}

func newMachine(u *Unit) machine {
	switch u.Motor {
	case magnetMotor:
		return newMagnet(u)
	case universalMotor:
		return newUniversal(u)
	default:
		return newInduction(u)
	}
}

// induction is a single-phase induction motor with a start winding that a centrifugal switch cuts out.
// The rotor branch (r1 + r2/s + jx, x = 1) carries the load current; the no-load current stands a
// quarter turn behind the voltage's axis, and the load current at right angles to it, as far as the
// slip is small. (Turn makes the right angle exact; a real motor misses it by a few degrees.)
type induction struct {
	u          *Unit
	r1, r2, k  float64 // k: A per unit of admittance
	kt         float64 // rated torques per unit of |I|² r2/s
	idle       complex128
	turn       complex128 // stands the first load at right angles to the no-load current
	startBoost complex128 // current of the start winding against the rotor's at standstill
	closed     bool       // centrifugal switch
	i          complex128
	dc         float64
	heat       float64 // K above cold
	emptySlip  float64
	most       float64
	v          float64
	warm       float64
}

// Copper gains 0.39 % of its resistance a kelvin (handbooks).
const copperPerK = 0.0039

// The switch of the start winding opens at about 72 % of the speed and closes again below half of it
// (common practice: 70 to 75 %).
const (
	cutOut = 0.72
	cutIn  = 0.50
)

func newInduction(u *Unit) *induction {
	m := &induction{u: u, r1: 0.8, startBoost: cmplx.Rect(0.3, 0.6), warm: 1}
	active := u.RatedCurrentA * math.Sqrt(1-u.NoLoadShare*u.NoLoadShare)
	magnetising := complex(0, -u.NoLoadShare*u.RatedCurrentA)
	for range 12 { // until the whole current at rated slip is the rated one
		m.fit(active, magnetising)
		empty := m.rotor(m.emptySlip)
		step := m.rotor(1.01*m.emptySlip) - empty
		m.turn = complex(cmplx.Abs(step), 0) / step
		m.idle = magnetising - empty*m.turn
		active += u.RatedCurrentA - cmplx.Abs(m.rotor(u.RatedSlip)*m.turn+m.idle)
	}
	for s := 0.02; s <= 1; s += 0.01 {
		m.most = math.Max(m.most, m.run(s)+m.begin(1-s))
	}
	return m
}

// fit finds r2, k, kt and the no-load slip for a rotor current at rated slip; the locked-rotor current
// rises with r2 when that one is held.
func (m *induction) fit(active float64, magnetising complex128) {
	u := m.u
	lo, hi := 0.005, 3.0
	for range 60 {
		m.r2 = (lo + hi) / 2
		m.k = active * cmplx.Abs(complex(m.r1+m.r2/u.RatedSlip, 1))
		locked := magnetising + complex(m.k, 0)/complex(m.r1+m.r2, 1)*(1+m.startBoost)
		if cmplx.Abs(locked) < u.LockedA {
			lo = m.r2
		} else {
			hi = m.r2
		}
	}
	m.kt = 1
	m.kt = (1 + m.drag(1-u.RatedSlip)) / m.run(u.RatedSlip)
	lo, hi = 1e-5, u.RatedSlip
	for range 60 {
		m.emptySlip = (lo + hi) / 2
		if m.run(m.emptySlip) < m.drag(1-m.emptySlip) {
			lo = m.emptySlip
		} else {
			hi = m.emptySlip
		}
	}
}

// rotor is the current of the rotor branch at rated voltage.
func (m *induction) rotor(slip float64) complex128 {
	h := 1 + copperPerK*m.heat
	return complex(m.k, 0) / complex(h*(m.r1+m.r2/slip), 1)
}

// run is the torque of the run winding: of the forward field less that of the backward one, which the
// turning rotor suppresses, so that it is nil at standstill.
func (m *induction) run(slip float64) float64 {
	part := func(s float64) float64 {
		a := cmplx.Abs(m.rotor(s))
		return a * a * m.r2 / s
	}
	return m.kt * (part(slip) - slip*slip*part(2-slip))
}

// begin is the torque of the start winding.
func (m *induction) begin(n float64) float64 {
	if n > cutOut {
		return 0
	}
	return m.u.StartTorque * (1 - 0.4*n)
}

func (m *induction) drag(n float64) float64 { return 0.2 * (0.4 + 0.6*n*n) }
func (m *induction) peak() float64          { return m.most }
func (m *induction) noLoad() float64        { return 1 - m.emptySlip }

// current is where the current settles.
func (m *induction) current(v, n float64) complex128 {
	slip := math.Max(1-n, 1e-4)
	i := m.rotor(slip) * m.turn * complex(v, 0)
	if m.closed {
		i += m.rotor(1) * m.startBoost * complex(v, 0)
	}
	// Iron near saturation: 1 % of voltage moves the no-load current by some 2 %.
	return i + m.idle*complex(math.Pow(v, 2.1)*m.warm, 0)
}

func (m *induction) start(theta, v float64) {
	m.closed = true
	m.i = m.current(v, 0)
	// A coil's current starts from zero: what the steady current would be at the instant dies as d.c.
	m.dc = -math.Sqrt2 * real(m.i*cmplx.Rect(1, theta))
}

func (m *induction) step(v, n, warm float64) float64 {
	m.v, m.warm = v, warm
	switch {
	case m.closed && n > cutOut:
		m.closed = false
	case !m.closed && n < cutIn:
		m.closed = true
	}
	const fluxS, dcS = 0.006, 0.015 // time constants of rotor flux and of the d.c. part (common practice: under a cycle)
	m.i += (m.current(v, n) - m.i) * complex(stepS/fluxS, 0)
	m.dc *= 1 - stepS/dcS
	a := cmplx.Abs(m.i) / m.u.LockedA
	m.heat += stepS * (m.u.HeatKPerS*a*a - m.heat/90)
	t := m.run(math.Max(1-n, 1e-4)) * v * v
	if m.closed {
		t += m.begin(n) * v * v
	}
	return t
}

func (m *induction) flow() flow {
	// Saturation puts a few per cent of third harmonic into the magnetising current.
	return flow{re: real(m.i), im: imag(m.i), dc: m.dc, third: 0.05 * m.u.NoLoadShare * m.u.RatedCurrentA * math.Pow(m.v, 6)}
}

// universal is a series motor: its current makes field and torque, and falls with speed.
type universal struct {
	u       *Unit
	r, x, k float64 // V/I in units of rated voltage over rated current; k a speed
	i       complex128
	dc      float64
	heat    float64
	warm    float64
}

func newUniversal(u *Unit) *universal {
	z := u.RatedCurrentA / u.LockedA
	m := &universal{u: u, r: 0.8 * z, x: 0.6 * z, warm: 1}
	q := 1 / u.NoLoadShare
	m.k = math.Sqrt(q*q-m.x*m.x) - m.r
	return m
}

// torque saturates with the field: square at small currents, nearly straight at large ones.
func (m *universal) torque(share float64) float64 {
	return share * share / (1 + 0.5*math.Max(0, share-1))
}

// drag is a fan's, so that the empty motor draws its no-load current at full speed.
func (m *universal) drag(n float64) float64 {
	return m.u.NoLoadShare * m.u.NoLoadShare * (0.1 + 0.9*n*n)
}

func (m *universal) peak() float64   { return m.torque(m.u.LockedA / m.u.RatedCurrentA) }
func (m *universal) noLoad() float64 { return 1 }

func (m *universal) current(v, n float64) complex128 {
	h := 1 + copperPerK*m.heat
	return complex(v*m.u.RatedCurrentA, 0) / complex(m.r*h+m.k*n*(2-m.warm), m.x)
}

func (m *universal) start(theta, v float64) {
	m.i = m.current(v, 0)
	m.dc = -math.Sqrt2 * real(m.i*cmplx.Rect(1, theta))
}

func (m *universal) step(v, n, warm float64) float64 {
	m.warm = warm
	m.i += (m.current(v, n) - m.i) * complex(stepS/0.004, 0)
	m.dc *= 1 - stepS/0.005
	a := cmplx.Abs(m.i)
	m.heat += stepS * (m.u.HeatKPerS*math.Pow(a/m.u.LockedA, 2) - m.heat/90)
	return m.torque(a / m.u.RatedCurrentA)
}

func (m *universal) flow() flow {
	return flow{re: real(m.i), im: imag(m.i), dc: m.dc, third: 0.06 * cmplx.Abs(m.i)}
}

// magnet is a permanent-magnet motor behind a rectifier and electronics that limit its current. The
// unit of its inner current is the rated one.
type magnet struct {
	u     *Unit
	e, r  float64 // back e.m.f. a speed, resistance, as shares of the d.c. voltage
	d     float64 // torque, and so current, of the empty machine
	own   float64 // the electronics' own share of the rated input
	ageS  float64
	tryS  float64 // since the rotor locked
	input float64 // A RMS, smoothed by the capacitors
	surge float64 // charge of the capacitors, A
}

// largest is the electronics' limit, in rated motor currents.
const largest = 2.6

func newMagnet(u *Unit) *magnet {
	m := &magnet{u: u, d: 0.8 * u.NoLoadShare}
	m.own = (u.NoLoadShare - m.d) / (1 - m.d)
	// With the rotor held all the input is heat: own + (1-own)·largest²·r = LimitShare.
	m.r = (u.LimitShare - m.own) / (1 - m.own) / (largest * largest)
	m.e = 1 - m.r*m.d
	return m
}

func (m *magnet) drag(n float64) float64 { return m.d * (0.3 + 0.7*n*n) }
func (m *magnet) peak() float64          { return largest }
func (m *magnet) noLoad() float64        { return 1 }

func (m *magnet) start(theta, v float64) {
	// Empty capacitors behind a thermistor fill in one pulse.
	m.ageS, m.tryS, m.input = 0, 0, 0
	m.surge = 4 * m.u.RatedCurrentA * math.Max(math.Abs(math.Cos(theta)), 0.4) * v
	if math.Cos(theta) < 0 {
		m.surge = -m.surge
	}
}

func (m *magnet) step(v, n, warm float64) float64 {
	m.ageS += stepS
	limit := largest * math.Min(1, 0.3+m.ageS/0.15)
	if n < 0.02 && m.ageS > 0.3 {
		m.tryS += stepS
	} else {
		m.tryS = 0
	}
	if m.u.Pulsing && m.tryS > 0.4 && math.Mod(m.tryS-0.4, 0.5) < 0.2 {
		limit = 0
	}
	i := math.Min(math.Max((v-m.e*n)/m.r, 0), limit)
	want := m.u.RatedCurrentA * (m.own + (1-m.own)*i*(m.e*n+m.r*i)) * (1 + (warm-1)*math.Max(0, 1-i)) / v
	m.input += (want - m.input) * stepS / 0.012
	m.surge *= 1 - stepS/0.003
	return i
}

func (m *magnet) flow() flow {
	// The more it draws, the longer the rectifier conducts: crest factor 2.7 empty, 2.1 loaded.
	w := 0.42 + 0.28*math.Min(1, m.input/m.u.RatedCurrentA)
	return flow{dc: m.surge, pulse: m.input, width: w}
}

// pulseRMS returns the RMS of the pulse shape of half-width w, peak 1.
func pulseRMS(w float64) float64 {
	// ∫(cos t − cos w)² over ±w, twice a turn, by closed form.
	s, c := math.Sincos(w)
	sq := w + s*c - 4*c*s + 2*w*c*c
	return math.Sqrt(math.Max(sq, 1e-12)/math.Pi) / (1 - c)
}

// at returns the instantaneous current at the phase theta of the voltage, in amperes.
func (f *flow) at(theta float64) float64 {
	s, c := math.Sincos(theta)
	x := math.Sqrt2*(f.re*c-f.im*s) + f.dc
	if f.third != 0 {
		x += math.Sqrt2 * f.third * (4*c*c*c - 3*c) // cos 3θ
	}
	if f.pulse > 0 {
		foot := math.Cos(f.width)
		if a := math.Abs(c); a > foot {
			x += math.Copysign(f.pulse/pulseRMS(f.width)*(a-foot)/(1-foot), c)
		}
	}
	return x
}
