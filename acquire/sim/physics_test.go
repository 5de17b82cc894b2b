package sim

import (
	"errors"
	"io"
	"math"
	"testing"

	"quern/rig"
)

// heard plays a scenario and returns the A-weighted pressure, Pa.
func heard(t *testing.T, sc Scenario) (*Bench, []float64) {
	t.Helper()
	b, err := New(sc)
	if err != nil {
		t.Fatal(err)
	}
	var pa []float64
	full := math.Sqrt2 * pascals(sc.Sound.FullScaleDB)
	for {
		blk, err := b.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if blk.Channel == rig.Microphone {
			for _, v := range blk.Samples {
				pa = append(pa, v*full)
			}
		}
	}
	a, _ := weighted(pa, sc.Sound.RateHz)
	return b, a
}

func levelBetween(a []float64, fs, from, to float64) float64 {
	x := a[int(from*fs):int(to*fs)]
	s := 0.0
	for _, v := range x {
		s += v * v
	}
	return ofSquare(s / float64(len(x))).V
}

func firstOf(t *testing.T, truth Truth, k rig.Kind) float64 {
	t.Helper()
	for _, e := range truth.Events {
		if e.Kind == k {
			return e.AtS.V
		}
	}
	t.Fatalf("no %s", k)
	return 0
}

// In a stall the current soars while the A-weighted level falls (common practice).
func TestStallIsLoudInCurrentOnly(t *testing.T) {
	for _, c := range []struct {
		name       string
		times, off float64 // current before and in the stall; dB by which the level falls at least
	}{{"stall-and-trip", 4, 10}, {"universal-stall-and-trip", 3, 8}, {"pm-shut-off", 1.8, 15}} {
		sc := named(t, c.name, 2)
		b, a := heard(t, sc)
		at := firstOf(t, b.Truth(), rig.StallStart)
		before, within := levelBetween(a, sc.Sound.RateHz, at-1.2, at-0.2), levelBetween(a, sc.Sound.RateHz, at+0.4, at+1.1)
		if before-within < c.off {
			t.Errorf("%s: the level falls from %.1f to %.1f dB only", c.name, before, within)
		}
		j := newJudge(&b.sc, b.tale)
		mean := func(from, to float64) float64 {
			s := 0.0
			for k := int(from / stepS); k < int(to/stepS); k++ {
				s += j.rms[k]
			}
			return s / ((to - from) / stepS)
		}
		if x := mean(at+0.4, at+1.1) / mean(at-1.2, at-0.2); x < c.times {
			t.Errorf("%s: the current rises by %.2f times only", c.name, x)
		}
	}
}

// Computed from the vector sum: with a no-load current of 50 to 80 % of rated at right angles to the
// load current, 5 % of load lifts the RMS by 0.1 to 0.4 %, 50 % of load by 6.8 to 32 %.
func TestLoadHidesBehindMagnetisingCurrent(t *testing.T) {
	for _, c := range []struct{ share, lift5, lift50 float64 }{{0.50, 0.4, 32}, {0.65, 0.2, 16}, {0.80, 0.1, 6.8}} {
		u := UnitA()
		u.NoLoadShare = c.share
		m := newInduction(&u)
		lift := func(load float64) float64 {
			lo, hi := m.emptySlip, 0.2 // the slip at which the torque is this much more than the drag
			for range 60 {
				mid := (lo + hi) / 2
				if m.run(mid)-m.drag(1-m.emptySlip) < load {
					lo = mid
				} else {
					hi = mid
				}
			}
			return 100 * (magnitude(m.current(1, 1-lo))/magnitude(m.current(1, 1-m.emptySlip)) - 1)
		}
		if got := lift(0.05); got < 0.06 || got > 0.42 || !(math.Abs(got-c.lift5) <= 0.15) {
			t.Errorf("no-load share %.2f: 5 %% of load lift the current by %.2f %%, want about %.1f %%", c.share, got, c.lift5)
		}
		if got := lift(0.5); !(math.Abs(got/c.lift50-1) <= 0.3) {
			t.Errorf("no-load share %.2f: 50 %% of load lift the current by %.1f %%, want about %.1f %%", c.share, got, c.lift50)
		}
	}
}

// The nameplate must hold: rated current at rated torque, locked-rotor current at standstill.
func TestNameplate(t *testing.T) {
	for _, u := range []Unit{UnitA(), UnitB()} {
		m := newInduction(&u)
		if got := magnitude(m.current(1, 1-u.RatedSlip)); !(math.Abs(got/u.RatedCurrentA-1) <= 0.01) {
			t.Errorf("%s: %.2f A at rated slip, want %.2f A", u.ID, got, u.RatedCurrentA)
		}
		m.closed = true
		if got := magnitude(m.current(1, 0)); !(math.Abs(got/u.LockedA-1) <= 0.03) {
			t.Errorf("%s: %.2f A locked, want %.2f A", u.ID, got, u.LockedA)
		}
	}
}

