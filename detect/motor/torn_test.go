package motor

import (
	"math"
	"testing"
)

// The mains are not what the settings say: until the oscillator has found them its windows are not one
// cycle long, and must say so, or their RMS would stand as the largest of the run.
func TestWindowsOffTheMainsAreTorn(t *testing.T) {
	for _, c := range []struct{ nominal, true float64 }{{50, 60}, {60, 50}, {50, 47}, {60, 63.5}} {
		const rate, amps = 8000.0, 10.0
		tr, err := New(rate, 1, c.nominal, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float64, int(rate))
		for i := range x {
			if s := float64(i) / rate; s >= 0.2 {
				x[i] = amps * math.Sqrt2 * math.Sin(2*math.Pi*c.true*(s-0.2))
			}
		}
		tr.Push(x)
		torn, whole := 0, 0
		for _, cy := range tr.Cycles() {
			if cy.StartS < 0.2 {
				continue
			}
			if cy.Torn {
				torn++
				continue
			}
			whole++
			if off := math.Abs(cy.RMSA/amps - 1); off > 0.015 {
				t.Errorf("%g Hz for nominal %g: the window from %.3f s passes for whole, its RMS is %.1f %% off", c.true, c.nominal, cy.StartS, 100*off)
			}
		}
		t.Logf("%g for %g Hz: %d torn, %d whole", c.true, c.nominal, torn, whole)
		if whole < 30 {
			t.Errorf("%g Hz for nominal %g: only %d whole windows in 0.8 s", c.true, c.nominal, whole)
		}
	}
}

// The first cycle of a switched current is told whole, wherever in the wave and between the boundaries the switch
// closed, and however fast it was sampled: a sine has the same RMS over every cycle.
func TestFirstCycleOfASwitchedCurrent(t *testing.T) {
	for _, rate := range []float64{2000, 8000, 44100} {
		for k := range 12 {
			onS, phase := 0.5+float64(k)*0.0017, 0.5*float64(k)
			tr, err := New(rate, 1, 60, 0.05)
			if err != nil {
				t.Fatal(err)
			}
			x := make([]float64, int(rate))
			for i := range x {
				if s := float64(i)/rate - onS; s >= 0 {
					x[i] = 10 * math.Sqrt2 * math.Sin(2*math.Pi*60.1*s+phase)
				}
			}
			tr.Push(x)
			var got []Cycle
			for _, c := range tr.Cycles() {
				if c.FirstA > 0 {
					got = append(got, c)
				}
			}
			if len(got) != 1 || !(math.Abs(got[0].FirstA/10-1) <= max(0.01, 30/rate)) || got[0].StartS < onS || got[0].EndS > onS+0.1 {
				t.Errorf("%g samples/s, switched at %.4f s: %+v", rate, onS, got)
			}
		}
	}
}

// Boundaries are moved onto the current's zero crossings after a start, and each window is a cycle all the same: a sine has
// one RMS wherever its switch closed. An inrush is judged from the second cycle on (common practice).
func TestCyclesWhileBoundariesMove(t *testing.T) {
	for _, rate := range []float64{2000, 8000, 48000} {
		for phase := 0.0; phase < math.Pi; phase += math.Pi / 9 {
			for _, first := range []float64{24, 40} {
				tr, err := New(rate, 1, 60, 0.05)
				if err != nil {
					t.Fatal(err)
				}
				x := make([]float64, int(2*rate))
				for i := range x {
					switch s := float64(i)/rate - 1.00001; {
					case s < 0:
					case s < 1.0/60:
						x[i] = first * math.Sqrt2 * math.Sin(2*math.Pi*60*s+phase)
					default:
						x[i] = 24 * math.Sqrt2 * math.Sin(2*math.Pi*60*s+phase)
					}
				}
				tr.Push(x)
				second, most := 0.0, 0.0
				for _, c := range tr.Cycles() {
					second = max(second, c.SecondA)
					if c.StartS > 1+1.0/60 && !c.Torn {
						most = max(most, c.RMSA)
						if off := math.Abs(c.RMSA/24 - 1); off > 0.002 {
							t.Errorf("%g samples/s, phase %.1f: the cycle from %.4f s is %.2f %% off", rate, phase, c.StartS, 100*off)
						}
					}
				}
				if !(math.Abs(second/24-1) <= 0.005) || !(math.Abs(most/24-1) <= 0.002) {
					t.Errorf("%g samples/s, phase %.1f, first cycle %g A: from the second cycle on %.3f A, later %.3f A, want 24", rate, phase, first, second, most)
				}
			}
		}
	}
}

// A motor that runs up turns its current against the mains, and no boundary can follow that fast. What flowed first is told
// all the same while the motor is still starting.
func TestFirstCycleOfAMotorThatRunsUp(t *testing.T) {
	const rate, onS, radPerS = 8000.0, 0.5, 15.0
	tr, err := New(rate, 1, 60, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, int(2*rate))
	for i := range x {
		if s := float64(i)/rate - onS; s >= 0 {
			x[i] = 24 * math.Sqrt2 * math.Exp(-s/0.1) * math.Sin(2*math.Pi*60*s+1+radPerS*min(s, 0.4))
		}
	}
	tr.Push(x)
	cycles := tr.Cycles()
	for _, c := range cycles {
		if c.FirstA > 0 {
			if c.EndS > onS+0.08 || !(math.Abs(c.FirstA/24-math.Exp(-0.5/60/0.1)) <= 0.03) || !(math.Abs(c.SecondA/24-math.Exp(-1.5/60/0.1)) <= 0.03) {
				t.Errorf("first %.2f A, from the second cycle on %.2f A, told at %.3f s", c.FirstA, c.SecondA, c.EndS)
			}
			return
		}
	}
	t.Error("never told")
}

// Where the mains are far from what the bench calls nominal, the oscillator is longer under way than samples are kept. The
// start's current is told all the same: the window may be some per cent off a cycle, and is not the current after the start.
func TestFirstCycleFarFromNominal(t *testing.T) {
	const onS = 0.5
	for _, rate := range []float64{8000, 48000} {
		for _, hz := range [][2]float64{{60, 50}, {50, 60}, {50, 45}} {
			tr, err := New(rate, 1, hz[0], 0.05)
			if err != nil {
				t.Fatal(err)
			}
			x := make([]float64, int(2*rate))
			for i := range x {
				if s := float64(i)/rate - onS; s >= 0 {
					x[i] = (4 + 20*math.Exp(-s/0.12)) * math.Sqrt2 * math.Sin(2*math.Pi*hz[1]*s+1)
				}
			}
			tr.Push(x)
			first, second := 0.0, 0.0
			for _, c := range tr.Cycles() {
				if c.EndS > onS && c.EndS < onS+0.35 {
					first, second = max(first, c.FirstA), max(second, c.SecondA)
				}
			}
			at := func(cycles float64) float64 { return 4 + 20*math.Exp(-(cycles+0.5)/hz[1]/0.12) }
			if !(math.Abs(first/at(0)-1) <= 0.08) || !(math.Abs(second/at(1)-1) <= 0.08) {
				t.Errorf("%g samples/s, %g Hz on a bench of %g Hz: first %.2f A, want %.2f; from the second cycle on %.2f, want %.2f",
					rate, hz[1], hz[0], first, at(0), second, at(1))
			}
		}
	}
}
