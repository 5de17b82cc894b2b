package run

import (
	"math"
	"testing"

	"quern/config"
	"quern/rig"
)

// A stall that has ended by the instant at which it began was none.
func TestNoStallOfNoLength(t *testing.T) {
	for _, c := range []struct {
		endS float64
		want int
	}{{5, 0}, {4.99, 0}, {5.3, 2}} {
		g := &grip{events: []rig.Event{event(rig.MotorStart, 3, 0.01, 1, ""), event(rig.StallStart, 5, 0.02, 1, "")}}
		g.leaveStall(c.endS, 1, "")
		if n := len(g.events) - 1; n != c.want {
			t.Errorf("a stall from 5 to %g s leaves %d events, want %d", c.endS, n, c.want)
		}
	}
}

// A stall that is taken back leaves nothing that counts as held by it, the tenth of a second at hand included.
func TestTakenBackStallHoldsNothing(t *testing.T) {
	m := NewMachine(config.Setup{Bench: config.DefaultBench(), Unit: config.Unit{RatedCurrentA: 2, Motor: "permanent-magnet"}})
	m.turn(turn{on: true, atS: 3})
	m.load.blocks = []block{{fromS: 5, toS: 5.1, held: true}, {fromS: 5.1, toS: 5.2, held: true}}
	m.load.open.held, m.load.n = true, 1
	m.grip.state, m.grip.spanS, m.grip.stallS, m.grip.leaveA = rig.Stalled, 5, 5, 3
	m.grip.events = append(m.grip.events, event(rig.StallStart, 5, 0.02, 1, ""))
	m.running(Current{StartS: 5.2, EndS: 5.22, RMSA: 2, Wave: true}, 2, others{})
	if m.load.blocks[0].held || m.load.blocks[1].held || m.load.open.held {
		t.Errorf("still held by a stall that was none: %+v, %t", m.load.blocks, m.load.open.held)
	}
}

// What a current shows in the cycle in which it begins is not taken for the clamp's noise.
func TestNoiseIsLearnedBeforeTheStart(t *testing.T) {
	set := config.Setup{Bench: config.DefaultBench(), Unit: config.Unit{RatedCurrentA: 3, Motor: "permanent-magnet"}}
	f := flow{lim: newLimits(&set), ear: &ear{}, state: flowOff}
	for k := range 100 {
		s := float64(k) / 120
		f.push(Current{StartS: s, EndS: s + 1.0/60, RMSA: 0.03, SwingA: 0.03, PeakA: 0.08, Wave: true})
	}
	for k, a := range []float64{0.06, 0.09, 0.4} {
		s := float64(100+k) / 120
		f.push(Current{StartS: s, EndS: s + 1.0/60, RMSA: a, SwingA: a, PeakA: 1.1, Wave: true})
	}
	if f.state != flowRising || f.offPeak > 0.1 {
		t.Errorf("the current rises: %t; largest |i| before it %.2f A, want 0.08", f.state == flowRising, f.offPeak)
	}
}

// Only electronics let a rotor draw more as it breaks free than while it stood: a heater comes, or the supply rises, while
// someone speaks.
func TestDrawsMoreAsItBreaksFree(t *testing.T) {
	for _, c := range []struct {
		motor string
		want  bool
	}{{"permanent-magnet", true}, {"induction", false}, {"universal", false}} {
		set := config.Setup{Bench: config.DefaultBench(), Unit: config.Unit{RatedCurrentA: 4, Motor: c.motor}}
		e := &ear{any: true}
		for k := range 200 {
			s, p := float64(k)/100, 20e-6*20e-6*1e5 // 50 dB, and 66 from one second on
			if k >= 100 {
				p *= 40
			}
			e.push(Heard{StartS: s, EndS: s + 0.01, EA: 0.01 * p, EC: 0.01 * p, ET: math.NaN()})
		}
		g := &grip{lim: newLimits(&set), ear: e, state: rig.Stalled, stoodA: 10, leftS: never}
		free := false
		for s := 1.0; s < 1.5; s += 0.02 {
			at, ok := g.freedAt(Current{StartS: s, EndS: s + 0.02, RMSA: 12, Wave: true})
			if free = free || ok; ok && math.Abs(at-1) > 0.02 {
				t.Errorf("%s: free at %.2f s, not at 1", c.motor, at)
			}
		}
		if free != c.want {
			t.Errorf("%s: free %t, want %t", c.motor, free, c.want)
		}
	}
}
