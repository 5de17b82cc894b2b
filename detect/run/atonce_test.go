package run_test

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"testing"
)

// TestHeardAtOnce starts a motor without an inrush, which is heard with its current. What clicks or thumps near that, far
// louder than the motor, makes it no heater; and a heater stays one.
func TestHeardAtOnce(t *testing.T) {
	const motor, none = "motor_start@5 motor_stop@15", ""
	for _, c := range []struct {
		name, want string
		runsDB     float64 // A-level with the current
		atS, lastS float64 // of a thump
	}{
		{"a click just after it", motor, 55, 5.2, 0.05},
		{"a thump that is loud when it is judged", motor, 55, 5.2, 0.4},
		{"a long one", motor, 55, 5.2, 0.6},
		{"a thump before it", motor, 50, 4.4, 0.15},
		{"no more than that thump", none, 30, 4.4, 0.15},
		{"no more than a thump after it", none, 30, 5.2, 0.2},
	} {
		t.Run(c.name, func(t *testing.T) {
			heard := func(fromS, rmsA, laDB float64) moment {
				return moment{fromS, rmsA, 0.0003, 0, laDB, laDB - 1, laDB - 12, false}
			}
			rmsA, laDB := 0.0, 30.0 // in the thump, and after it
			if c.atS > 5 {
				rmsA, laDB = 4, c.runsDB
			}
			b := bench{motor: "induction", lockedA: 28, seconds: 20, course: []moment{heard(0, 0, 30), heard(5, 4, c.runsDB), heard(15, 0, 30),
				heard(c.atS, rmsA, 85), heard(c.atS+c.lastS, rmsA, laDB)}}
			slices.SortFunc(b.course, func(a, b moment) int { return cmp.Compare(a.fromS, b.fromS) })
			if got, w := b.play(); got != c.want {
				t.Errorf("got  %s\nwant %s\n%v", got, c.want, w)
			}
		})
	}
}

// TestHeardMoreAsItRunsUp starts a motor behind a corrector, whose current shows no rectifier. What is heard with that, and
// is louder still once the first piece has struck, is heard with it no less.
func TestHeardMoreAsItRunsUp(t *testing.T) {
	at := func(fromS, rmsA, laDB float64) moment {
		return moment{fromS, rmsA, 0.0003, 0, laDB, laDB - 1, laDB - 12, false}
	}
	b := bench{motor: "permanent-magnet", ratedA: 4, lockedA: 18, seconds: 20, course: []moment{at(0, 0, 30)}}
	for age := 0.0; age < 4; age += 0.01 {
		laDB := 50.0
		switch {
		case age < 0.36:
			laDB = 46
		case age < 0.42:
			laDB = 80
		}
		b.course = append(b.course, at(5+age, 0.8+10*math.Exp(-age/0.5), laDB))
	}
	b.course = append(b.course, at(9, 0.8, 50), at(15, 0, 30))
	if got, w := b.play(); got != "motor_start@5 motor_stop@15" {
		t.Errorf("got %q\n%v", got, w)
	}
}

// TestBroughtUpGently starts a motor behind a corrector that electronics bring up: current and sound rise together for a
// second, which nothing else on the conductor does. What comes at once, or unheard, is not that.
func TestBroughtUpGently(t *testing.T) {
	const gentle, none = "motor_start@5 motor_stop@15", ""
	for _, c := range []struct {
		name, want string
		rmsA, laDB func(ageS float64) float64
	}{
		{"both rise", gentle, func(age float64) float64 { return 0.05 + 0.9*min(age, 1) }, func(age float64) float64 { return 45 + 15*min(age, 1) }},
		{"the current comes at once", none, func(age float64) float64 { return 0.95 }, func(age float64) float64 { return 45 + 6*min(age, 1) }},
		{"nothing is heard", none, func(age float64) float64 { return 0.05 + 0.9*min(age, 1) }, func(age float64) float64 { return 45 }},
	} {
		at := func(fromS, rmsA, laDB float64) moment {
			return moment{fromS, rmsA, 0.0003, 0, laDB, laDB - 1, laDB - 12, false}
		}
		b := bench{motor: "permanent-magnet", ratedA: 3, lockedA: 18, seconds: 20, course: []moment{at(0, 0, 45)}}
		for age := 0.0; age < 1.4; age += 0.01 {
			b.course = append(b.course, at(5+age, c.rmsA(age), c.laDB(age)))
		}
		b.course = append(b.course, at(6.4, 0.35, c.laDB(2)), at(15, 0, 45))
		if got, w := b.play(); got != c.want {
			t.Errorf("%s: got %q, want %q\n%v", c.name, got, c.want, w)
		}
	}
}

// TestStartsAgainWithItsThird starts a motor that has shown a little third harmonic once more, under load: as much of what it
// draws is third harmonic as before, however far it stays below a rectifier's.
func TestStartsAgainWithItsThird(t *testing.T) {
	set := setup()
	set.Unit.Motor, set.Unit.RatedCurrentA, set.Unit.LockedRotorA = "permanent-magnet", 3.3, 10.3
	draws := func(t float64) complex128 {
		switch {
		case t < 5 || t >= 18 && t < 26 || t >= 37:
			return 0
		case t < 12:
			return complex(0.5+7.5*math.Exp(-(t-5)/0.1), 0)
		case t < 26, t >= 33:
			return 1.5
		}
		return complex(1.8+6*math.Exp(-(t-26)/0.15), 0)
	}
	laDB := func(t float64) float64 {
		if draws(t) == 0 {
			return 55
		}
		return 75
	}
	w := wired{conductor: conductor{draws, func(float64) complex128 { return 0 }, laDB, false}, third: 0.08, rest: 0.1}
	if got, warnings := w.play(40, set); !strings.HasPrefix(got, "motor_start@5.0 motor_stop@18.0 motor_start@26.0") {
		t.Errorf("got %q\n%v", got, warnings)
	}
}
