package detect_test

import (
	"math"
	"os"
	"testing"

	"quern/acquire/sim"
	"quern/acquire/sim/exam"
	"quern/config"
	"quern/detect"
	"quern/detect/run"
	"quern/rig"
)

func underTest(src rig.Source, set config.Setup, name string) (rig.Result, error) {
	return detect.Analyse(src, set, name, detect.Trace{})
}

// TestSimulatedSessions analyses drawn sessions of the simulated bench and wants every event found, none
// made up, and all in time. The seeds are fixed; quern simulate takes as many as one likes.
func TestSimulatedSessions(t *testing.T) {
	for _, c := range []struct {
		level    sim.Difficulty
		from, to uint64
		// misses is how many events may be missed or made up. The hostile bench has sessions that are
		// beyond us, such as a kettle that comes on with the motor.
		misses int
	}{{sim.Usual, 10, 39, 0}, {sim.WeakClamp, 1, 15, 0}, {sim.Hostile, 1, 20, 10}} { // the first half; under QUERN_WHOLE all
		t.Run(string(c.level), func(t *testing.T) {
			last := c.to
			if os.Getenv("QUERN_WHOLE") == "" {
				last = (c.from + c.to) / 2
			}
			book, missed := exam.NewBook(), 0
			err := exam.SitAll(int(last-c.from+1), 2, func(i int) sim.Scenario { return sim.Draw(c.from+uint64(i), c.level) }, underTest,
				func(p exam.Paper) error {
					book.Add(p.Card)
					missed += len(p.Card.Misses)
					for _, m := range p.Card.Misses {
						t.Logf("%s: %s", p.Scenario.Name, m)
					}
					checkShape(t, p.Result)
					return nil
				})
			if err != nil {
				t.Fatal(err)
			}
			if missed > c.misses {
				t.Errorf("%d events missed or made up, want at most %d", missed, c.misses)
			}
			if c.level == sim.Hostile {
				return
			}
			for kind, worst := range map[rig.Kind]float64{rig.MotorStart: 1.0 / 50, rig.MotorStop: 1.0 / 50, rig.Trip: 1.0 / 50, rig.StallStart: 0.2} {
				if _, w := book.Timing(kind); w > worst {
					t.Errorf("%s: worst timing error %.4f s, want %.4f s", kind, w, worst)
				}
			}
			if m, _ := book.Timing(rig.LoadEnd); m > 0.5 {
				t.Errorf("load_end: median error %.2f s, want 0.5 s", m)
			}
		})
	}
}

// TestNamedTraps holds scripted sessions to what matters in each: how often the motor starts, stops and
// trips, and whether a stretch is unknown.
func TestNamedTraps(t *testing.T) {
	for _, c := range []struct {
		name                 string
		starts, stops, trips int
		unknown              bool
	}{
		{"dead-clamp", 1, 1, 0, true},
		{"other-appliance", 1, 1, 0, false},
		{"stall-and-trip", 2, 1, 1, false},
		{"no-clamp", 1, 1, 0, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			sc, ok := sim.Named(c.name, 1)
			if !ok {
				t.Fatal("the bench has no such script")
			}
			p, err := exam.Sit(sc, underTest)
			if err != nil {
				t.Fatal(err)
			}
			n, unknown := map[rig.Kind]int{}, false
			for _, r := range p.Result.Runs {
				for _, e := range r.Events {
					n[e.Kind]++
				}
				for _, s := range r.States {
					unknown = unknown || s.State == rig.Unknown
				}
			}
			if n[rig.MotorStart] != c.starts || n[rig.MotorStop] != c.stops || n[rig.Trip] != c.trips || unknown != c.unknown {
				t.Errorf("starts, stops, trips, unknown: got %d, %d, %d, %v, want %d, %d, %d, %v: %v", n[rig.MotorStart], n[rig.MotorStop], n[rig.Trip], unknown,
					c.starts, c.stops, c.trips, c.unknown, p.Result.Warnings)
			}
			checkShape(t, p.Result)
		})
	}
}

// checkShape holds a result to what every result must be: events in order of time and within their run,
// starts and stops in turn, every absent figure explained, states without gap or overlap and only along ways that the diagram has.
func checkShape(t *testing.T, res rig.Result) {
	t.Helper()
	for _, what := range unexplained(res) {
		t.Errorf("%s: %s is absent, and no warning says why", res.Session, what)
	}
	for _, r := range res.Runs {
		if p, most := r.Motor.PeakA, r.Motor.MaxA; p.OK && most.OK && p.V < most.V {
			t.Errorf("%s: the largest instantaneous current is %.2f A, the largest RMS %.2f A", res.Session, p.V, most.V)
		}
		on := false
		for i, e := range r.Events {
			if i > 0 && e.AtS.V < r.Events[i-1].AtS.V {
				t.Errorf("%s: %s at %.3f s comes after %.3f s", res.Session, e.Kind, e.AtS.V, r.Events[i-1].AtS.V)
			}
			if e.AtS.V < r.StartS.V-1e-9 || e.AtS.V > r.EndS.V+1e-9 {
				t.Errorf("%s: %s at %.3f s lies outside its run", res.Session, e.Kind, e.AtS.V)
			}
			switch e.Kind {
			case rig.MotorStart:
				if on {
					t.Errorf("%s: a second start at %.3f s", res.Session, e.AtS.V)
				}
				on = true
			case rig.MotorStop, rig.Trip:
				if !on {
					t.Errorf("%s: a stop without a start at %.3f s", res.Session, e.AtS.V)
				}
				on = false
			}
		}
		for i := 1; i < len(r.States); i++ {
			a, b := r.States[i-1], r.States[i]
			if !run.Allowed(a.State, b.State) {
				t.Errorf("%s: from %s to %s at %.2f s: the state diagram has no such way", res.Session, a.State, b.State, b.FromS.V)
			}
			if !(math.Abs(a.ToS.V-b.FromS.V) <= 1e-6) {
				t.Errorf("%s: %s ends at %.3f s and %s begins at %.3f s", res.Session, a.State, a.ToS.V, b.State, b.FromS.V)
			}
		}
	}
}

// TestSimulatedLevels holds levels to those that the bench computes in the frequency domain with the
// analytic weightings of IEC 61672-1.
func TestSimulatedLevels(t *testing.T) {
	n := 4
	if testing.Short() {
		n = 1
	}
	book := exam.NewBook()
	err := exam.SitAll(n, 2, func(i int) sim.Scenario {
		sc := sim.Draw(uint64(10+i), sim.Usual)
		sc.LevelTruth = true
		return sc
	}, underTest, func(p exam.Paper) error { book.Add(p.Card); return nil })
	if err != nil {
		t.Fatal(err)
	}
	for figure, limit := range map[string]float64{"laeq_db": 0.03, "lceq_db": 0.03, "lafmax_db": 0.05, "lasmax_db": 0.05, "lcpeak_db": 0.2} {
		m, w := book.Error(figure)
		if w > limit || m == 0 {
			t.Errorf("%s: worst error %.4f dB (median %.4f), want at most %.2f", figure, w, m, limit)
		}
	}
}
