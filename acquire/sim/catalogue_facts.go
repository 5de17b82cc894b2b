package sim

import (
	"fmt"
	"math"
	"time"

	"quern/config"
	"quern/rig"
)

// who stands beside every fact of a season.
const who = "invented tester"

// scribe numbers and collects the facts of a run.
type scribe struct {
	x    *CatalogueRun
	y    *played
	lab  *config.Lab
	fact int
}

func (c *scribe) next() int { c.fact++; return c.fact }

// record makes the checks, weighings and remarks of a run. What went in is put down in the seconds before
// the start, which a compressed session has; leftovers follow when they have drained.
func (s *Season) record(x *CatalogueRun, y *played, p *config.Procedure) {
	c := &scribe{x: x, y: y, lab: s.lab}
	if s.firstOfDay(x) {
		c.checks(s.procedures)
	}
	inputG := 0.0
	atS := 0.5
	items := p.Items
	if len(items) == 0 {
		items = []config.Item{{MassG: math.Max(p.ChargeG, 500), ToleranceG: 5}}
	}
	typed := y.r.Float64() < 0.06
	for i, it := range items {
		g := it.MassG + math.Min(math.Max(0.4*y.r.NormFloat64(), -0.9), 0.9)*it.ToleranceG
		bowl := c.vessel(false, 0)
		if i == 0 && y.r.Float64() < 0.06 {
			w := c.weigh(rig.Charge, it.Name, g+38, bowl, atS)
			w.Note = "the spoon was still in it: weighed again"
			x.Weighings, atS = append(x.Weighings, w), atS+0.4
		}
		w := c.weigh(rig.Charge, it.Name, g, bowl, atS)
		if typed {
			c.typed(&w)
		}
		inputG += w.NetG.V
		x.Weighings, atS = append(x.Weighings, w), atS+0.4
	}
	c.leftovers(p, inputG)
	if y.tripped {
		c.remark(x.Scenario.MaxS-5, "a bone had wedged; freed with the wrench, waited, reset")
	}
}

// leftovers are weighed once they have drained, chamber first.
func (c *scribe) leftovers(p *config.Procedure, inputG float64) {
	a, y, r := &p.After, c.y, c.y.r
	out := inputG * (1 - y.left)
	atS := c.x.Scenario.MaxS + 60
	put := func(role rig.Role, g float64, v config.Vessel, tareU float64) {
		drained := a.DrainS + math.Max(-0.9, math.Min(0.9, 0.4*r.NormFloat64()))*a.DrainToleranceS
		early := r.Float64() < 0.02 && a.DrainS > 0
		if early {
			drained = 0.4 * a.DrainS
			g *= 1.03 // water that had not run off
		}
		atS += 25
		w := c.weigh(role, "", g+tareU*r.NormFloat64(), v, atS+drained)
		w.DrainedS, w.SlopeGPerMin = rig.Fig(math.Round(drained)), rig.Fig(-tenths(math.Abs(0.4+0.3*r.NormFloat64())*a.DrainS/math.Max(drained, 1)))
		if early {
			w.Note = "the food batch was getting warm: read early"
		}
		if r.Float64() < 0.02 {
			c.typed(&w)
		}
		c.x.Weighings = append(c.x.Weighings, w)
	}
	if a.Chamber {
		put(rig.Chamber, inputG*y.left, c.vessel(false, 0), 0)
	}
	coarse, fine := 0.0, 0.0
	if a.CoarseSieveMM > 0 {
		coarse = out * y.coarse
		put(rig.Coarse, coarse, c.vessel(true, 0), 0.5*a.WetTareUG)
	}
	if a.FineSieveMM > 0 {
		fine = out * y.fine
		put(rig.Fine, fine, c.vessel(true, 1), 0.5*a.WetTareUG)
	}
	if a.Passed {
		put(rig.Passed, (out-coarse-fine)*1.04, c.vessel(false, 0), 0) // food takes up water
	}
}

// vessel is the n-th of the register with or without a wet tare; one without a name if there is none.
func (c *scribe) vessel(sieve bool, n int) config.Vessel {
	for _, v := range c.lab.Bench.Vessels {
		if (v.WetG > 0) == sieve {
			if n == 0 {
				return v
			}
			n--
		}
	}
	return config.Vessel{DryG: 400}
}

