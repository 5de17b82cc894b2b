package sim_test

import (
	"os"
	"runtime"
	"testing"

	"quern/acquire/sim"
	"quern/acquire/sim/exam"
	"quern/config"
	"quern/detect"
	"quern/rig"
)

func exampleLab(t testing.TB) *config.Lab {
	t.Helper()
	lab, err := config.Read(os.DirFS("../../testdata/lab"))
	if err != nil {
		t.Fatal(err)
	}
	return lab
}

func analyse(src rig.Source, set config.Setup, name string) (rig.Result, error) {
	return detect.Analyse(src, set, name, detect.Trace{})
}

// The analysis finds in every light session of a season exactly what happened: one run, its stalls and
// trips, and its figures, which are what the traits let expect. Every fifth of them is tried, under QUERN_WHOLE all.
func TestCatalogueIsFound(t *testing.T) {
	s, err := sim.Catalogue(1, exampleLab(t), sim.CatalogueOptions{Units: 20, Light: true})
	if err != nil {
		t.Fatal(err)
	}
	runs := s.Runs
	if os.Getenv("QUERN_WHOLE") == "" {
		runs = nil
		for i := 0; i < len(s.Runs); i += 5 {
			runs = append(runs, s.Runs[i])
		}
	}
	if trips := sit(t, s, runs); trips == 0 {
		t.Error("nothing tripped in the season")
	}
}

// So it does at another supply, and in full sessions.
func TestCatalogueElsewhere(t *testing.T) {
	lab := exampleLab(t)
	lab.Bench.Supply = config.Supply{VoltageV: 230, FrequencyHz: 50}
	s, err := sim.Catalogue(7, lab, sim.CatalogueOptions{Units: 4, Repeats: 1, Light: true})
	if err != nil {
		t.Fatal(err)
	}
	if a := s.Units[0].RatedCurrentA; a != 3 {
		t.Errorf("unit-a draws %g A at 230 V, want half of its 6 A at 120 V", a)
	}
	sit(t, s, s.Runs[:6])
	if testing.Short() {
		return
	}
	if s, err = sim.Catalogue(7, exampleLab(t), sim.CatalogueOptions{}); err != nil {
		t.Fatal(err)
	}
	sit(t, s, s.Runs[:3])
}

// sit has the runs analysed and marked, and returns how many trips there were.
func sit(t *testing.T, s *sim.Season, runs []sim.CatalogueRun) (trips int) {
	t.Helper()
	at := 0
	err := exam.SitAll(len(runs), runtime.NumCPU(), func(i int) sim.Scenario { return runs[i].Scenario }, analyse, func(p exam.Paper) error {
		x := &runs[at]
		at++
		for _, m := range p.Card.Misses {
			t.Errorf("%s: %s", x.Name, m)
		}
		if len(p.Result.Runs) != 1 || len(p.Truth.Runs) != 1 {
			t.Errorf("%s: %d runs found, %d true; want one", x.Name, len(p.Result.Runs), len(p.Truth.Runs))
			return nil
		}
		got, want := p.Result.Runs[0], p.Truth.Runs[0]
		for _, k := range []rig.Kind{rig.Trip, rig.StallStart, rig.MotorStart} {
			if g, w := kinds(got, k), kinds(want, k); g != w {
				t.Errorf("%s: %d of %s found, %d true", x.Name, g, k, w)
			}
		}
		if got.EndS.V > x.Scenario.MaxS-1 {
			t.Errorf("%s: it did not end by itself, at %.1f s", x.Name, got.EndS.V)
		}
		trips += kinds(want, rig.Trip)
		for name, f := range map[string]rig.Figure{"laeq corrected": got.Sound.LAeqCorrectedDB, "la10": got.Sound.LA10DB, "idle": got.Motor.IdleA, "run time": got.RunTimeS} {
			if !f.OK {
				t.Errorf("%s: %s absent: %s", x.Name, name, f.Why)
			}
		}
		if len(got.Sound.ThirdOctaves) > 0 && x.Scenario.Sound.RateHz == 8000 && kinds(want, rig.Trip) == 0 {
			for name, f := range map[string]rig.Figure{"motor_on_s": got.MotorOnS, "laeq_db": got.Sound.LAeqCorrectedDB} {
				e, ok := s.Expect(p.Result.Unit, p.Result.Procedure, name)
				if d := f.V - e; !ok || d > 9 || d < -9 {
					t.Errorf("%s: %s is %.1f, expected %.1f", x.Name, name, f.V, e)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return trips
}

func kinds(r rig.Run, k rig.Kind) int {
	n := 0
	for _, e := range r.Events {
		if e.Kind == k {
			n++
		}
	}
	return n
}
