package score

import (
	"fmt"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
)

// exampleLab is the lab of the documentation.
func exampleLab(t testing.TB) *config.Lab {
	t.Helper()
	l, err := config.Read(os.DirFS("../../testdata/lab"))
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// invented describes one invented run; zero fields take ordinary values.
type invented struct {
	unit, procedure     string
	day, n              int
	timeS, laeqDB       float64
	leftG, coarse, fine float64
	trips               int
}

// record makes a record as a session would give it.
func (v invented) record(l *config.Lab) rig.Record {
	p := l.Procedure(v.procedure)
	start := time.Date(2026, 3, v.day, 9, 0, 20*v.n, 0, time.UTC)
	name := fmt.Sprintf("%s-%s-%d-%d", v.unit, v.procedure, v.day, v.n)
	at := func(s float64) rig.Figure { return rig.Fig(s) }
	ev := func(k rig.Kind, s float64) rig.Event {
		return rig.Event{Kind: k, AtS: at(s), WithinS: rig.Fig(0.02), Sure: rig.Fig(1), Evidence: "invented"}
	}
	run := rig.Run{StartS: at(10), EndS: at(10 + v.timeS), ElapsedS: at(v.timeS), MotorOnS: at(v.timeS), RunTimeS: at(v.timeS),
		Sound: rig.Sound{LAeqDB: at(v.laeqDB), LAeqCorrectedDB: at(v.laeqDB), LAFmaxDB: at(v.laeqDB + 9), LA10DB: at(v.laeqDB + 3), BackgroundDB: at(41)},
		Motor: rig.Motor{IdleA: at(3.9), MeanA: at(4.6), MaxA: at(30), InrushA: at(29)}}
	run.Events = []rig.Event{ev(rig.MotorStart, 10), ev(rig.LoadStart, 13), ev(rig.LoadEnd, 5+v.timeS)}
	for range v.trips {
		run.Events = append(run.Events, ev(rig.StallStart, 20), ev(rig.Trip, 24), ev(rig.MotorStart, 24))
	}
	run.Events = append(run.Events, ev(rig.MotorStop, 10+v.timeS))
	rec := rig.Record{Session: name, Bench: "demo-bench", Unit: v.unit, Procedure: v.procedure, Origin: rig.Recorded, Started: start,
		Sealed: "00", Settings: "11", Result: rig.Result{Session: name, Unit: v.unit, Procedure: v.procedure, Runs: []rig.Run{run}}}
	fact := 0
	weigh := func(role rig.Role, item string, net float64) {
		fact++
		rec.Facts.Weighings = append(rec.Facts.Weighings, rig.Weighing{Fact: fact, AtS: float64(fact), Run: 1, Role: role, Item: item,
			GrossG: rig.Fig(net + 400), TareG: rig.Fig(400), Stable: rig.Yes, DrainedS: rig.Fig(120), Who: "tester"})
	}
	for _, it := range p.Items {
		weigh(rig.Charge, it.Name, it.MassG)
	}
	weigh(rig.Chamber, "", v.leftG)
	weigh(rig.Coarse, "", v.coarse)
	weigh(rig.Fine, "", v.fine)
	for _, k := range []rig.CheckKind{rig.CheckSound, rig.CheckScale} {
		fact++
		rec.Facts.Checks = append(rec.Facts.Checks, rig.Check{Fact: fact, Kind: k, Nominal: rig.Fig(94), Found: rig.Fig(94)})
	}
	return rec
}

// inventedCampaign is three repeats of every procedure by every unit, seeded. Units get better from the
// first to the last.
func inventedCampaign(l *config.Lab, seed uint64) []rig.Record {
	r := rand.New(rand.NewPCG(seed, 7))
	var out []rig.Record
	for u, unit := range l.Units {
		q := 3 * float64(u) / float64(max(1, len(l.Units)-1)) // 0 to 3
		for p := range l.Procedures {
			for n := range 3 {
				scale := l.Procedures[p].Charge() / 2500
				v := invented{unit: unit.ID, procedure: l.Procedures[p].ID, day: 1 + n, n: u*3 + p,
					timeS: 110 - 18*q + 4*r.NormFloat64(), laeqDB: 80 - 3*q + r.NormFloat64(),
					leftG: scale * (60 - 12*q + 3*r.NormFloat64()), coarse: scale * (20 - 3*q), fine: scale * (200 - 20*q)}
				out = append(out, v.record(l))
			}
		}
	}
	return out
}

func mustScore(t testing.TB, l *config.Lab, records []rig.Record, hand ...rig.HandValue) *Campaign {
	t.Helper()
	c, err := Score(l, records, hand)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func mustRank(t testing.TB, c *Campaign) *Standings {
	t.Helper()
	s, err := c.Standings()
	if err != nil {
		t.Fatal(err)
	}
	return s
}
