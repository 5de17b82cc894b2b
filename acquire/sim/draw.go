package sim

import (
	"fmt"
	"math/rand/v2"

	"quern/config"
)

// Difficulty is how hard a drawn session is on whoever analyses it.
type Difficulty string

// The difficulties.
const (
	Usual     Difficulty = "usual"      // a careful bench: whatever happens is clear by its definition
	Hostile   Difficulty = "hostile"    // everything that goes wrong at a sink, often at once
	WeakClamp Difficulty = "weak-clamp" // usual, but the rated current is a hundredth of the clamp's full scale
)

// Difficulties lists them.
var Difficulties = []Difficulty{Usual, Hostile, WeakClamp}

// attempts at a session that leaves no room for opinion.
const attempts = 30

// Draw makes up a session. The same seed and difficulty give the same one. Usual and weak-clamp
// sessions are drawn again until their truth has no [Doubt] in it.
func Draw(seed uint64, d Difficulty) Scenario {
	var sc Scenario
	for try := range uint64(attempts) {
		r := rand.New(rand.NewPCG(seed*attempts+try, partScene<<8|uint64(len(d))))
		x := &drawer{r: r, hard: d == Hostile}
		sc = x.draw(d)
		sc.Name, sc.Seed = fmt.Sprintf("%s-%d", d, seed), seed*attempts+try
		if d == Hostile || sc.faulty() != nil {
			break
		}
		if t := newJudge(&sc, play(&sc)).judgement(); len(t.Ambiguous) == 0 && len(t.Runs) > 0 {
			break
		}
	}
	return sc
}

// drawer makes up one session.
type drawer struct {
	r    *rand.Rand
	hard bool
}

func (d *drawer) between(a, b float64) float64 { return a + (b-a)*d.r.Float64() }
func (d *drawer) chance(p float64) bool        { return d.r.Float64() < p }

// pick returns a number below len(weights), with these weights.
func (d *drawer) pick(weights ...float64) int {
	sum := 0.0
	for _, w := range weights {
		sum += w
	}
	x := d.r.Float64() * sum
	for i, w := range weights {
		if x -= w; x < 0 {
			return i
		}
	}
	return len(weights) - 1
}

func (d *drawer) draw(level Difficulty) Scenario {
	u := d.unit()
	sc := plainBench("", 0, u)
	d.mains(&sc)
	d.channels(&sc)
	if level == WeakClamp {
		weaken(&sc)
	}
	sc.TapDBA = d.between(50, 60)
	if d.hard {
		sc.TapDBA = d.between(48, 66)
	}
	sc.Clearing = [2]float64{0.8, 3.2}
	if d.hard {
		sc.Clearing = [2]float64{1, 8}
	}
	d.plot(&sc)
	d.mishaps(&sc)
	return sc
}

// unit draws a machine within the ranges of the trade. It is invented.
func (d *drawer) unit() Unit {
	u := Unit{Unit: config.DefaultUnit("unit-drawn"), HeatKPerS: d.between(6, 11), WarmUp: d.between(-0.04, 0.01), WarmUpS: d.between(15, 40), WarmUpDB: d.between(-1, 0.3),
		TripS: d.between(3.6, 9), CoolS: d.between(5, 8), NoLoadDBA: d.between(64, 78), Lugs: 1 + d.r.IntN(3), Slots: 24 + d.r.IntN(14)}
	if d.hard {
		u.NoLoadDBA = d.between(52, 84)
		u.HotShare = d.between(0, 0.7)
	}
	u.GrindDBA = u.NoLoadDBA + d.between(3, 11)
	u.StallDBA = u.NoLoadDBA - d.between(8, 16)
	u.RatedCurrentA = d.between(3, 9)
	switch d.pick(0.6, 0.22, 0.18) {
	case 0:
		u.Motor = inductionMotor
		u.NoLoadShare, u.RatedSlip, u.StartTorque = d.between(0.5, 0.85), d.between(0.032, 0.05), d.between(1.4, 2.2)
		u.LockedA, u.InertiaS = u.RatedCurrentA*d.between(4.2, 6.8), d.between(0.3, 0.9)
	case 1:
		u.Motor = magnetMotor
		u.NoLoadShare, u.SpeedHz, u.InertiaS, u.Slots = d.between(0.12, 0.3), d.between(43, 66), d.between(0.3, 0.65), 9+3*d.r.IntN(4)
		u.LimitShare, u.ShutOffS = d.between(1.6, 2.6), d.between(0.6, 2)
		if d.chance(0.3) {
			u.ShutOffS = d.between(4, 8)
		}
		if d.hard {
			u.NoLoadShare, u.LimitShare, u.Pulsing = d.between(0.09, 0.3), d.between(0.9, 3), d.chance(0.3)
		}
		u.StallDBA = d.between(30, 42)
	default:
		u.Motor = universalMotor
		u.NoLoadShare, u.SpeedHz, u.InertiaS, u.Slots = d.between(0.3, 0.5), d.between(90, 180), d.between(0.07, 0.16), 22
		u.LockedA, u.HeatKPerS = u.RatedCurrentA*d.between(3.6, 5), d.between(6, 10)
		u.NoLoadDBA += 4
	}
	if u.Motor != magnetMotor && d.chance(0.8) {
		u.LockedRotorA = u.LockedA
	}
	return u
}

