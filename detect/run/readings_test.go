package run_test

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"testing"

	"quern/rig"
)

// TestLongReadings tells what happened from readings so far apart that each is a mean over many tenths of a second: the
// switching within one of them, the rest within two.
func TestLongReadings(t *testing.T) {
	at := func(fromS, rmsA, ragged, aDB, cDB, topDB float64) moment {
		return moment{fromS, rmsA, ragged, 0, aDB, cDB, topDB, false}
	}
	off := at(0, 0, 0, 42, 43, 30)
	type want struct {
		kind rig.Kind
		atS  float64
	}
	for _, c := range []struct {
		name  string
		steps []float64
		want  []want
		bench
	}{
		{"load on an induction motor", []float64{0.2, 0.25, 0.5, 1}, []want{{rig.MotorStart, 3.6}, {rig.LoadStart, 10.3}, {rig.LoadEnd, 20.3}, {rig.MotorStop, 30.3}},
			bench{motor: "induction", lockedA: 25, seconds: 34, course: []moment{off,
				at(3.6, 24, 0.001, 66, 67, 55), at(4, 3.4, 0.001, 66, 67, 55), at(10.3, 4.4, 0.03, 72, 72, 70), at(20.3, 3.4, 0.001, 66, 67, 55), at(30.3, 0, 0, 42, 43, 30)}}},
		{"the same, and nothing is heard", []float64{0.2, 0.25, 0.5, 1}, []want{{rig.MotorStart, 3.6}, {rig.LoadStart, 10.3}, {rig.LoadEnd, 20.3}, {rig.MotorStop, 30.3}},
			bench{motor: "induction", lockedA: 25, seconds: 34, deaf: true, course: []moment{off,
				at(3.6, 24, 0.001, 66, 67, 55), at(4, 3.4, 0.001, 66, 67, 55), at(10.3, 4.4, 0.03, 72, 72, 70), at(20.3, 3.4, 0.001, 66, 67, 55), at(30.3, 0, 0, 42, 43, 30)}}},
		{"a start late in a reading", []float64{1}, []want{{rig.MotorStart, 3.9}, {rig.MotorStop, 20.3}},
			bench{motor: "induction", lockedA: 25, seconds: 24, course: []moment{off, at(3.9, 24, 0.001, 66, 67, 55), at(4.3, 3.4, 0.001, 66, 67, 55), at(20.3, 0, 0, 42, 43, 30)}}},
		{"electronics limit a rotor that stands", []float64{0.1, 0.2, 0.25, 0.5, 1}, []want{{rig.MotorStart, 3.3}, {rig.LoadStart, 8.3}, {rig.StallStart, 14.3}, {rig.StallEnd, 19.3}, {rig.Trip, 19.3}},
			bench{motor: "permanent-magnet", seconds: 24, course: []moment{off,
				at(3.3, 5, 0.001, 66, 67, 55), at(3.5, 1.2, 0.001, 66, 67, 55), at(8.3, 4.2, 0.05, 72, 72, 70), at(14.3, 7.5, 0.001, 48, 58, 30), at(19.3, 0, 0, 42, 43, 30)}}},
		{"a jog", []float64{0.5}, []want{{rig.MotorStart, 3.1}, {rig.MotorStop, 4.1}, {rig.MotorStart, 8.1}, {rig.MotorStop, 16.1}},
			bench{motor: "induction", lockedA: 25, seconds: 20, deaf: true, course: []moment{off,
				at(3.1, 24, 0.001, 0, 0, 0), at(3.5, 3.4, 0.001, 0, 0, 0), at(4.1, 0, 0, 0, 0, 0), at(8.1, 24, 0.001, 0, 0, 0), at(8.5, 3.4, 0.001, 0, 0, 0), at(16.1, 0, 0, 0, 0, 0)}}},
		{"a kettle in silence before the motor", []float64{0.05, 0.2, 0.5}, []want{{rig.MotorStart, 8.3}, {rig.MotorStop, 18.3}},
			bench{motor: "induction", lockedA: 25, seconds: 22, course: []moment{off,
				at(2.3, 12, 0.001, 42, 43, 30), at(4.6, 0, 0, 42, 43, 30), at(8.3, 3.4, 0.001, 66, 67, 55), at(18.3, 0, 0, 42, 43, 30)}}},
		{"a kettle outlives the motor, which a tap drowned", []float64{0.02, 0.03, 0.04}, []want{{rig.MotorStart, 3.3}, {rig.MotorStop, 20.3}},
			bench{motor: "induction", lockedA: 25, seconds: 26, course: []moment{off, at(3.3, 24, 0.001, 62, 63, 50), at(3.7, 3.4, 0.001, 62, 63, 50), at(6, 3.4, 0.001, 66.5, 67, 62),
				at(12.3, 5.33, 0.001, 66.5, 67, 62), at(20.3, 4.1, 0.001, 65, 65.5, 62), at(21.6, 4.1, 0.001, 42, 43, 30)}}},
	} {
		for _, step := range c.steps {
			t.Run(fmt.Sprintf("%s, %g s", c.name, step), func(t *testing.T) {
				b := c.bench
				b.stepS = step
				runs, w := b.runs()
				var got []rig.Event
				for _, r := range runs {
					got = append(got, r.Events...)
				}
				ok := len(got) == len(c.want)
				for i := 0; ok && i < len(got); i++ {
					within := step + 0.1
					if k := c.want[i].kind; k == rig.LoadStart || k == rig.LoadEnd {
						within += 1
					}
					ok = got[i].Kind == c.want[i].kind && math.Abs(got[i].AtS.V-c.want[i].atS) <= within
				}
				for _, e := range got {
					if step > 0.1 && e.WithinS.V < step-1e-6 {
						t.Errorf("%s at %.2f s is said to lie within %g s", e.Kind, e.AtS.V, e.WithinS.V)
					}
				}
				if !ok {
					t.Errorf("got %v\nwant %v\n%v", kinds(got), c.want, w)
				}
			})
		}
	}
}

