package sim

import (
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"quern/rig"
)

// drain reads a bench to its end and returns a hash of each channel's samples.
func drain(t *testing.T, sc Scenario) map[rig.Channel]string {
	t.Helper()
	b, err := New(sc)
	if err != nil {
		t.Fatal(err)
	}
	sums := map[rig.Channel]string{}
	hashes := map[rig.Channel][]byte{}
	for {
		blk, err := b.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		x := hashes[blk.Channel]
		for _, v := range blk.Samples {
			x = binary.LittleEndian.AppendUint64(x, math.Float64bits(v))
		}
		for _, r := range blk.Readings {
			x = binary.LittleEndian.AppendUint64(x, math.Float64bits(r.Value))
			x = append(x, byte(r.Stable))
		}
		hashes[blk.Channel] = x
	}
	for c, x := range hashes {
		sums[c] = fmt.Sprintf("%x of %d", sha256.Sum256(x), len(x))
	}
	return sums
}

func named(t *testing.T, name string, seed uint64) Scenario {
	t.Helper()
	sc, ok := Named(name, seed)
	if !ok {
		t.Fatalf("no scenario %q", name)
	}
	return sc
}

func TestSameSeedSameSamples(t *testing.T) {
	for _, name := range []string{"switched-off-loaded", "pm-shut-off", "rms-readings"} {
		a, b := drain(t, named(t, name, 7)), drain(t, named(t, name, 7))
		other := drain(t, named(t, name, 8))
		for c := range a {
			if a[c] != b[c] {
				t.Errorf("%s: %s differs between two plays of one seed", name, c)
			}
			if a[c] == other[c] && c != rig.Scale {
				t.Errorf("%s: %s is the same for another seed", name, c)
			}
		}
	}
}

func TestChannelsDoNotTouchEachOther(t *testing.T) {
	all := drain(t, named(t, "switched-off-loaded", 3))
	sc := named(t, "switched-off-loaded", 3)
	sc.Sound.RateHz, sc.Mass.RateHz = 0, 0
	if got := drain(t, sc); got[rig.Clamp] != all[rig.Clamp] || len(got) != 1 {
		t.Error("the clamp's samples depend on the other channels")
	}
	sc = named(t, "switched-off-loaded", 3)
	sc.Current.RateHz, sc.LevelTruth = 0, true
	if got := drain(t, sc); got[rig.Microphone] != all[rig.Microphone] {
		t.Error("the microphone's samples depend on the clamp or on the level truth")
	}
}

func TestSourceKeepsTime(t *testing.T) {
	sc := named(t, "claps-and-voices", 1)
	sc.Sound.RateHz = 44100
	b, err := New(sc)
	if err != nil {
		t.Fatal(err)
	}
	at := map[rig.Channel]float64{}
	rate := map[rig.Channel]float64{}
	for _, s := range b.Streams() {
		at[s.Channel], rate[s.Channel] = 0, s.RateHz
	}
	for {
		blk, err := b.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if n := len(blk.Samples); n > 0 {
			if d := math.Abs(blk.StartS - at[blk.Channel]); d > 1e-9 {
				t.Fatalf("%s: a gap of %g s at %g s", blk.Channel, d, blk.StartS)
			}
			at[blk.Channel] = blk.StartS + float64(n)/rate[blk.Channel]
		}
		for _, r := range blk.Readings {
			if r.AtS < at[blk.Channel] {
				t.Fatalf("%s: readings out of order at %g s", blk.Channel, r.AtS)
			}
			at[blk.Channel] = r.AtS
		}
		lo, hi := math.Inf(1), 0.0
		for _, x := range at {
			lo, hi = min(lo, x), max(hi, x)
		}
		if hi-lo > 1 {
			t.Fatalf("channels are %g s apart", hi-lo)
		}
	}
	if _, err := b.Next(); !errors.Is(err, io.EOF) {
		t.Errorf("after the end: %v, want io.EOF", err)
	}
	for c, x := range at {
		if !(math.Abs(x-b.Seconds()) <= 0.2) {
			t.Errorf("%s ends at %.2f s of %.2f s", c, x, b.Seconds())
		}
	}
}

// TestStories holds each script to the story its name tells.
func TestStories(t *testing.T) {
	const plain = "motor_start load_start load_end motor_stop"
	const again = " motor_start load_end motor_stop"
	want := map[string]string{
		"plain":                    plain,
		"stall-and-trip":           "motor_start load_start stall_start stall_end trip" + again,
		"stall-frees-itself":       "motor_start load_start stall_start stall_end load_end motor_stop",
		"short-stall-switched-off": "motor_start load_start stall_start stall_end motor_stop" + again,
		"hot-trip":                 "motor_start load_start stall_start stall_end motor_stop" + again,
		"auto-reset":               "motor_start load_start stall_start stall_end trip motor_start stall_start stall_end motor_stop",
		"failed-start":             "motor_start stall_start stall_end motor_stop " + plain,
		"failed-start-trip":        "motor_start stall_start stall_end trip " + plain,
		"overload":                 "motor_start load_start overload_start overload_end load_end motor_stop",
		"overload-trip":            "motor_start load_start overload_start overload_end trip" + again,
		"overload-to-stall":        "motor_start load_start overload_start stall_start overload_end stall_end trip" + again,
		"jog":                      "motor_start motor_stop motor_start motor_stop " + plain,
		"pause":                    "motor_start load_start motor_stop" + again,
		"restart-within-a-second":  "motor_start load_start motor_stop" + again,
		"switched-off-loaded":      "motor_start load_start motor_stop",
		"two-runs":                 plain + " " + plain,
		"no-food":                  "motor_start motor_stop motor_start motor_stop",
		"pm-shut-off":              "motor_start load_start stall_start stall_end motor_stop" + again,
		"pm-pulsing":               "motor_start load_start stall_start stall_end trip" + again,
		"universal-stall-and-trip": "motor_start load_start stall_start stall_end trip" + again,
	}
	for name := range want {
		if !slices.Contains(Names(), name) {
			t.Errorf("no scenario is called %s", name)
		}
	}
	for _, name := range Names() {
		story, ok := want[name]
		if !ok {
			story = plain // a disturbance of measuring changes nothing that happens
		}
		for seed := uint64(1); seed <= 2; seed++ {
			b, err := New(named(t, name, seed))
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, e := range b.Truth().Events {
				got = append(got, string(e.Kind))
			}
			if s := strings.Join(got, " "); s != story {
				t.Errorf("%s, seed %d:\n got %s\nwant %s", name, seed, s, story)
			}
			runs := 1
			if name == "two-runs" {
				runs = 2
			}
			if n := len(b.Truth().Runs); n != runs {
				t.Errorf("%s: %d runs, want %d", name, n, runs)
			}
		}
	}
}