// weigh reads the scale.
func (c *scribe) weigh(role rig.Role, item string, g float64, v config.Vessel, atS float64) rig.Weighing {
	d := c.lab.Bench.Scale.DivisionG
	step := func(x float64) float64 { return math.Round(math.Round(x/d)*d*1000) / 1000 }
	tare := v.DryG
	if v.WetG > 0 && role != rig.Charge {
		tare = v.WetG
	}
	gross := step(tare + math.Max(g, 0))
	tare = step(tare)
	return rig.Weighing{Fact: c.next(), AtS: math.Round(atS*100) / 100, Role: role, Item: item, Vessel: v.ID,
		GrossG: rig.Fig(gross), TareG: rig.Fig(tare), NetG: rig.Fig(step(gross - tare)), Shown: "g", Stable: rig.Yes,
		SpreadG: rig.Fig(step(d * math.Floor(1.6*c.y.r.Float64()))), Who: who}
}

// typed makes of a weighing one that was typed from the display.
func (c *scribe) typed(w *rig.Weighing) {
	w.Typed, w.Stable = true, rig.Unsaid
	w.SpreadG, w.SlopeGPerMin = rig.Absent("typed"), rig.Figure{}
}

func (c *scribe) remark(atS float64, text string) {
	c.x.Remarks = append(c.x.Remarks, rig.Remark{Fact: c.next(), AtS: atS, Text: text, Who: who})
}

// checks are those of the morning: calibrator and check weight, and what else a procedure asks for.
func (c *scribe) checks(procedures []*config.Procedure) {
	var want config.Checks
	water := 6.0
	for _, p := range procedures {
		want.Clamp, want.Supply, want.Water = want.Clamp || p.Checks.Clamp, want.Supply || p.Checks.Supply, want.Water || p.Checks.Water
		water = p.Water.FlowLPerMin
	}
	d, rated := c.lab.Bench.Scale.DivisionG, c.x.Scenario.Supply.VoltageV
	for _, k := range []struct {
		kind           rig.CheckKind
		wanted         bool
		nominal, u, to float64
	}{{rig.CheckSound, true, 94, 0.07, 0.1}, {rig.CheckScale, true, 1000, 0.3 * d, d}, {rig.CheckClamp, want.Clamp, 4, 0.02, 0.01}, {rig.CheckSupply, want.Supply, rated, 0.008 * rated, 0.1},
		{rig.CheckWater, want.Water, water, 0.1, 0.05}} {
		if k.wanted {
			found := math.Round(math.Round((k.nominal+k.u*c.y.r.NormFloat64())/k.to)*k.to*1000) / 1000
			c.x.Checks = append(c.x.Checks, rig.Check{Fact: c.next(), AtS: 0.1, Kind: k.kind, Nominal: rig.Fig(k.nominal), Found: rig.Fig(found), Who: who, Note: "invented"})
		}
	}
}

func (s *Season) firstOfDay(x *CatalogueRun) bool {
	for i := range s.Runs {
		if s.Runs[i].Started.YearDay() == x.Started.YearDay() && s.Runs[i].Started.Year() == x.Started.Year() {
			return s.Runs[i].Name == x.Name
		}
	}
	return false
}

// mistakes puts on record what went wrong and was noticed.
func (s *Season) mistakes() {
	for i := range s.Runs {
		x := &s.Runs[i]
		c := &scribe{x: x, fact: len(x.Checks) + len(x.Weighings) + len(x.Remarks)}
		correct := func(after time.Duration, target, old, new, why string) {
			x.Corrections = append(x.Corrections, rig.Correction{Fact: c.next(), At: x.Started.Add(after), Target: target, Old: old, New: new, Who: who, Why: why})
		}
		switch x.Name {
		case s.Told.RigVoid:
			correct(25*time.Minute, "void", "", "rig", "the trap had backed up: the drain was not free")
		case s.Told.OperatorVoid:
			correct(20*time.Minute, "void", "", "operator", "the pieces to be held back went in first")
		case s.Told.Repeat:
			c.remark(x.Scenario.MaxS, "repeats "+s.Told.RigVoid)
		case s.Told.Withdrawn:
			if n := len(x.Weighings); n > 0 {
				w := x.Weighings[n-1]
				w.Fact, w.AtS, w.Note = c.next(), w.AtS+40, "weighed a second time"
				if w.GrossG.OK {
					w.GrossG.V += 57
				}
				w.NetG.V += 57
				x.Weighings = append(x.Weighings, w)
				correct(15*time.Minute, fmt.Sprintf("weighing.%d", w.Fact), fmt.Sprintf("%g g", w.NetG.V), "withdrawn", "the wrench lay on the pan")
			}
		}
	}
}