func kinds(es []rig.Event) (out []string) {
	for _, e := range es {
		out = append(out, fmt.Sprintf("%s@%.2f", e.Kind, e.AtS.V))
	}
	return out
}

// TestStopWithinReadings places a stop by what is left of the current in the readings that hold it.
func TestStopWithinReadings(t *testing.T) {
	for _, stopS := range []float64{12.05, 12.2, 12.45} {
		b := bench{motor: "permanent-magnet", stepS: 0.5, seconds: 16, deaf: true, course: []moment{{}, {3, 2, 0.002, 0, 0, 0, 0, false}, {stopS, 0, 0, 0, 0, 0, 0, false}}}
		runs, _ := b.runs()
		if len(runs) != 1 || !(math.Abs(runs[0].EndS()-stopS) <= 0.05) {
			t.Errorf("stopped at %g s: got %v", stopS, runs)
		}
	}
}

// TestStampsOfReadings: a meter may stamp its mean at the beginning or at the end of the second it is over. The current
// then comes a whole reading before it is heard, or after.
func TestStampsOfReadings(t *testing.T) {
	for _, motor := range []string{"permanent-magnet", "universal"} {
		for _, lateS := range []float64{-1, 0, 1} {
			b := bench{motor: motor, stepS: 1, seconds: 26}
			heard := func(atS float64) (aDB, cDB, topDB float64) {
				if atS >= 6.85 && atS < 20.4 {
					return 66, 65, 55
				}
				return 50, 48, 40
			}
			for _, atS := range []float64{0, 6.85 - lateS, 6.85, 20.4 - lateS, 20.4} {
				m := moment{fromS: atS, ragged: 0.002}
				if m.aDB, m.cDB, m.topDB = heard(atS); atS >= 6.85-lateS && atS < 20.4-lateS {
					m.rmsA = 1.2
				}
				b.course = append(b.course, m)
			}
			slices.SortStableFunc(b.course, func(a, b moment) int { return cmp.Compare(a.fromS, b.fromS) })
			runs, w := b.runs()
			if len(runs) != 1 || len(runs[0].On) != 1 || !(math.Abs(runs[0].StartS()-(6.85-lateS)) <= 1.1) || !(math.Abs(runs[0].EndS()-(20.4-lateS)) <= 1.1) {
				t.Errorf("%s heard %g s late: %+v %v", motor, lateS, runs, w)
			}
		}
	}
}

