package run_test

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"quern/detect/run"
	"quern/rig"
)

// moment is what a bench shows from an instant on. All its figures are invented.
type moment struct {
	fromS           float64
	rmsA, ragged    float64 // current, and how far its cycles scatter about it, as a share
	third           float64 // third harmonic over fundamental
	aDB, cDB, topDB float64 // A- and C-level, and that above 4 kHz
	dead            bool    // the clamp gives nothing at all
}

// bench is a motor of 5 A before a clamp and a microphone.
type bench struct {
	motor   string
	lockedA float64
	ratedA  float64 // 0: 5
	stepS   float64 // between readings; 0: a waveform at 60 Hz
	digitA  float64 // that readings are rounded to; 0: they are not
	meterS  float64 // time constant by which a meter averages the square; 0: it does not
	shownN  int     // readings for which a display stays; 0: it does not
	deaf    bool
	diesS   float64                    // the microphone gives nothing from then on; 0: it does
	fall    func(ageS float64) float64 // current of a start, over what it settles at
	course  []moment
	seconds float64
	decided func(atS, decidedS float64)  // told after each record; nil: not
	now     func(atS float64, n run.Now) // told after each record what is shown; nil: not
}

func (b *bench) at(t float64) (m moment) {
	for _, x := range b.course {
		if t >= x.fromS {
			m = x
		}
	}
	return m
}

func (b *bench) play() (events string, warnings []rig.Warning) {
	runs, warnings := b.runs()
	var got []string
	for _, r := range runs {
		for _, e := range r.Events {
			if e.Kind != rig.LoadStart && e.Kind != rig.LoadEnd {
				got = append(got, fmt.Sprintf("%s@%.0f", e.Kind, e.AtS.V))
			}
		}
	}
	return strings.Join(got, " "), warnings
}

// loads returns the events of the load.
func (b *bench) loads() (out []rig.Event) {
	runs, _ := b.runs()
	for _, r := range runs {
		for _, e := range r.Events {
			if e.Kind == rig.LoadStart || e.Kind == rig.LoadEnd {
				out = append(out, e)
			}
		}
	}
	return out
}

func (b *bench) runs() ([]run.Found, []rig.Warning) {
	rng := rand.New(rand.NewPCG(5, 6))
	set := setup()
	set.Unit.Motor, set.Unit.RatedCurrentA, set.Unit.LockedRotorA = b.motor, cmp.Or(b.ratedA, 5), b.lockedA
	m := run.NewMachine(set)
	step, window := 1.0/120, 1.0/60
	if b.stepS > 0 {
		step, window = b.stepS, b.stepS
	}
	heard, diesS, averaged, shown := 0, 0.0, 0.0, 0.0
	for k := 2; float64(k)*step < b.seconds; k++ {
		t := float64(k) * step
		for ; !b.deaf && float64(heard)/100+0.01 <= t; heard++ {
			at := float64(heard) / 100
			x := b.at(at)
			e := func(db float64) float64 {
				return 0.01 * 4e-10 * math.Pow(10, (db+0.2*rng.NormFloat64())/10)
			}
			h := run.Heard{StartS: at, EndS: at + 0.01, EA: e(x.aDB), EC: e(x.cDB), ET: e(x.topDB)}
			if b.diesS > 0 && at >= b.diesS {
				h = run.Heard{StartS: at, EndS: at + 0.01, Dead: true}
			}
			m.Heard(h)
		}
		sq := 0.0 // a window may hold an edge
		for i := range 20 {
			at := t - window + (float64(i)+0.5)/20*window
			x := b.at(at)
			r := x.rmsA
			if b.fall != nil && r > 0 {
				r *= b.fall(at - x.fromS)
			}
			sq += r * r / 20
		}
		if averaged += (sq - averaged) * (1 - math.Exp(-step/b.meterS)); b.meterS > 0 {
			sq = averaged
		}
		x := b.at(t - window/2)
		v := math.Hypot(math.Sqrt(sq)*(1+x.ragged*rng.NormFloat64()), 0.03*(1+0.1*rng.NormFloat64()))
		if b.digitA > 0 {
			v = b.digitA * math.Round(v/b.digitA)
		}
		if b.shownN > 0 && k%b.shownN > 0 {
			v = shown
		}
		shown = v
		swing := v
		if !x.dead {
			diesS = t
		} else { // what is left of its offset dies away
			v, swing = 1.5*math.Exp(-(t-diesS)/0.5), 0
		}
		crest := math.Sqrt2 + 0.9*x.third
		c := run.Current{StartS: t - window, EndS: t, RMSA: v, SwingA: swing, PeakA: crest * v, Wave: b.stepS == 0, FundA: math.NaN(), ThirdA: math.NaN()}
		if c.Wave {
			c.FundA = v / math.Hypot(1, x.third)
			c.ThirdA = x.third * c.FundA
			p := c.PeakA
			c.Quarters = [4]float64{p, p, p, p}
		}
		m.Current(c)
		if b.decided != nil {
			b.decided(t, m.DecidedS())
		}
		if b.now != nil {
			b.now(t, m.Now(t, false))
		}
	}
	runs := m.Finish(b.seconds)
	return runs, m.Warnings()
}

