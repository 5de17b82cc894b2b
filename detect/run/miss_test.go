package run_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"quern/detect/run"
	"quern/rig"
)

// TestSourceGoneAtASwitching: the source of the clamp is gone just after the motor was switched. What had been seen for long
// enough counts from its own instant; what had not, from when it is seen again.
func TestSourceGoneAtASwitching(t *testing.T) {
	for _, c := range []struct {
		name          string
		startS, stopS float64 // of the motor
		startA        float64
		fromS, toS    float64 // the source is gone
		want          string
		lost          bool // while the motor ran
	}{
		{"a soft start that was seen", 3, 20, 12, 3.06, 5, "3.0 to 20.0", true},
		{"one of which next to nothing was", 3, 20, 12, 3.02, 5, "5.0 to 20.0", false},
		{"an inrush of which as little was", 3, 20, 30, 3.02, 5, "3.0 to 20.0", true},
		{"a running motor", 3, 20, 12, 8, 10, "3.0 to 20.0", true},
		{"a stop that was seen", 3, 20, 12, 20.1, 22, "3.0 to 20.0", false},
		{"one of which next to nothing was", 3, 20, 12, 20.02, 22, "3.0 to 21.0", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := run.NewMachine(setup())
			for k := 2; k < 24*120; k++ {
				at := float64(k) / 120
				a := 0.02 + 0.001*float64(k%3)
				switch mid := at - 1.0/240; {
				case mid < c.startS || mid > c.stopS:
				case mid < c.startS+0.3:
					a = c.startA
				default:
					a = 3.9
				}
				p := a * math.Sqrt2
				m.Current(run.Current{StartS: at - 1.0/60, EndS: at, RMSA: a, SwingA: a, PeakA: p, Quarters: [4]float64{p, p, p, p}, Wave: true,
					Missing: at > c.fromS && at < c.toS})
			}
			got := ""
			for _, f := range m.Finish(24) {
				got += fmt.Sprintf("%.1f to %.1f", f.StartS(), f.EndS())
			}
			w := m.Warnings()
			if lost := slices.ContainsFunc(w, func(w rig.Warning) bool { return w.Code == "clamp-back" }); got != c.want || lost != c.lost {
				t.Errorf("got %q, want %q; lost while it ran: want %v; %v", got, c.want, c.lost, w)
			}
		})
	}
}

// TestSourceBackToARunningMotor: the clamp's source was gone while the motor was switched on. What flows when it is back,
// steadily and as loud as before, is the motor: how it began was not seen, so nothing can be said against it.
func TestSourceBackToARunningMotor(t *testing.T) {
	m := run.NewMachine(setup())
	at := 0.0
	for k := 2; k < 24*120; k++ {
		for end := float64(k) / 120; at < end; at += 0.01 {
			pa := 20e-6 * math.Pow(10, 45.0/20)
			if at > 3 && at < 20 {
				pa = 20e-6 * math.Pow(10, 75.0/20)
			}
			m.Heard(run.Heard{StartS: at, EndS: at + 0.01, EA: 0.01 * pa * pa, EC: 0.01 * pa * pa, ET: math.NaN()})
		}
		end := float64(k) / 120
		a := 0.02 + 0.001*float64(k%3)
		if end > 3 && end < 20 {
			a = 3.9 + 0.001*float64(k%3)
		}
		p := a * math.Sqrt2
		m.Current(run.Current{StartS: end - 1.0/60, EndS: end, RMSA: a, SwingA: a, PeakA: p, Quarters: [4]float64{p, p, p, p}, Wave: true,
			Missing: end > 2 && end < 6})
	}
	got := ""
	for _, f := range m.Finish(24) {
		got += fmt.Sprintf("%.1f to %.1f", f.StartS(), f.EndS())
	}
	if want := "6.0 to 20.0"; got != want {
		t.Errorf("got %q, want %q; %v", got, want, m.Warnings())
	}
}