// TestMeterThatForgetsSlowly averages the readings so that they take half a second to fall: no other appliance goes on
// flowing when the motor stops, and one that does still is told.
func TestMeterThatForgetsSlowly(t *testing.T) {
	for _, deaf := range []bool{true, false} {
		for _, restA := range []float64{0, 0.8} {
			b := bench{motor: "induction", lockedA: 25, stepS: 0.25, seconds: 20, deaf: deaf,
				course: []moment{{0, 0, 0, 0, 42, 43, 30, false}, {3, 24, 0.001, 0, 66, 67, 55, false}, {3.4, 3.4, 0.001, 0, 66, 67, 55, false}}}
			for age := 0.0; age < 3; age += 0.01 {
				b.course = append(b.course, moment{11.9 + age, restA + (3.4-restA)*math.Exp(-age/0.4), 0, 0, 42, 43, 30, false})
			}
			got, w := b.play()
			others := slices.ContainsFunc(w, func(w rig.Warning) bool { return w.Code == "other-appliance" })
			if got != "motor_start@3 motor_stop@12" || others != (restA > 0) {
				t.Errorf("deaf %v, %g A of another appliance: %s, %v", deaf, restA, got, w)
			}
		}
	}
}

// TestHeaterThatCameWithFood: between two readings comes what is switched on, and goes again, by as much; what loads an
// induction motor takes several readings to slow it down.
func TestHeaterThatCameWithFood(t *testing.T) {
	for _, c := range []struct {
		name    string
		slowS   float64 // over which the current comes and goes
		overs   int
		quieter bool // sound goes on as it was at its end
	}{{"a heater", 0, 0, true}, {"a heater, heard at both ends", 0, 1, false}, {"a tough mass", 0.11, 1, true}} {
		at := func(fromS, rmsA, aDB float64) moment {
			return moment{fromS, rmsA, 0.002, 0, aDB, aDB + 1, aDB - 10, false}
		}
		b := bench{motor: "induction", lockedA: 25, stepS: 0.03, seconds: 26, course: []moment{at(0, 0, 42), at(3.3, 24, 66), at(3.7, 3.4, 66)}}
		ramp := func(fromS, a0, a1, aDB float64) {
			for age := 0.0; age < c.slowS; age += 0.03 {
				b.course = append(b.course, at(fromS+age, a0+(a1-a0)*age/c.slowS, aDB))
			}
			b.course = append(b.course, at(fromS+c.slowS, a1, aDB))
		}
		ramp(8.3, 3.4, 9.5, 73)
		end := 73.0
		if c.quieter {
			b.course = append(b.course, at(11.3, 9.5, 66))
			end = 66
		}
		b.course = append(b.course, at(14.2, 9.5, end))
		ramp(14.3, 9.5, 3.4, 66)
		b.course = append(b.course, at(22.3, 0, 42))
		runs, w := b.runs()
		n := 0
		for _, r := range runs {
			for _, e := range r.Events {
				if e.Kind == rig.OverloadStart {
					n++
				}
			}
		}
		if len(runs) != 1 || n != c.overs {
			t.Errorf("%s: %d overloads, want %d: %v %v", c.name, n, c.overs, runs, w)
		}
	}
}

// TestZeroOfAMeter: a meter that shows nothing while nothing flows was not unplugged because it shows nothing after a stop.
func TestZeroOfAMeter(t *testing.T) {
	noise := moment{fromS: 0, rmsA: 0.1, ragged: 0.01}
	for _, c := range []struct {
		name, want string
		noisyS     float64 // s for which it shows noise at first
	}{
		{"of noise below its last digit", "", 2},
		{"of noise that it shows", "clamp-quiet", 10},
	} {
		b := bench{motor: "universal", stepS: 1, digitA: 0.1, deaf: true, seconds: 46,
			course: []moment{noise, {fromS: c.noisyS}, {fromS: 10, rmsA: 3, ragged: 0.01}, {fromS: 30.4}}}
		got, warnings := b.play()
		said := ""
		for _, w := range warnings {
			said += w.Code
		}
		if got != "motor_start@10 motor_stop@30" || said != c.want {
			t.Errorf("a meter %s: %s, %q, want %q", c.name, got, said, c.want)
		}
	}
}
