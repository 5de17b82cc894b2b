package run

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"quern/rig"
)

// TestSags: the supply of an invented induction motor sags or swells while the chamber is empty. Its magnetising current
// changes by more than the voltage, for its iron is saturated (common practice); load current stands at right angles.
func TestSags(t *testing.T) {
	for _, c := range []struct {
		fromS, lastsS, volt, noiseRad float64
	}{
		{4, 0, 0, 0.002}, {4, 0.3, -0.05, 0.002}, {4, 1, -0.07, 0.002}, {16, 0.03, -0.08, 0.002}, {16, 0.1, -0.04, 0.002},
		{16, 0.3, -0.06, 0.002}, {16, 1, -0.05, 0.002}, {16, 4, -0.05, 0.002}, {16, 0.3, 0.05, 0.002}, {16, 4, 0.06, 0.002},
		{4, 1, 0.05, 0.002}, {4, 1, 0.05, 0.008}, {2, 4, -0.06, 0.008}, {16, 1, 0.06, 0.008},
	} {
		t.Run(fmt.Sprintf("%+.0f %% at %.0f s for %.2g s, noise %g rad", 100*c.volt, c.fromS, c.lastsS, c.noiseRad), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(3, 4))
			l := &loads{induction: true, ear: &ear{}}
			l.set.BandInduction, l.set.BandSigmas = 0.02, 4
			l.begin()
			l.start(0)
			l.stretches[0].ToS = 24
			low := 0.0
			at := func(s float64) complex128 {
				v := 1.0
				if s >= c.fromS && s < c.fromS+c.lastsS {
					v += c.volt
				}
				i := complex(0.5/v, -4*math.Pow(v, 1.8))
				if s > 8 && s < 14 {
					i += complex(1.5*(1+2*low), 0)
				}
				return i
			}
			for k := 2; float64(k)/120 < 24; k++ {
				s := float64(k) / 120
				low += (rng.NormFloat64() - low) * 0.2
				sum := complex(0, 0) // a cycle long
				for i := range 16 {
					sum += at(s-float64(i)/960) / 16
				}
				a := cmplx.Abs(sum) * (1 + 0.001*rng.NormFloat64())
				for e := l.ear.untilS(); e < s; e += 0.01 { // the sound stays as it is
					l.ear.push(Heard{StartS: e, EndS: e + 0.01, EA: 0.01 * 4e-3, EC: 0.01 * 4e-3, ET: math.NaN()})
				}
				l.push(Current{StartS: s - 1.0/60, EndS: s, RMSA: a, FundA: a, Turns: 60*s + (cmplx.Phase(sum)+c.noiseRad*rng.NormFloat64())/(2*math.Pi),
					Locked: true, Wave: true}, rig.NoLoad, 0)
			}
			tp, ok := l.learn()
			if !ok {
				t.Fatal("no empty chamber found")
			}
			load := l.mask(&tp)
			first, last := endsOf(load)
			if first < 0 || !(math.Abs(l.blocks[first].fromS-8) <= 0.25) || !(math.Abs(l.blocks[last].toS-14) <= 0.25) {
				t.Fatalf("load in blocks %d to %d of %d; want from 8 to 14 s", first, last, len(load))
			}
		})
	}
}

// TestStepOfLoad: what current comes all at once is load where the sound comes with it, or nothing is heard, however it
// stands to the current before it.
func TestStepOfLoad(t *testing.T) {
	for name, c := range map[string]struct {
		toA, risesDB float64
		supply       bool
	}{"heard": {4.8, 6, false}, "unheard": {4.8, 0, true}, "not recorded": {4.8, math.NaN(), false}, "unheard, more than any swell": {6, 0, false}} {
		risesDB := c.risesDB
		l := &loads{induction: true, ear: &ear{}}
		l.set.BandInduction = 0.02
		l.begin()
		l.start(0)
		for k := 2; k < 120*8; k++ {
			s, a, db := float64(k)/120, 4.0, 0.0
			if s > 3 && s < 6 {
				a, db = c.toA, risesDB
			}
			for e := l.ear.untilS(); e < s && risesDB == risesDB; e += 0.01 {
				x := 0.01 * 4e-3 * math.Pow(10, db/10)
				l.ear.push(Heard{StartS: e, EndS: e + 0.01, EA: x, EC: x, ET: math.NaN()})
			}
			l.push(Current{StartS: s - 1.0/60, EndS: s, RMSA: a, FundA: a, Turns: 60 * s, Locked: true, Wave: true}, rig.NoLoad, 0)
		}
		for i := range l.blocks {
			if b := &l.blocks[i]; b.fromS > 4 && b.toS < 5 && (b.meanA < 4.5) != c.supply {
				t.Errorf("%s: %.2f A in the block at %.1f s", name, b.meanA, b.fromS)
			}
		}
	}
}

