package sim

import (
	"math"
	"math/rand/v2"

	"quern/config"
)

// played is what a run came to beside its recording.
type played struct {
	left, coarse, fine float64 // shares: of the input, of the discharge, of the discharge
	tripped, stalled   bool
	r                  *rand.Rand
}

// play makes the scenario of a run and what is weighed and checked around it.
func (s *Season) play(seed uint64, x *CatalogueRun) {
	key := uint64(x.unit)<<32 | uint64(x.procedure+1)<<16 | uint64(x.Number)
	r := rand.New(rand.NewPCG(seed+partRun<<32, key))
	p, t, u := s.of(x), &s.Traits[x.unit], s.machines[x.unit]
	vary := func(v float64) float64 { return v * math.Max(0.2, 1+t.Scatter*r.NormFloat64()) }
	y := played{r: r}
	rel := 0.4
	if !x.Control {
		rel = t.Left[x.procedure]
	}
	y.left = vary(rel * limit(p, "left_share", leftLimit))
	y.coarse = vary(t.Coarse * limit(p, "coarse_share", coarseLimit))
	y.fine = vary(t.Fine)
	if d := r.Float64(); hardness(p) == 2 {
		y.tripped = d < t.Trip
		y.stalled = d < t.Trip+(1-t.Trip)*t.Stall
	}
	const fromRunToRunDB = 0.4
	d := fromRunToRunDB * r.NormFloat64()
	u.NoLoadDBA, u.GrindDBA, u.StallDBA = u.NoLoadDBA+d, u.GrindDBA+d, u.StallDBA+d
	x.Scenario = s.scene(&y, p, u, vary(grindS(p)/t.Speed))
	x.Scenario.Name, x.Scenario.Seed = x.Name, r.Uint64()>>12
	s.record(x, &y, p)
}

// grindS is how long a middling unit grinds in a light session, s.
func grindS(p *config.Procedure) float64 {
	return 16 + 6*math.Min(p.Charge(), 5000)/2500 + 4*float64(hardness(p))
}

// scene writes the operator's program so that grinding takes about so long.
func (s *Season) scene(y *played, p *config.Procedure, u Unit, takesS float64) Scenario {
	sc := plainBench("", 0, u)
	s.bench(&sc)
	sc.Procedure = *p
	quiet, flush := 4.0, 6.6
	if !s.o.Light {
		takesS *= 2.5
		quiet, flush = math.Max(4, math.Min(p.Checks.BackgroundS, 60)), math.Max(6.6, math.Min(p.Water.FlushS, 60))
	}
	sc.Acts = acts(Act{Do: BowlOn, AtS: 0.5, Grams: 1400}, Act{Do: TapOn, AtS: quiet}, Act{Do: SwitchOn, DelayS: 0.4})
	n := max(2, int(math.Round(takesS/8)))
	each := takesS / float64(n)
	jam := n / 2
	for i := range n {
		a := Act{Do: Feed, DelayS: each, Portion: portionFor(each, hardness(p), y.r)}
		if i == 0 {
			a.After, a.DelayS = Running, 2.6
		}
		sc.Acts = append(sc.Acts, a)
		if i == jam-1 && (y.stalled || y.tripped) {
			sc.Acts = append(sc.Acts, jamming(y.tripped, y.r)...)
		}
	}
	sc.Acts = append(sc.Acts, closing(flush)...)
	sc.TailS = 2.5
	sc.MaxS = math.Min(600, quiet+30+2*takesS+flush+20+sc.TailS)
	if d := y.r.Float64(); d < 0.08 {
		sc.Mishaps = []Mishap{{Voice, quiet + 8, 1.5, 66}}
	} else if d < 0.16 {
		sc.Mishaps = []Mishap{{Clap, quiet + 6, 0, 84}}
	}
	return sc
}

// bench sets up the channels by the lab's calibrations, as far as they suit the invented motors.
func (s *Season) bench(sc *Scenario) {
	b := &s.lab.Bench
	sc.Supply.VoltageV, sc.Supply.FrequencyHz = b.Supply.VoltageV, b.Supply.FrequencyHz
	sc.Supply.SourceOhm *= b.Supply.VoltageV / 120
	if f := b.Microphone.FullScaleDB; f >= 110 && f <= 140 {
		sc.Sound.FullScaleDB = f
	}
	if a := b.Clamp.FullScaleA; a >= 4*sc.Unit.RatedCurrentA && a >= 2.6*sc.Unit.LockedA && a <= 100*sc.Unit.RatedCurrentA {
		sc.Current.FullScaleA = a
	} else {
		sc.Current.FullScaleA = math.Ceil(math.Max(10*sc.Unit.RatedCurrentA, 3*sc.Unit.LockedA))
	}
	sc.Mass.DivisionG = b.Scale.DivisionG
	if s.o.Light {
		sc.Sound.RateHz, sc.Sound.Bits = 8000, 16
		sc.Current.RateHz, sc.Current.Bits = 1000, 16
		sc.Mass.RateHz = 0
	}
}

// portionFor is a charge that is ground away in about so many seconds at full speed: the chamber takes 12 g
// a second and a sixth of what is in it.
func portionFor(takesS float64, hard int, r *rand.Rand) Portion {
	return Portion{SoftG: 72 * (math.Exp(math.Min(0.8*takesS, 9)/6) - 1), Pieces: 1 + hard, Hardness: 0.6 + 0.05*float64(hard), Loud: 17 + 2*float64(hard) + r.Float64()}
}

// jamming is a bone that wedges: it lets go by itself, or the protector opens, the chamber is freed and
// the motor started again. The wait is compressed like the rest.
func jamming(trips bool, r *rand.Rand) []Act {
	j := Act{Do: Jam, After: Running, DelayS: 2.5 + r.Float64(), Torque: 4}
	if !trips {
		j.HoldS = 0.8 + 0.7*r.Float64()
		return acts(j)
	}
	return acts(j, Act{Do: SwitchOff, After: Stopped, DelayS: 1}, Act{Do: Unjam, DelayS: 2}, Act{Do: SwitchOn, DelayS: 5}, Act{Do: Nothing, After: Running, DelayS: 1.5})
}