func TestDrawnTruthHoldsTogether(t *testing.T) {
	last := uint64(5)
	if os.Getenv("QUERN_WHOLE") != "" {
		last = 15
	}
	for _, d := range Difficulties {
		for seed := uint64(1); seed <= last; seed++ {
			sc := Draw(seed, d)
			b, err := New(sc)
			if err != nil {
				t.Errorf("%s %d: %v", d, seed, err)
				continue
			}
			truth := b.Truth()
			for _, what := range incoherent(truth, b.Seconds()) {
				t.Errorf("%s: %s", sc.Name, what)
			}
			if d != Hostile && len(truth.Ambiguous) > 0 {
				t.Errorf("%s: in doubt: %v", sc.Name, truth.Ambiguous)
			}
			if d != Hostile && len(truth.Runs) == 0 {
				t.Errorf("%s: nothing happens", sc.Name)
			}
		}
	}
}

// incoherent tells what contradicts itself in a truth.
func incoherent(truth Truth, seconds float64) (out []string) {
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	on, locked, over, loaded, cleared := false, false, false, false, false
	run, last := -1, 0.0
	for _, e := range truth.Events {
		at := e.AtS.V
		if at < last || at > seconds {
			say("%s at %g s is out of order", e.Kind, at)
		}
		last = at
		for run+1 < len(truth.Runs) && at >= truth.Runs[run+1].StartS {
			run++
			loaded, cleared = false, false
		}
		must := func(ok bool) {
			if !ok {
				say("%s at %g s cannot be", e.Kind, at)
			}
		}
		switch e.Kind {
		case rig.MotorStart:
			must(!on)
			on = true
		case rig.MotorStop, rig.Trip:
			must(on && !locked && !over)
			on = false
		case rig.StallStart:
			must(on && !locked)
			locked = true
		case rig.StallEnd:
			must(on && locked)
			locked = false
		case rig.OverloadStart:
			must(on && !over && !locked)
			over = true
		case rig.OverloadEnd: // may be told after the stall that ended it
			must(on && over)
			over = false
		case rig.LoadStart:
			must(on && !loaded)
			loaded = true
		case rig.LoadEnd:
			must(loaded && !cleared)
			cleared = true
		}
	}
	if on || locked || over {
		say("the end finds it on, locked or overloaded")
	}
	for _, r := range truth.Runs {
		if r.MotorOnS <= 0 || r.MotorOnS > r.EndS-r.StartS+1e-9 {
			say("motor on %g s of %g s", r.MotorOnS, r.EndS-r.StartS)
		}
	}
	return out
}

func TestNewRefuses(t *testing.T) {
	for _, c := range []struct {
		what, says string
		set        func(*Scenario)
	}{
		{"endless", "MaxS", func(s *Scenario) { s.MaxS = 1e6 }},
		{"not a number", "MaxS", func(s *Scenario) { s.MaxS = math.NaN() }},
		{"no channel", "channels", func(s *Scenario) { s.Sound.RateHz, s.Current.RateHz, s.Mass.RateHz = 0, 0, 0 }},
		{"slow microphone", "microphone", func(s *Scenario) { s.Sound.RateHz = 100 }},
		{"odd bits", "clamp", func(s *Scenario) { s.Current.Bits = 7 }},
		{"fast readings", "clamp", func(s *Scenario) { s.Current.Readings, s.Current.RateHz = true, 1000 }},
		{"no current", "rated_current_a", func(s *Scenario) { s.Unit.RatedCurrentA = 0 }},
		{"weak rotor", "LockedA", func(s *Scenario) { s.Unit.LockedA = s.Unit.RatedCurrentA }},
		{"motor of no kind", "motor", func(s *Scenario) { s.Unit.Motor = "steam" }},
		{"mishap of no kind", "mishap", func(s *Scenario) { s.Mishaps = []Mishap{{Kind: "flood"}} }},
		{"d.c. supply", "supply", func(s *Scenario) { s.Supply.FrequencyHz = 0 }},
	} {
		sc := named(t, "plain", 1)
		c.set(&sc)
		if _, err := New(sc); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want an error about %s", c.what, err, c.says)
		}
	}
}