// TestLoadIsNoJump: load that comes all at once stands at right angles to the current of an empty induction motor.
func TestLoadIsNoJump(t *testing.T) {
	for _, c := range []struct {
		from, to complex128
		jumps    int
	}{{-4i, -3.6i, 1}, {-4i, -4.4i, 1}, {-4i, 2 - 4i, 0}, {2 - 4i, -4i, 0}} {
		var s jumps
		n := 0
		for k := 2; k < 60; k++ {
			at := float64(k) / 120
			i := c.from
			if k > 30 {
				i = c.to
			}
			if _, ok := s.push(Current{StartS: at - 1.0/60, EndS: at, RMSA: cmplx.Abs(i), Turns: 60*at + cmplx.Phase(i)/(2*math.Pi), Locked: true, Wave: true}); ok {
				n++
			}
		}
		if n > 0 != (c.jumps > 0) {
			t.Errorf("from %v to %v A: %d steps of the supply", c.from, c.to, n)
		}
	}
}

// TestNotStarted: what was taken for a running motor in a stretch that turns out to be all start says nothing of load.
func TestNotStarted(t *testing.T) {
	l := &loads{induction: true, ear: &ear{}}
	l.begin()
	for _, fromS := range []float64{1, 10} {
		l.start(fromS)
		for k := range 120 {
			at := fromS + float64(k)/120
			state := rig.NoLoad
			if fromS == 10 && k > 90 {
				state = rig.Starting
			}
			l.push(Current{StartS: at, EndS: at + 1.0/60, RMSA: 4, Wave: true}, state, 0)
		}
		l.stop(fromS + 1)
	}
	for _, b := range l.blocks {
		if b.fromS > 5 {
			t.Errorf("a block at %.1f s is left", b.fromS)
		}
	}
	if len(l.blocks) == 0 {
		t.Error("the blocks of the stretch before are gone too")
	}
}

// TestSwings: the supply of an induction motor moves by some thousandths at once. Its current goes further within a cycle,
// swings with the rotor for some more, and stays at another height that is well within the empty chamber's band: nothing
// strikes in the chamber. The shape is that of a simulated split-phase motor (T-equivalent circuit, rotor of 0.0045 kg m²).
func TestSwings(t *testing.T) {
	shape := []float64{1.5, 2.5, 1.36, 0.67, 0.7, 1.05, 1.2, 1.1, 0.95, 0.92, 0.99}
	l := &loads{induction: true, ear: &ear{}}
	l.set.BandInduction, l.set.BandSigmas = 0.02, 4
	l.begin()
	l.start(0)
	l.stretches[0].ToS = 24
	rng := rand.New(rand.NewPCG(7, 8))
	for k := 2; k < 120*24; k++ {
		s, a := float64(k)/120, 3.73
		for i, atS := range []float64{5.2, 6.05, 15.43, 17.21, 19.5} {
			if n := k - int(120*atS); n >= len(shape) {
				a += []float64{0.018, -0.018}[i%2]
			} else if n >= 0 {
				a += []float64{0.018, -0.018}[i%2] * shape[n]
			}
		}
		turn := 0.00005 * rng.NormFloat64()
		if s > 8 && s < 14 {
			a += 0.3 + 0.1*rng.NormFloat64()
			turn += 0.02 * rng.NormFloat64()
		}
		a += 0.0005 * rng.NormFloat64()
		l.push(Current{StartS: s - 1.0/60, EndS: s, RMSA: a, FundA: a, Turns: 60*s + turn, Locked: true, Wave: true}, rig.NoLoad, 0)
	}
	tp, ok := l.learn()
	if !ok {
		t.Fatal("no empty chamber found")
	}
	load := l.mask(&tp)
	first, last := endsOf(load)
	if first < 0 || !(math.Abs(l.blocks[first].fromS-8) <= 0.25) || !(math.Abs(l.blocks[last].toS-14) <= 0.25) {
		t.Errorf("load from %.1f to %.1f s, want from 8 to 14", l.blocks[max(first, 0)].fromS, l.blocks[max(last, 0)].toS)
	}
}