func (d *drawer) mains(sc *Scenario) {
	s := &sc.Supply
	if d.chance(0.35) { // half the current at twice the voltage
		s.VoltageV, s.FrequencyHz = 230, 50
		u := &sc.Unit
		u.RatedCurrentA, u.LockedA, u.LockedRotorA = u.RatedCurrentA/2, u.LockedA/2, u.LockedRotorA/2
	}
	s.OffsetHz, s.WanderHz, s.WanderV = d.between(-0.03, 0.03), d.between(0.003, 0.012), d.between(0.0005, 0.003)
	s.SourceOhm = d.between(0.05, 0.25) * s.VoltageV / 120
	if d.hard {
		s.OffsetHz, s.WanderHz, s.WanderV = d.between(-0.2, 0.2), d.between(0.003, 0.1), d.between(0.0005, 0.012)
		s.SourceOhm = d.between(0.05, 0.5) * s.VoltageV / 120
	}
}

func (d *drawer) channels(sc *Scenario) {
	sc.Sound.RateHz = []float64{48000, 44100, 24000, 16000}[d.pick(0.7, 0.1, 0.1, 0.1)]
	sc.Sound.RoomDBA = d.between(35, 45)
	sc.Sound.FloorDBA = d.between(15, 24)
	c := &sc.Current
	c.RateHz = []float64{8000, 4000, 16000, 48000}[d.pick(0.7, 0.1, 0.1, 0.1)]
	rated := sc.Unit.RatedCurrentA
	most := rated * 4 // peak of a permanent-magnet motor's pulses
	if sc.Unit.LockedA > 0 {
		most = sc.Unit.LockedA * 2
	}
	c.FullScaleA = []float64{30, 50, 100, 200}[d.pick(0.15, 0.3, 0.45, 0.1)]
	if c.FullScaleA < 1.3*most {
		c.FullScaleA = 200
	}
	c.NoiseA, c.PickupA, c.OffsetA = rated*d.between(0.0005, 0.004), rated*d.between(0.0003, 0.003), rated*d.between(-0.02, 0.02)
	if !d.hard {
		return
	}
	sc.Sound.RoomDBA = d.between(35, 52)
	c.NoiseA, c.PickupA, c.OffsetA = rated*d.between(0.0005, 0.015), rated*d.between(0.0003, 0.015), rated*d.between(-0.1, 0.1)
	c.GainError = d.between(-0.02, 0.02)
	switch d.pick(0.55, 0.1, 0.15, 0.05, 0.05, 0.1) {
	case 1:
		c.RateHz = 1000
	case 2:
		c.Readings, c.RateHz = true, float64(10+d.r.IntN(41))
	case 3:
		c.RateHz = 0
	case 4:
		sc.Sound.RateHz = 0
	case 5:
		sc.Sound.Bits = 16
	}
	if d.chance(0.3) {
		sc.Mass.RateHz = 0
	}
}
