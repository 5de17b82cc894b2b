package run_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"quern/config"
	"quern/detect/run"
	"quern/rig"
)

// course is a current over time: from each instant on, an RMS and how ragged it is.
type course []struct{ fromS, rmsA, ragged float64 }

func (c course) at(t float64) (rms, ragged float64) {
	for _, x := range c {
		if t >= x.fromS {
			rms, ragged = x.rmsA, x.ragged
		}
	}
	return rms, ragged
}

// play gives the machine a cycle RMS every 1/120 s, the clamp's noise in it.
func (c course) play(seconds float64, set config.Setup) ([]run.Found, []rig.Warning) {
	rng := rand.New(rand.NewPCG(1, 2))
	m := run.NewMachine(set)
	for k := 2; float64(k)/120 < seconds; k++ {
		t := float64(k) / 120
		rms, ragged := c.at(t - 1.0/240)
		v := math.Hypot(rms*(1+ragged*rng.NormFloat64()), 0.02*(1+0.1*rng.NormFloat64()))
		p := v * math.Sqrt2
		m.Current(run.Current{StartS: t - 1.0/60, EndS: t, RMSA: v, SwingA: v, PeakA: p, Quarters: [4]float64{p, p, p, p}, Wave: true})
	}
	return m.Finish(seconds), m.Warnings()
}

// breaksFree is the current of a rotor of 31 A that was locked and runs up: it falls by little at first.
func breaksFree(fromS float64) (c course) {
	for age := 0.0; age < 0.4; age += 0.005 {
		c = append(c, course{{fromS + age, 31 * (1 - 0.06*math.Pow(age/0.3, 1.5) - 8*max(age-0.3, 0)), 0.0003}}...)
	}
	return append(c, course{{fromS + 0.4, 3.9, 0}}...)
}