// 8 to 33 cycles of 60 Hz empty, up to 2 s loaded (common practice).
func TestRunUpTimes(t *testing.T) {
	n := 0
	for seed := uint64(1); n < 30; seed++ {
		sc := (&drawer{r: newRand(seed, partScene)}).draw(Usual)
		if sc.Unit.Motor != inductionMotor {
			continue
		}
		n++
		empty := sc
		empty.Acts = acts(Act{Do: SwitchOn, AtS: 0.5}, Act{Do: SwitchOff, After: Running, DelayS: 1})
		empty.MaxS, empty.TailS = 10, 1
		s := play(&empty).stretches[0]
		if cycles := seconds(s.upAt-s.from) * sc.Supply.FrequencyHz; s.upAt == 0 || cycles < 4 || cycles > 33 {
			t.Errorf("seed %d: runs up in %.1f cycles", seed, cycles)
		}
		loaded := empty
		loaded.Acts = append(acts(Act{Do: Feed, Portion: mixedCharge}), empty.Acts...)
		l := play(&loaded).stretches[0]
		if l.upAt == 0 || l.upAt-l.from < s.upAt-s.from || seconds(l.upAt-l.from) > 2 {
			t.Errorf("seed %d: runs up in %.2f s loaded, %.2f s empty", seed, seconds(l.upAt-l.from), seconds(s.upAt-s.from))
		}
	}
}

// The first half cycle carries a d.c. part: its peak exceeds the steady peak, but not twice.
func TestFirstCycleOffset(t *testing.T) {
	most := 0.0
	for seed := uint64(1); seed <= 12; seed++ {
		sc := named(t, "no-food", seed)
		tl := play(&sc)
		a := newAmmeter(&sc, tl)
		from := seconds(tl.stretches[0].from)
		peak := 0.0
		for x := from; x < from+0.02; x += 1e-4 {
			i, _ := a.motor(x)
			peak = max(peak, math.Abs(i))
		}
		if i, _ := a.motor(from + 1e-6); !(math.Abs(i) <= 0.25*sc.Unit.LockedA) {
			t.Errorf("seed %d: current jumps to %.1f A at the start", seed, i)
		}
		most = max(most, peak/(math.Sqrt2*sc.Unit.LockedA))
	}
	if most < 1.15 || most > 2 {
		t.Errorf("largest first peak is %.2f of the steady one, want 1.15 to 2", most)
	}
}

// Locked-rotor current sags by 10 to 20 % as copper heats, and trips come after 3 to 15 s cold
// (common practice).
func TestStallHeats(t *testing.T) {
	for _, u := range []Unit{UnitA(), UnitB()} {
		sc := named(t, "failed-start-trip", 1)
		sc.Unit = u
		tl := play(&sc)
		j := newJudge(&sc, tl)
		s := tl.stretches[0]
		if d := seconds(s.to - s.from); !s.forced || d < 3 || d > 15 {
			t.Errorf("%s trips after %.1f s", u.ID, d)
		}
		if sag := 100 * (1 - j.rms[s.to-400]/j.rms[s.from+800]); sag < 7 || sag > 22 {
			t.Errorf("%s: locked-rotor current sags by %.1f %%", u.ID, sag)
		}
	}
}

// A rectifier draws pulses: crest factor 2 to 3; the pulse's RMS is what it says.
func TestPulses(t *testing.T) {
	for _, input := range []float64{0.4, 1.5, 3.5, 6} {
		u := UnitC()
		m := newMagnet(&u)
		m.input = input
		f := m.flow()
		sum, peak := 0.0, 0.0
		const n = 20000
		for i := range n {
			x := f.at(2 * math.Pi * float64(i) / n)
			sum += x * x
			peak = max(peak, math.Abs(x))
		}
		rms := math.Sqrt(sum / n)
		if !(math.Abs(rms/input-1) <= 1e-3) {
			t.Errorf("pulses of %g A have an RMS of %.4f A", input, rms)
		}
		if crest := peak / rms; crest < 2 || crest > 3 {
			t.Errorf("crest factor %.2f at %g A", crest, input)
		}
	}
}

// The truth's frequency is the mains', and the supply wanders without jumping.
func TestMains(t *testing.T) {
	sc := named(t, "plain", 5)
	m := newMains(&sc)
	last := m.step(0)
	for k := 1; k < int(60/stepS); k++ {
		now := m.step(k)
		if hz := (now - last) / stepS; !(math.Abs(hz-sc.Supply.FrequencyHz-sc.Supply.OffsetHz) <= 3*sc.Supply.WanderHz) {
			t.Fatalf("%.4f Hz at %.2f s", hz, seconds(k))
		}
		last = now
	}
}

// Speech is modulated at 3 to 8 syllables a second and has the level that is asked for.
func TestVoice(t *testing.T) {
	sc := named(t, "no-food", 2)
	sc.Acts = acts(Act{Do: Nothing, AtS: 9})
	sc.Mishaps = []Mishap{{Voice, 2, 6, 70}}
	_, a := heard(t, sc)
	if l := levelBetween(a, sc.Sound.RateHz, 2.2, 7.8); !(math.Abs(l-70) <= 2) {
		t.Errorf("talk at %.1f dB(A), want 70", l)
	}
	ups := 0
	loud := false
	for x := 2.2; x < 7.8; x += 0.02 {
		l := levelBetween(a, sc.Sound.RateHz, x, x+0.02)
		if !loud && l > 68 {
			ups++
			loud = true
		} else if loud && l < 60 {
			loud = false
		}
	}
	if rate := float64(ups) / 5.6; rate < 3 || rate > 8 {
		t.Errorf("%.1f syllables a second", rate)
	}
}
