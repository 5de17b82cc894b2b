package run_test

import (
	"math"
	"math/rand/v2"
	"sort"

	"quern/config"
	"quern/detect/motor"
	"quern/detect/run"
	"quern/rig"
)

// scene is a small bench of this test's own, apart from the simulated bench: a motor whose load
// current stands at right angles to its magnetising current, fed with pieces that are ground away.
// All its figures are invented.
type scene struct {
	seconds       float64
	startS, stopS float64
	feedS, clearS float64 // material is in from feedS; the last of it is gone at clearS
	peakLoad      float64 // load current at the start of grinding, share of rated
	tail          float64 // how fast it fades: load falls as (1-x)^tail
	magnetising   float64 // share of rated
	noiseA        float64 // clamp noise, RMS
	runDB         float64 // sound of the empty running motor
	impactDB      float64 // impacts above it
	impacts       float64 // a second at full load
	claps         []float64
	drift         float64 // change of the no-load current over the run, share
	supply        float64 // slow wander of the current, share
	stubborn      float64 // a last piece falls silent for so long before clearS; 0: none
	silent        bool    // no microphone
	inPhase       bool    // load adds to the RMS in full, as in a motor whose current follows the load
}

type drawn struct {
	cycles []motor.Cycle
	heard  []run.Heard
}

func (s scene) draw(seed uint64) drawn {
	const rate = 4000.0
	rng := rand.New(rand.NewPCG(seed, 7))
	n := int(s.seconds * rate)
	x := make([]float64, n)
	frames := int(s.seconds * 100)
	ms := make([]float64, frames) // mean square of the sound, Pa²
	pa2 := func(db float64) float64 { return 4e-10 * math.Pow(10, db/10) }
	low, slow := 0.0, 0.0
	load := func(t float64) float64 {
		if t < s.feedS || t > s.clearS {
			return 0
		}
		if s.stubborn > 0 && t > s.clearS-s.stubborn-0.3 && t < s.clearS-0.15 {
			return 0
		}
		v := (t - s.feedS) / (s.clearS - s.feedS)
		return s.peakLoad * math.Pow(1-v, s.tail)
	}
	// Impacts: a Poisson process whose rate follows the load.
	var hits []float64
	for t := s.feedS; t < s.clearS; t += 0.01 {
		if l := load(t); l > 0 && rng.Float64() < 0.01*s.impacts*(0.15+l/s.peakLoad) {
			hits = append(hits, t)
		}
	}
	hits = append(hits, s.clearS-0.02) // what makes the end of it
	sort.Float64s(hits)
	blip := make([]float64, n)
	for _, h := range hits {
		size := 0.1 * s.peakLoad * (0.3 + rng.Float64())
		for i := int(h * rate); i < n && float64(i)/rate < h+0.15; i++ {
			blip[i] += size * math.Exp(-(float64(i)/rate-h)/0.04)
		}
	}
	for i := range x {
		t := float64(i) / rate
		low += (rng.NormFloat64() - low) * 0.03
		slow += (rng.NormFloat64() - slow) * 0.0005
		v := 0.0
		if t >= s.startS && t < s.stopS {
			run := (t - s.startS) / (s.stopS - s.startS)
			l := load(t)
			ia := 0.12 + l*(1+2*low) + blip[i]
			im := s.magnetising * (1 + s.drift*run + s.supply*slow*20)
			if start := t - s.startS; start < 0.3 {
				im += 5 * (1 - start/0.3)
			}
			w := 2 * math.Pi * 60 * t
			v = 6 * math.Sqrt2 * (ia*math.Sin(w) - im*math.Cos(w))
			if s.inPhase {
				v = 6 * math.Sqrt2 * (im + ia) * math.Sin(w)
			}
		}
		x[i] = v + s.noiseA*rng.NormFloat64() + 0.02*math.Sin(2*math.Pi*60*t)
	}
	for k := range ms {
		t := float64(k) / 100
		g := func() float64 { return math.Exp(0.15 * rng.NormFloat64()) }
		ms[k] = pa2(45) * g()
		if t >= s.startS && t < s.stopS {
			ms[k] += pa2(s.runDB) * g() * (1 + 6*load(t))
		} else if t >= s.stopS {
			ms[k] += pa2(s.runDB) * math.Exp(-(t-s.stopS)/0.08)
		}
	}
	for _, h := range hits {
		db := s.runDB + s.impactDB*(0.6+0.6*rng.Float64())
		for k := int(h * 100); k < frames && k < int(h*100)+6; k++ {
			ms[k] += pa2(db) * math.Exp(-float64(k-int(h*100))/1.5)
		}
	}
	for _, c := range s.claps {
		for k := int(c * 100); k < frames && k < int(c*100)+8; k++ {
			ms[k] += pa2(s.runDB+18) * math.Exp(-float64(k-int(c*100))/2)
		}
	}
	tr, err := motor.New(rate, 1, 60, 0.06)
	if err != nil {
		panic(err)
	}
	tr.Push(x)
	d := drawn{cycles: tr.Cycles()}
	for k, v := range ms {
		d.heard = append(d.heard, run.Heard{StartS: float64(k) / 100, EndS: float64(k+1) / 100, EA: v / 100, EC: v / 100})
	}
	return d
}

// play runs the machine over a scene.
func (s scene) play(seed uint64, set config.Setup) ([]run.Found, []rig.Warning) {
	d := s.draw(seed)
	m := run.NewMachine(set)
	k := 0
	for _, c := range d.cycles {
		for !s.silent && k < len(d.heard) && d.heard[k].EndS <= c.EndS {
			m.Heard(d.heard[k])
			k++
		}
		m.Current(run.Current{StartS: c.StartS, EndS: c.EndS, RMSA: c.RMSA, SwingA: c.SwingA, PeakA: c.PeakA, Quarters: c.Quarters, Turns: c.Turns, Locked: c.Locked, Wave: true})
	}
	f := m.Finish(s.seconds)
	return f, m.Warnings()
}

func usual(rng *rand.Rand) scene {
	s := scene{startS: 2 + 2*rng.Float64(), peakLoad: 0.2 + 0.6*rng.Float64(), tail: 0.7 + 1.5*rng.Float64(), magnetising: 0.5 + 0.35*rng.Float64(),
		noiseA: 0.01 + 0.02*rng.Float64(), runDB: 65 + 10*rng.Float64(), impactDB: 10 + 8*rng.Float64(), impacts: 3 + 6*rng.Float64(),
		drift: 0.04 * (rng.Float64() - 0.7), supply: 0.002 * rng.Float64()}
	s.feedS = s.startS + 2 + 3*rng.Float64()
	s.clearS = s.feedS + 10 + 20*rng.Float64()
	s.stopS = s.clearS + 3 + 6*rng.Float64()
	s.seconds = s.stopS + 3
	return s
}