// TestCourses walks the traps of the trade, each as a bare current. An event is "kind@s"; those that
// hang on load are left to the scenes.
func TestCourses(t *testing.T) {
	const in, idle = 30.0, 3.9 // inrush and no-load current of an invented 6 A induction motor, A
	for _, c := range []struct {
		name    string
		course  course
		seconds float64
		want    string
		warning string
	}{
		{"stall and trip, restart after cooling", course{{3, in, 0}, {3.3, idle, 0}, {8, 5, 0.05}, {15, 31, 0}, {20, 0, 0}, {30, in, 0}, {30.2, idle, 0}, {38, 0, 0}}, 40,
			"motor_start@3.0 stall_start@15.0 stall_end@20.0 trip@20.0 motor_start@30.0 motor_stop@38.0", ""},
		{"short stall, switched off", course{{3, in, 0}, {3.3, idle, 0}, {10, 31, 0}, {11.5, 0, 0}}, 14,
			"motor_start@3.0 stall_start@10.0 stall_end@11.5 motor_stop@11.5", "short-stall"},
		{"stall that frees itself", course{{3, in, 0}, {3.3, idle, 0}, {10, 31, 0}, {11, 5, 0.05}, {14, idle, 0}, {20, 0, 0}}, 22,
			"motor_start@3.0 stall_start@10.0 stall_end@11.0 motor_stop@20.0", ""},
		{"stall that frees itself and runs up", append(append(course{{3, in, 0}, {3.3, idle, 0}, {10, 31, 0.0003}}, breaksFree(12)...), course{{20, 0, 0}}...), 22,
			"motor_start@3.0 stall_start@10.0 stall_end@12.0 motor_stop@20.0", ""},
		{"a heavy bite that lets go before it has stood", append(append(course{{3, in, 0}, {3.3, idle, 0}, {10, 31, 0.0003}}, breaksFree(10.2)...), course{{20, 0, 0}}...), 22,
			"motor_start@3.0 motor_stop@20.0", ""},
		{"a bite is no stall", course{{3, in, 0}, {3.3, idle, 0}, {10, 31, 0}, {10.2, idle, 0}, {20, 0, 0}}, 22,
			"motor_start@3.0 motor_stop@20.0", ""},
		{"failed start", course{{3, in, 0}, {8, 0, 0}}, 12,
			"motor_start@3.0 stall_start@3.0 stall_end@8.0 trip@8.0", ""},
		{"the mains sags while the rotor is locked", course{{3, in, 0}, {5, 16, 0}, {5.4, in, 0}, {8, 0, 0}}, 12,
			"motor_start@3.0 stall_start@3.0 stall_end@8.0 trip@8.0", "supply-sagged"},
		{"failed start given up", course{{3, in, 0}, {5, 0, 0}}, 12,
			"motor_start@3.0 stall_start@3.0 stall_end@5.0 motor_stop@5.0", "short-stall"},
		{"jogging", course{{3, in, 0}, {3.3, 0, 0}, {4, in, 0}, {4.4, 0, 0}, {5, in, 0}, {5.3, idle, 0}, {12, 0, 0}}, 15,
			"motor_start@3.0 motor_stop@3.3 motor_start@4.0 motor_stop@4.4 motor_start@5.0 motor_stop@12.0", ""},
		{"restart within a second", course{{3, in, 0}, {3.3, idle, 0}, {9, 0, 0}, {9.4, in, 0}, {9.7, idle, 0}, {15, 0, 0}}, 18,
			"motor_start@3.0 motor_stop@9.0 motor_start@9.4 motor_stop@15.0", ""},
		{"overload", course{{3, in, 0}, {3.3, idle, 0}, {8, 9, 0.01}, {12, 5, 0.02}, {14, idle, 0}, {20, 0, 0}}, 22,
			"motor_start@3.0 overload_start@8.0 overload_end@12.0 motor_stop@20.0", ""},
		{"heavy grinding is no overload", course{{3, in, 0}, {3.3, idle, 0}, {8, 9, 0.01}, {9.5, 5, 0.02}, {14, idle, 0}, {20, 0, 0}}, 22,
			"motor_start@3.0 motor_stop@20.0", ""},
		{"trip out of an overload", course{{3, in, 0}, {3.3, idle, 0}, {8, 9, 0.01}, {14, 0, 0}}, 18,
			"motor_start@3.0 overload_start@8.0 overload_end@14.0 trip@14.0", ""},
		{"overload that becomes a stall", course{{3, in, 0}, {3.3, idle, 0}, {8, 9, 0.01}, {12, 31, 0}, {16, 0, 0}}, 20,
			"motor_start@3.0 overload_start@8.0 stall_start@12.0 overload_end@12.0 stall_end@16.0 trip@16.0", ""},
		{"above the overload ratio for less than the hold, then locked", course{{3, in, 0}, {3.3, idle, 0}, {8, 9, 0.01}, {9.9, 31, 0}, {14, 0, 0}}, 18,
			"motor_start@3.0 stall_start@9.9 stall_end@14.0 trip@14.0", ""},
		{"neither runs up nor stands", course{{3, in, 0}, {3.3, 19, 0.01}, {9, idle, 0}, {15, 0, 0}}, 18,
			"motor_start@3.0 overload_start@5.0 overload_end@9.0 motor_stop@15.0", ""},
		{"a dip of the mains is no stop", course{{3, in, 0}, {3.3, idle, 0}, {9, 0, 0}, {9.04, idle, 0}, {15, 0, 0}}, 18,
			"motor_start@3.0 motor_stop@15.0", ""},
		{"a sag of the mains in which some current flows", course{{3, in, 0}, {3.3, idle, 0}, {9, 1, 0}, {9.3, idle, 0}, {15, 0, 0}}, 18,
			"motor_start@3.0 motor_stop@15.0", ""},
		{"a click is no start", course{{3, 2, 0}, {3.02, 0, 0}, {6, in, 0}, {6.3, idle, 0}, {12, 0, 0}}, 15,
			"motor_start@6.0 motor_stop@12.0", ""},
		{"running when the recording begins", course{{0, idle, 0}, {9, 0, 0}}, 12,
			"motor_start@0.0 motor_stop@9.0", "began-running"},
		{"running in a recording too short to learn from", course{{0, idle, 0}}, 0.4,
			"motor_start@0.0 motor_stop@0.4", "began-running"},
		{"started when it ends, and not told yet", course{{11.8, 12, 0}}, 12,
			"motor_start@11.8 motor_stop@12.0", "ended-running"},
		{"running when it ends", course{{3, in, 0}, {3.3, idle, 0}}, 12,
			"motor_start@3.0 motor_stop@12.0", "ended-running"},
		{"nothing", course{{0, 0, 0}}, 12, "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			runs, warnings := c.course.play(c.seconds, setup())
			var got []string
			for _, r := range runs {
				for i, s := range r.States {
					if i > 0 && !run.Allowed(r.States[i-1].State, s.State) {
						t.Errorf("from %s to %s at %.2f s: the diagram has no such way", r.States[i-1].State, s.State, s.FromS.V)
					}
				}
				for _, e := range r.Events {
					if e.Kind != rig.LoadStart && e.Kind != rig.LoadEnd {
						got = append(got, fmt.Sprintf("%s@%.1f", e.Kind, e.AtS.V))
					}
					if e.Evidence == "" || !e.Sure.OK {
						t.Errorf("%s has no evidence or sureness", e.Kind)
					}
				}
			}
			if g := strings.Join(got, " "); g != c.want {
				t.Errorf("got  %s\nwant %s", g, c.want)
			}
			if len(runs) > 1 {
				t.Errorf("%d runs, want one", len(runs))
			}
			found := c.warning == ""
			for _, w := range warnings {
				found = found || w.Code == c.warning
			}
			if !found {
				t.Errorf("no warning %s in %v", c.warning, warnings)
			}
		})
	}
}

