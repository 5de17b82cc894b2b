package sim

import "math"

// mouth is the voice of the whole bench at the microphone: pressures in pascals, sample by sample.
type mouth struct {
	sc    *Scenario
	tale  *tale
	rate  float64
	white hiss

	room              pink
	tapA, tapB        biquad
	air               biquad
	crunch            biquad
	roomG, tapG, airG float64 // white noise of variance 1 to 1 Pa A-weighted
	crunchG, floorG   float64
	hum, rotor        []float64 // one cycle, one turn; 1 Pa A-weighted at full speed
	ring              biquad    // the chamber's own note
	ringG             float64

	k       int // step of the gains below
	now     gains
	next    gains
	tap     float64 // pressure of the water now, and where it tends, Pa
	tapWant float64
	burst   float64 // what is left of the impacts' pressure
	fade    float64
	hit     int // next impact
	mishaps *mishaps
}

// gains are the pressures (Pa RMS, A-weighted) of the sounds that follow the machine.
type gains struct{ air, rotor, hum, crunch, turns, rev float64 }

const tableN = 4096 // of a turn; a power of two

func newMouth(sc *Scenario, t *tale) *mouth {
	r := newRand(sc.Seed, partSound)
	fs := sc.Sound.RateHz
	m := &mouth{sc: sc, tale: t, rate: fs, white: hiss(r.Uint64()), k: -1, fade: 1}
	m.room = newPink(fs)
	m.tapA, m.tapB = highPass(1300, 0.7, fs), bandPass(4000, 0.4, fs)
	m.air = bandPass(700+300*r.Float64(), 0.45, fs)
	m.crunch = bandPass(1800+900*r.Float64(), 0.5, fs)
	m.roomG = 1 / weightedRMS(m.room.power, fs)
	m.tapG = 1 / weightedRMS(func(f, fs float64) float64 { return m.tapA.power(f, fs) * m.tapB.power(f, fs) }, fs)
	m.airG = 1 / weightedRMS(m.air.power, fs)
	m.crunchG = 1 / weightedRMS(m.crunch.power, fs)
	m.floorG = pascals(sc.Sound.FloorDBA) / weightedRMS(func(_, _ float64) float64 { return 1 }, fs)
	note := 500 + 700*r.Float64()
	m.ring = bandPass(note, 12, fs)
	m.ringG = 0.5 / weightedRMS(m.ring.power, fs)

	u := &sc.Unit
	mainsHz := sc.Supply.FrequencyHz
	// Magnetic forces pull twice a cycle; saturation adds multiples.
	m.hum = wave([]tone{{2, 1}, {4, 0.35}, {6, 0.12}}, mainsHz, r.Float64)
	speed := u.SpeedHz
	if u.Motor == inductionMotor {
		speed = mainsHz / 2
	}
	l, s := max(u.Lugs, 1), max(u.Slots, 3)
	m.rotor = wave([]tone{{1, 1}, {2, 0.7}, {2 * l, 0.5}, {4 * l, 0.4}, {6 * l, 0.3}, {s, 0.2}, {s + 2, 0.12}, {2 * s, 0.06}}, speed, r.Float64)
	m.mishaps = newMishaps(sc, r, fs)
	return m
}

type tone struct {
	order int
	amp   float64
}

// wave is a sum of tones over one turn of f Hz, scaled to 1 Pa A-weighted RMS. A tone that the
// microphone's rate could not carry at full speed does not come into being at the orders used here.
func wave(tones []tone, f float64, rnd func() float64) []float64 {
	x := make([]float64, tableN+1)
	sum := 0.0
	for _, t := range tones {
		ph := 2 * math.Pi * rnd()
		for i := range x {
			x[i] += t.amp * math.Sin(2*math.Pi*float64(t.order)*float64(i)/tableN+ph)
		}
		a := t.amp * aWeight(f*float64(t.order))
		sum += a * a / 2
	}
	k := 1 / math.Sqrt(sum)
	for i := range x {
		x[i] *= k
	}
	return x
}

