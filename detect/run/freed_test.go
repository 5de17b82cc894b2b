package run_test

import (
	"math"
	"testing"
)

// TestRotorFreed lets the rotor of an invented induction motor of 6 A break free at 11 s. Its current creeps down at first and
// falls only when it has nearly run up; what it grinds then may lift it once more on the way.
func TestRotorFreed(t *testing.T) {
	for _, c := range []struct {
		name   string
		againA float64 // by which it rises on the way, for a tenth of a second
	}{
		{"its current pauses on the way", 0},
		{"it grinds as it speeds up", 1.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			motor := func(at float64) complex128 {
				amps := 3.9
				switch lag := at - 11; {
				case at < 3 || at >= 20:
					return 0
				case at < 3.3, at >= 8 && at < 11:
					amps = 30
				case at >= 11 && lag < 0.45:
					amps = 30 - 12*math.Pow(lag/0.45, 3)
				case at >= 11 && lag < 0.55:
					amps = 18 + c.againA*math.Sin(math.Pi*(lag-0.45)/0.1)
				case at >= 11 && lag < 0.7:
					amps = 18 - 14.1*(lag-0.55)/0.15
				}
				return complex(amps, 0)
			}
			none := func(float64) complex128 { return 0 }
			sound := steps(0.05, stretch{3, 45}, stretch{8, 70}, stretch{11, 58}, stretch{20, 78}, stretch{40, 45})
			set := of("induction")
			set.Unit.LockedRotorA = 30
			got, w := conductor{motor, none, sound, false}.play(28, set)
			if want := "motor_start@3.0 stall_start@8.0 stall_end@11.1 motor_stop@20.0"; got != want {
				t.Errorf("got  %s\nwant %s\n%v", got, want, w)
			}
		})
	}
}

// TestStandsWithMore: electronics that push a rotor that stands a little harder have not freed it; it would be heard.
func TestStandsWithMore(t *testing.T) {
	at := func(fromS, rmsA, aDB float64) moment {
		return moment{fromS, rmsA, 0.0005, 0.57, aDB, aDB + 4, aDB - 12, false}
	}
	b := bench{motor: "permanent-magnet", seconds: 26, course: []moment{at(0, 0, 35), at(3, 3, 70), at(3.5, 0.8, 66), at(12, 4.6, 50)}}
	for s := 0.0; s < 0.5; s += 0.02 {
		b.course = append(b.course, at(14+s, 4.6+3*s, 50))
	}
	b.course = append(b.course, moment{14.5, 6.1, 0.05, 0.57, 50, 54, 38, false}, at(16, 0.8, 66), at(20, 0, 35)) // and its current ripples
	if got, w := b.play(); got != "motor_start@3 stall_start@12 stall_end@16 motor_stop@20" {
		t.Errorf("got %s\n%v", got, w)
	}
}

// TestFreedAndGrindsHard: a rotor that has broken free and grinds on draws more than half of what it did while it stood, but is
// heard at once; copper that heats while it stands draws ever less, and is not.
func TestFreedAndGrindsHard(t *testing.T) {
	at := func(fromS, rmsA, dev, aDB float64) moment {
		return moment{fromS, rmsA, dev, 0, aDB, aDB + 4, aDB - 12, false}
	}
	b := bench{motor: "universal", ratedA: 4, lockedA: 9.4, seconds: 24, course: []moment{at(0, 0, 0.0005, 35), at(3, 9, 0.0005, 60), at(3.3, 2.5, 0.004, 66)}}
	for s := 0.0; s < 3; s += 0.1 {
		b.course = append(b.course, at(10+s, 9.4-0.8*s, 0.0005, 56))
	}
	b.course = append(b.course, at(13, 5.8, 0.05, 72), at(14.5, 2.5, 0.004, 66), at(20, 0, 0.0005, 35))
	if got, w := b.play(); got != "motor_start@3 stall_start@10 stall_end@13 motor_stop@20" {
		t.Errorf("got %s\n%v", got, w)
	}
}