// TestPauseEndsRun: a stop longer than the procedure's longest pause makes two runs.
func TestPauseEndsRun(t *testing.T) {
	c := course{{3, 30, 0}, {3.3, 3.9, 0}, {9, 0, 0}, {20, 30, 0}, {20.3, 3.9, 0}, {26, 0, 0}}
	for longest, want := range map[float64]int{900: 1, 12: 1, 10: 2} {
		set := setup()
		set.Procedure.LongestPauseS = longest
		if runs, _ := c.play(30, set); len(runs) != want {
			t.Errorf("longest pause %g s: %d runs, want %d", longest, len(runs), want)
		}
	}
}

// TestDiagram keeps the picture in states.md to the code.
func TestDiagram(t *testing.T) {
	b, err := os.ReadFile("states.md")
	if err != nil {
		t.Fatal(err)
	}
	if want := "```mermaid\n" + run.Diagram() + "```\n"; !strings.Contains(string(b), want) {
		t.Errorf("states.md does not hold the diagram of the code; it should hold:\n%s", want)
	}
}

// TestFlatStall: a stall whose readings are all the same number goes on until they fall.
func TestFlatStall(t *testing.T) {
	for stallA := 28.60; stallA < 28.8; stallA += 0.01 {
		m := run.NewMachine(setup())
		for k := 1; k < 20*64; k++ {
			at, a := float64(k)/64, 0.01
			switch {
			case at > 3 && at < 3.3:
				a = stallA
			case at > 10 && at < 12.5:
				a = math.Round(100*stallA*(1-math.Exp(-(at-10)/0.04))) / 100 // locks, and stands
			case at > 10 && at < 12.64:
				a = stallA - 150*(at-12.48)
			case at > 3 && at < 18:
				a = 3.9 + 0.01*float64(k%2)
			}
			m.Current(run.Current{StartS: at - 1.0/64, EndS: at, RMSA: a, SwingA: a, PeakA: math.Sqrt2 * a, FundA: math.NaN(), ThirdA: math.NaN()})
		}
		ends := 0
		for _, e := range m.Finish(20)[0].Events {
			if e.Kind == rig.StallEnd && math.Abs(e.AtS.V-12.5) < 0.05 {
				ends++
			}
		}
		if ends != 1 {
			t.Errorf("%.2f A: no stall that ends at 12.5 s", stallA)
		}
	}
}