// TestStandsLocked tells a rotor that stands from one that creeps, from another appliance and from a dead clamp.
func TestStandsLocked(t *testing.T) {
	const pm, series = "permanent-magnet", "universal"
	off := moment{0, 0, 0, 0, 45, 45, 30, false}
	empty := moment{3, 1.2, 0.004, 0.85, 66, 66, 56, false} // before electronics
	grinds := moment{8, 3.5, 0.08, 0.75, 74, 73, 66, false}
	stops := moment{23, 0, 0, 0, 45, 45, 30, false}
	spins := moment{3, 2, 0.004, 0.06, 66, 66, 56, false} // a series motor
	bites := moment{8, 3, 0.05, 0.06, 68, 68, 60, false}
	with := func(ms ...moment) []moment { return append([]moment{off, empty, grinds}, ms...) }
	series2 := func(ms ...moment) []moment { return append([]moment{off, spins, bites}, ms...) }
	for _, c := range []struct {
		name, want, warning string
		bench
	}{
		{"locked while somebody talks", "motor_start@3 stall_start@20 stall_end@21 motor_stop@21", "",
			bench{motor: pm, seconds: 26, course: with(moment{20, 10, 0.0003, 0.66, 67, 67, 50, false}, moment{21, 0, 0, 0, 67, 67, 50, false}, moment{22, 0, 0, 0, 45, 45, 30, false})}},
		{"locked, and nothing is heard", "motor_start@3 stall_start@20 stall_end@21 motor_stop@21", "",
			bench{motor: pm, seconds: 26, deaf: true, course: with(moment{20, 5.2, 0.0003, 0.66, 0, 0, 0, false}, moment{21, 0, 0, 0, 0, 0, 0, false})}},
		{"locked beside a tap that was opened while it ground, louder than it runs empty", "motor_start@3 stall_start@20 stall_end@22 motor_stop@22", "",
			bench{motor: pm, seconds: 26, course: with(moment{12, 3.5, 0.08, 0.75, 73, 73, 65, false}, moment{20, 10, 0.0003, 0.66, 71, 71, 64, false}, moment{22, 0, 0, 0, 71, 71, 64, false})}},
		{"a steady overload that is no louder than it runs empty", "motor_start@3 overload_start@12 overload_end@23 trip@23", "",
			bench{motor: pm, seconds: 26, course: with(moment{12, 5.9, 0.08, 0.75, 74, 73, 66, false}, moment{17, 6.9, 0.0003, 0.66, 66.5, 66.5, 58, false}, stops)}},
		{"a steady overload that is still a little louder than it runs empty", "motor_start@3 overload_start@17 overload_end@23 trip@23", "",
			bench{motor: pm, seconds: 26, course: []moment{off, empty, {8, 3.5, 0.08, 0.75, 68.5, 68.5, 60, false}, {17, 7, 0.0003, 0.66, 66.5, 66.5, 58, false}, stops}}},
		{"a steady overload that sounds as it did before", "motor_start@3 overload_start@17 overload_end@23 trip@23", "",
			bench{motor: pm, seconds: 26, course: []moment{off, empty, {8, 4, 0.03, 0.85, 66, 66, 56, false}, {17, 8, 0.0003, 0.85, 66, 66, 56, false}, stops}}},
		{"as still, but far from what the nameplate's locked rotor draws", "motor_start@3 overload_start@17 overload_end@23 trip@23", "",
			bench{motor: pm, lockedA: 25, seconds: 26, course: with(moment{17, 7, 0.0003, 0.66, 62, 62, 50, false}, stops)}},
		{"the same, and nothing is known of that", "motor_start@3 stall_start@17 stall_end@23 trip@23", "",
			bench{motor: pm, seconds: 26, course: with(moment{17, 7, 0.0003, 0.66, 62, 62, 50, false}, stops)}},
		{"creeps, quieter than empty", "motor_start@3 overload_start@17 overload_end@23 trip@23", "",
			bench{motor: pm, seconds: 26, course: with(moment{17, 8, 0.004, 0.66, 62, 62, 54, false}, stops)}},
		{"creeps, then locks for a moment", "motor_start@3 overload_start@17 stall_start@22 overload_end@22 stall_end@23 motor_stop@23", "",
			bench{motor: pm, seconds: 26, course: with(moment{17, 8, 0.004, 0.66, 62, 62, 54, false}, moment{22, 12, 0.0003, 0.66, 50, 50, 40, false}, stops)}},
		{"a sine on top is no locked rotor", "motor_start@3 motor_stop@23", "other-appliance",
			bench{motor: pm, seconds: 26, course: []moment{off, empty, {8, 4.8, 0.0003, 0.2, 66, 66, 56, false}, {23, 3.8, 0.0003, 0, 45, 45, 30, false}}}},
		{"locked by readings, no nameplate, beside a tap", "motor_start@3 stall_start@17 stall_end@23 trip@23", "",
			bench{motor: series, seconds: 26, stepS: 0.033, course: series2(moment{17, 20, 0.04, 0, 66, 68, 56, false}, stops)}},
		{"locked by readings, and nothing is heard", "motor_start@3 stall_start@17 stall_end@23 trip@23", "",
			bench{motor: pm, seconds: 26, stepS: 0.05, deaf: true, course: with(moment{17, 18, 0.0003, 0.66, 0, 0, 0, false}, stops)}},
		{"heavy grinding by readings, and nothing is heard", "motor_start@3 overload_start@17 overload_end@23 trip@23", "",
			bench{motor: pm, seconds: 26, stepS: 0.05, deaf: true, course: with(moment{17, 9, 0.0003, 0.66, 0, 0, 0, false}, stops)}},
		{"little more than heavy grinding draws, and hushed", "motor_start@3 stall_start@17 stall_end@19 motor_stop@19", "",
			bench{motor: series, lockedA: 11, seconds: 26, course: series2(moment{17, 10, 0.003, 0.06, 57, 62, 48, false}, moment{19, 0, 0, 0, 45, 45, 30, false})}},
		{"as much, and nothing is heard", "motor_start@3 stall_start@17 stall_end@19 motor_stop@19", "",
			bench{motor: series, lockedA: 11, seconds: 26, deaf: true, course: series2(moment{17, 10, 0.003, 0.06, 0, 0, 0, false}, moment{19, 0, 0, 0, 0, 0, 0, false})}},
		{"as much of grinding that is heard", "motor_start@3 motor_stop@18", "",
			bench{motor: series, lockedA: 11, seconds: 26, course: series2(moment{16.5, 10, 0.003, 0.06, 72, 72, 62, false}, moment{18, 0, 0, 0, 45, 45, 30, false})}},
		{"grinding that is heard and then locks", "motor_start@3 stall_start@17 stall_end@19 motor_stop@19", "",
			bench{motor: series, lockedA: 11, seconds: 26, course: series2(moment{16.2, 8, 0.08, 0.06, 72, 72, 62, false}, moment{17.2, 10.5, 0.003, 0.06, 57, 62, 48, false}, moment{19, 0, 0, 0, 45, 45, 30, false})}},
		{"stops by readings beside an appliance that goes soon after", "motor_start@3 motor_stop@20", "",
			bench{motor: series, seconds: 26, stepS: 0.07, course: []moment{off, spins, {12, 4, 0.004, 0.06, 66, 66, 56, false}, {20, 2, 0.004, 0, 45, 45, 30, false}, {20.8, 0, 0, 0, 45, 45, 30, false}}}},
		{"an appliance goes by readings soon before it stops", "motor_start@3 motor_stop@21", "",
			bench{motor: series, seconds: 26, stepS: 0.07, course: []moment{off, spins, {12, 4, 0.004, 0.06, 66, 66, 56, false}, {20, 2, 0.004, 0, 66, 66, 56, false}, {20.8, 0, 0, 0, 45, 45, 30, false}}}},
		{"the same, and it was quieter just before", "motor_start@3 motor_stop@21", "",
			bench{motor: series, seconds: 26, stepS: 0.07, course: []moment{off, spins, {12, 4, 0.004, 0.06, 74, 74, 66, false}, {20, 2, 0.004, 0, 66, 66, 56, false}, {20.8, 0, 0, 0, 45, 45, 30, false}}}},
		{"an appliance goes by readings while the rotor stands", "motor_start@3 stall_start@17 stall_end@21 trip@21", "",
			bench{motor: series, seconds: 26, stepS: 0.07, course: series2(moment{17, 26, 0.004, 0, 50, 60, 30, false}, moment{20, 20, 0.004, 0, 50, 60, 30, false}, moment{20.8, 0, 0, 0, 45, 45, 30, false})}},
		{"electronics limit the current of an overloaded rotor when it locks", "motor_start@3 overload_start@12 stall_start@20 overload_end@20 stall_end@21 motor_stop@21", "",
			bench{motor: pm, seconds: 26, course: with(moment{12, 9, 0.08, 0.75, 74, 73, 66, false}, moment{20, 5, 0.0003, 0.66, 50, 60, 30, false}, moment{20.8, 0, 0, 0, 45, 45, 30, false})}},
		{"a lull by readings is no stall", "motor_start@3 motor_stop@23", "",
			bench{motor: series, lockedA: 20, seconds: 26, stepS: 0.083, course: series2(moment{17, 3.9, 0.02, 0, 58, 57, 48, false}, stops)}},
		{"a failed start by readings, given up", "motor_start@3 stall_start@3 stall_end@4 motor_stop@4", "",
			bench{motor: series, lockedA: 20, seconds: 8, stepS: 0.022, course: []moment{off, {3, 19, 0.03, 0, 46, 60, 30, false}, {3.988, 0, 0, 0, 45, 45, 30, false}}}},
		{"a creeping rotor that locks is no appliance", "motor_start@3 overload_start@17 stall_start@20 overload_end@20 stall_end@25 trip@25", "",
			bench{motor: series, lockedA: 20, seconds: 28, course: series2(moment{17, 8.2, 0.012, 0.06, 58, 58, 48, false}, moment{20, 18.5, 0.003, 0.06, 57, 62, 47, false}, moment{25, 0, 0, 0, 45, 45, 30, false})}},
		{"the clamp dies for a while", "motor_start@3 motor_stop@23", "clamp-lost",
			bench{motor: series, lockedA: 20, seconds: 26, course: series2(moment{14, 0, 0, 0, 68, 68, 60, true}, moment{16, 3, 0.05, 0.06, 68, 68, 60, false}, stops)}},
		{"the clamp dies while the rotor is locked", "motor_start@3 stall_start@13 stall_end@19 motor_stop@23", "clamp-lost",
			bench{motor: series, lockedA: 20, seconds: 26, course: series2(moment{13, 19, 0.003, 0.06, 57, 62, 48, false}, moment{14, 0, 0, 0, 57, 62, 48, true}, moment{18, 18, 0.003, 0.06, 57, 62, 48, false}, moment{19, 3, 0.05, 0.06, 68, 68, 60, false}, stops)}},
		{"the clamp dies while the rotor is locked, and it turns when the clamp is back", "motor_start@3 stall_start@13 stall_end@18 motor_stop@23", "clamp-lost",
			bench{motor: series, lockedA: 20, seconds: 26, course: series2(moment{13, 19, 0.003, 0.06, 57, 62, 48, false}, moment{14, 0, 0, 0, 57, 62, 48, true}, moment{18, 3, 0.05, 0.06, 68, 68, 60, false}, stops)}},
		{"the clamp dies while the rotor is locked, and then the protector opens", "motor_start@3 stall_start@13 stall_end@18 trip@18", "clamp-lost",
			bench{motor: series, lockedA: 20, seconds: 26, course: series2(moment{13, 19, 0.003, 0.06, 57, 62, 48, false}, moment{14, 0, 0, 0, 57, 62, 48, true}, moment{17, 18, 0.003, 0.06, 57, 62, 48, false}, moment{18, 0, 0, 0, 45, 45, 30, false})}},
		{"the clamp dies, the rotor locks, and the protector opens soon after the clamp is back", "motor_start@3 motor_stop@16 motor_start@19 stall_start@19 stall_end@21 trip@21", "clamp-lost",
			bench{motor: series, lockedA: 20, seconds: 26, course: series2(moment{13, 0, 0, 0, 68, 68, 60, true}, moment{16, 0, 0, 0, 50, 62, 35, true}, moment{19, 18, 0.003, 0.06, 50, 62, 35, false}, moment{21, 0, 0, 0, 45, 45, 30, false})}},
		{"the clamp dies, the motor is switched off, and a failed start is given up when the clamp is back", "motor_start@3 motor_stop@16 motor_start@19 stall_start@19 stall_end@21 motor_stop@21", "clamp-lost",
			bench{motor: series, lockedA: 20, seconds: 26, course: series2(moment{13, 0, 0, 0, 68, 68, 60, true}, moment{16, 0, 0, 0, 50, 51, 35, true}, moment{19, 18, 0.003, 0.06, 50, 62, 35, false}, moment{21, 0, 0, 0, 45, 45, 30, false})}},
		{"the clamp dies, and is back just after the rotor has locked", "motor_start@3 motor_stop@13 motor_start@19 stall_start@19 stall_end@21 motor_stop@21", "",
			bench{motor: series, lockedA: 20, seconds: 26, course: series2(moment{13, 0, 0, 0, 63, 65, 60, true}, moment{18.4, 0, 0, 0, 50, 65, 35, true}, moment{19.4, 18, 0.003, 0.06, 50, 65, 35, false}, moment{21, 0, 0, 0, 45, 45, 30, false})}},
		{"a motor beside another that hums is switched off, and a failed start is given up", "motor_start@3 motor_stop@16 motor_start@19 stall_start@19 stall_end@21 motor_stop@21", "",
			bench{motor: series, lockedA: 20, seconds: 26, course: series2(moment{14, 3, 0.05, 0.06, 68, 68, 60, false}, moment{16, 0, 0, 0, 50, 62, 35, false}, moment{19, 18, 0.003, 0.06, 50, 62, 35, false}, moment{21, 0, 0, 0, 45, 45, 30, false})}},
		{"the clamp dies, the load goes, and the motor is switched off later", "motor_start@3 motor_stop@23", "clamp-lost",
			bench{motor: pm, seconds: 30, course: with(moment{14, 0, 0, 0, 74, 73, 66, true}, moment{18, 0, 0, 0, 66, 66, 56, true}, moment{23, 0, 0, 0, 45, 45, 30, true})}},
		{"the clamp comes off, and the motor is switched off later", "motor_start@3 motor_stop@23", "clamp-lost",
			bench{motor: series, lockedA: 20, seconds: 26, course: []moment{off, spins, {14, 0, 0, 0, 66, 66, 56, false}, stops}}},
		{"the clamp comes off and is put back", "motor_start@3 motor_stop@23", "clamp-lost",
			bench{motor: series, lockedA: 20, seconds: 26, course: []moment{off, spins, {14, 0, 0, 0, 66, 66, 56, false}, {16, 2, 0.004, 0.06, 66, 66, 56, false}, stops}}},
		{"the clamp comes off, is put back, and slips off again at once", "motor_start@3 motor_stop@23", "clamp-lost",
			bench{motor: series, lockedA: 20, seconds: 26, course: []moment{off, spins, {14, 0, 0, 0, 66, 66, 56, false}, {16, 2, 0.004, 0.06, 66, 66, 56, false}, {16.6, 0, 0, 0, 66, 66, 56, false}, stops}}},
		{"stops beside a tap that was opened later and is louder", "motor_start@3 motor_stop@14", "",
			bench{motor: series, lockedA: 20, seconds: 26, course: []moment{off, spins, {10, 2, 0.004, 0.06, 71, 71, 66, false}, {14, 0, 0, 0, 70.5, 70.5, 66, false}, {18, 0, 0, 0, 45, 45, 30, false}}}},
		{"stops beside a tap that was opened later and is as loud", "motor_start@3 motor_stop@14", "",
			bench{motor: series, lockedA: 20, seconds: 26, course: []moment{off, spins, {10, 2, 0.004, 0.06, 69, 69, 60, false}, {14, 0, 0, 0, 66, 66, 57, false}, {18, 0, 0, 0, 45, 45, 30, false}}}},
		{"stops, locked, beside somebody as loud as it ran", "motor_start@3 stall_start@17 stall_end@19 motor_stop@19", "",
			bench{motor: pm, seconds: 26, course: []moment{off, empty, {8, 3.5, 0.08, 0.75, 66, 66, 56, false}, {17, 7, 0.0003, 0.66, 62, 62, 50, false}, {18, 7, 0.0003, 0.66, 66, 66, 56, false}, {19, 0, 0, 0, 66, 66, 56, false}, {23, 0, 0, 0, 45, 45, 30, false}}}},
		{"the clamp dies beside lamps", "motor_start@3 motor_stop@23", "clamp-lost",
			bench{motor: series, lockedA: 20, seconds: 26, course: []moment{{0, 0.5, 0.05, 0, 45, 45, 30, false}, spins, bites, {14, 0, 0, 0, 68, 68, 60, true}, {16, 3, 0.05, 0.06, 68, 68, 60, false}, {23, 0.5, 0.05, 0, 45, 45, 30, false}}}},
		{"lamps burn from the first second on, and nothing is heard", "motor_start@3 motor_stop@23", "",
			bench{motor: series, lockedA: 20, seconds: 26, deaf: true, course: []moment{{0, 0.35, 0.05, 0, 0, 0, 0, false}, spins, bites, {23, 0.35, 0.05, 0, 0, 0, 0, false}}}},
		{"the clamp dies in an overload", "motor_start@3 overload_start@13 overload_end@17 motor_stop@23", "clamp-lost",
			bench{motor: series, lockedA: 20, seconds: 26, course: series2(moment{13, 8, 0.03, 0.06, 68, 68, 60, false}, moment{14, 0, 0, 0, 68, 68, 60, true}, moment{16, 8, 0.03, 0.06, 68, 68, 60, false}, moment{17, 3, 0.05, 0.06, 68, 68, 60, false}, stops)}},
		{"the clamp is back without a current, beside a tap", "motor_start@3 motor_stop@16 motor_start@23 motor_stop@29", "clamp-back",
			bench{motor: series, lockedA: 20, seconds: 32, course: series2(moment{14, 0, 0, 0, 68, 68, 60, true}, moment{18, 0, 0, 0, 68, 68, 60, false}, moment{23, 3, 0.01, 0.06, 69, 69, 60, false}, moment{29, 0, 0, 0, 45, 45, 30, false})}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, warnings := c.play()
			if got != c.want {
				t.Errorf("got  %s\nwant %s\n%v", got, c.want, warnings)
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

// TestRunsUpUnheard starts a series motor beside something louder: its current tells it from a compressor's.
func TestRunsUpUnheard(t *testing.T) {
	loud := moment{0, 0, 0, 0, 55, 55, 44, false}
	b := bench{motor: "universal", lockedA: 20, seconds: 12, course: []moment{loud, {5, 2, 0.004, 0.06, 55, 55, 44, false}, {10, 0, 0, 0, 55, 55, 44, false}}}
	b.fall = func(age float64) float64 { return 1 + 3*math.Exp(-age/0.06) + 0.3*math.Exp(-age/0.5) }
	if got, w := b.play(); got != "motor_start@5 motor_stop@10" {
		t.Errorf("a run-up that is not heard: got %q, want a start at 5 s and a stop at 10 s; %v", got, w)
	}
	b.fall = func(age float64) float64 { return 1 + 4.5/(1+math.Exp((age-0.35)/0.04)) }
	b.course[1].rmsA = 1.4
	if got, w := b.play(); got != "" {
		t.Errorf("a compressor: got %q, want nothing; %v", got, w)
	}
}

// TestCoastsLong stops a series motor whose rotor is heard to coast for seconds, while the converter's steps hide the clamp's
// noise, and ran up as faintly: a dead clamp beside a motor that runs on leaves a sound that stays.
func TestCoastsLong(t *testing.T) {
	b := bench{motor: "universal", lockedA: 20, seconds: 26, course: []moment{{0, 0, 0, 0, 45, 45, 30, false}, {3, 2, 0.004, 0.06, 56, 56, 46, false}, {5, 2, 0.004, 0.06, 66, 66, 56, false}, {8, 3, 0.05, 0.06, 68, 68, 60, false}}}
	for age := 0.0; age < 5; age += 0.05 {
		b.course = append(b.course, moment{14 + age, 0, 0, 0, 68 - 4*age, 68 - 4*age, 58 - 4*age, true})
	}
	b.course = append(b.course, moment{22, 0, 0, 0, 45, 45, 30, false})
	got, w := b.play()
	if lost := slices.ContainsFunc(w, func(w rig.Warning) bool { return w.Code == "clamp-lost" }); got != "motor_start@3 motor_stop@14" || lost {
		t.Errorf("got %s; %v", got, w)
	}
}