// look interpolates in one turn.
func look(x []float64, turns float64) float64 {
	p := (turns - math.Floor(turns)) * tableN
	i := int(p)
	return x[i] + (x[i+1]-x[i])*(p-float64(i))
}

// gainsAt returns the gains at a step.
func (m *mouth) gainsAt(k int) gains {
	k = min(k, len(m.tale.points)-1)
	p := &m.tale.points[k]
	u := &m.sc.Unit
	g := gains{turns: p.turns, rev: p.rotor}
	n := float64(p.speed)
	if n > 0.01 {
		// The noise of a fan and a turbulent chamber rises by some 50 dB a decade of speed (common
		// practice); three quarters of the power is broadband, the rest tones.
		all := pascals(u.NoLoadDBA+float64(p.warm)) * n * n * math.Sqrt(n)
		g.air, g.rotor = 0.87*all, 0.49*all
		if t := float64(p.load); t > 0 {
			g.crunch = pascals(u.GrindDBA) * math.Sqrt(math.Min(t, 1.6)) * math.Min(n, 1)
		}
	}
	if p.flags&flagOn != 0 && u.Motor != magnetMotor {
		a := math.Hypot(float64(p.re), float64(p.im)) / u.LockedA
		g.hum = pascals(u.StallDBA) * a * (0.3 + 0.7*a)
	} else if p.flags&flagOn != 0 && n < lockedShare {
		g.hum = pascals(u.StallDBA) * float64(p.pulse) / (u.LimitShare * u.RatedCurrentA)
	}
	return g
}

// fill writes the next samples, of which the first is number from.
func (m *mouth) fill(x []float64, from int) {
	perSample := 1 / (m.rate * stepS)
	room := pascals(m.sc.Sound.RoomDBA) * m.roomG
	tapRate := 1 - math.Exp(-1/(0.08*m.rate))
	for i := range x {
		pos := float64(from+i) * perSample
		k := int(pos)
		if k != m.k {
			m.advance(k)
		}
		m.tap += (m.tapWant - m.tap) * tapRate
		f := pos - float64(k)
		w1, w2 := m.white.pair()
		w3, w4 := m.white.pair()
		a, b := &m.now, &m.next
		y := room*m.room.step(w1) + m.floorG*w3
		if m.tap > 1e-9 {
			y += m.tap * m.tapG * m.tapB.step(m.tapA.step(w2))
		}
		if g := a.air + (b.air-a.air)*f; g > 0 {
			y += g*m.airG*m.air.step(w3) + (a.rotor+(b.rotor-a.rotor)*f)*look(m.rotor, a.rev+(b.rev-a.rev)*f)
		}
		if g := a.hum + (b.hum-a.hum)*f; g > 0 {
			y += g * look(m.hum, a.turns+(b.turns-a.turns)*f)
		}
		if m.burst *= m.fade; m.burst < 1e-12 {
			m.burst = 0
		}
		if g := a.crunch + (b.crunch-a.crunch)*f + m.burst; g > 1e-9 {
			y += g*m.crunchG*m.crunch.step(w4) + m.burst*m.ringG*m.ring.step(w4)
		}
		x[i] = y
	}
	m.mishaps.add(x, from)
}

// advance goes to step k: its gains, and the impacts up to it.
func (m *mouth) advance(k int) {
	if k == m.k+1 && m.k >= 0 {
		m.now = m.next
	} else {
		m.now = m.gainsAt(k)
	}
	m.next = m.gainsAt(k + 1)
	m.k = k
	m.tapWant = 0
	if m.tale.points[min(k, len(m.tale.points)-1)].flags&flagTap != 0 {
		m.tapWant = pascals(m.sc.TapDBA)
	}
	for m.hit < len(m.tale.impacts) && m.tale.impacts[m.hit].step <= k {
		h := m.tale.impacts[m.hit]
		m.hit++
		level := math.Sqrt(m.now.air*m.now.air + m.now.rotor*m.now.rotor + m.tap*m.tap + math.Pow(pascals(m.sc.Unit.GrindDBA), 2)/16)
		m.burst = math.Hypot(m.burst, level*math.Pow(10, h.over/20))
		m.fade = math.Exp(-1 / (h.decayS * m.rate))
	}
}
