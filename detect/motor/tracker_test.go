package motor

import (
	"math"
	"slices"
	"testing"
)

func sine(rateHz, hz, rmsA, seconds float64) []float64 {
	x := make([]float64, int(seconds*rateHz))
	for i := range x {
		x[i] = math.Sqrt2 * rmsA * math.Sin(2*math.Pi*hz*float64(i)/rateHz+1)
	}
	return x
}

func track(t *testing.T, rateHz, nominalHz float64, x []float64, cut int) *Tracker {
	t.Helper()
	tr, err := New(rateHz, 1, nominalHz, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	for b := range slices.Chunk(x, cut) {
		tr.Push(b)
	}
	return tr
}

func TestFollowsTheMains(t *testing.T) {
	for _, rate := range []float64{1000, 8000, 44100, 192000} {
		for _, hz := range []float64{45.5, 49.7, 50, 60.02, 60.4, 64.5} {
			nominal := 60.0
			if hz < 55 {
				nominal = 50
			}
			x := sine(rate, hz, 5, 4)
			cycles := track(t, rate, nominal, x, len(x)).Cycles()
			a, b := cycles[len(cycles)/2], cycles[len(cycles)-1]
			got := (b.Turns - a.Turns) / (b.EndS - a.EndS)
			if !(math.Abs(got-hz) <= 0.01) { // IEC 61000-4-30 class A: 0.010 Hz
				t.Errorf("%g samples/s, %g Hz: tracked %.4f Hz", rate, hz, got)
			}
			for _, c := range cycles[len(cycles)/2:] {
				// At 1 kHz a cycle holds some 16 samples; sharing out those at its ends costs a little.
				if tol := 5 * max(0.0005, 2/rate); !(math.Abs(c.RMSA-5) <= tol) || !(math.Abs(c.FundA-5) <= 4*tol) || !c.Locked {
					t.Fatalf("%g samples/s, %g Hz: rms %.4f fund %.4f locked %v, want 5 A", rate, hz, c.RMSA, c.FundA, c.Locked)
				}
			}
		}
	}
}

func TestCutDoesNotMatter(t *testing.T) {
	x := sine(8000, 59.8, 3, 2)
	whole := slices.Clone(track(t, 8000, 60, x, len(x)).Cycles())
	for _, cut := range []int{1, 7, 4096} {
		if got := track(t, 8000, 60, x, cut).Cycles(); !slices.Equal(got, whole) {
			t.Errorf("cut %d changes the cycles", cut)
		}
	}
}

// The harmonics of a sum of sines are the sines themselves: a heater's current beside that of a rectifier changes the
// fundamental and not the third.
func TestThirdHarmonicIsItsOwn(t *testing.T) {
	for _, rate := range []float64{1000, 8000, 48000} {
		x := sine(rate, 60.1, 5, 3)
		third := sine(rate, 3*60.1, 1.5, 3)
		for i := range x {
			x[i] += third[i]
		}
		cycles := track(t, rate, 60, x, len(x)).Cycles()
		for _, c := range cycles[len(cycles)/2:] {
			if tol := max(0.01, 20/rate); !(math.Abs(c.ThirdA-1.5) <= tol) || !(math.Abs(c.FundA-5) <= 4*tol) {
				t.Fatalf("%g samples/s: fundamental %.4f A, third harmonic %.4f A, want 5 and 1.5", rate, c.FundA, c.ThirdA)
			}
		}
	}
}
