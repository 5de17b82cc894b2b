package detect

import (
	"encoding/json"
	"io"
	"math"
	"os"
	"strings"
	"testing"

	"quern/acquire/sim"
	"quern/config"
	"quern/rig"
)

// recorded returns everything a scenario delivers, a waveform a channel as one block.
func recorded(t *testing.T, name string) (config.Setup, []rig.Stream, map[rig.Channel]*rig.Block) {
	t.Helper()
	sc, ok := sim.Named(name, 3)
	if !ok {
		t.Fatalf("no scenario %q", name)
	}
	b, err := sim.New(sc)
	if err != nil {
		t.Fatal(err)
	}
	all := map[rig.Channel]*rig.Block{}
	for {
		blk, err := b.Next()
		if err == io.EOF {
			return b.Setup(), b.Streams(), all
		}
		if err != nil {
			t.Fatal(err)
		}
		a := all[blk.Channel]
		if a == nil {
			a = &rig.Block{Channel: blk.Channel}
			all[blk.Channel] = a
		}
		a.Samples = append(a.Samples, blk.Samples...)
		a.Readings = append(a.Readings, blk.Readings...)
	}
}

// feed analyses what was recorded without what lies in a gap of one channel, cut into pieces of so many
// seconds; the gap is told in pieces of tellS, or not at all while it lasts (0).
func feed(t *testing.T, set config.Setup, streams []rig.Stream, all map[rig.Channel]*rig.Block, gone rig.Channel, fromS, toS, pieceS, tellS float64) rig.Result {
	t.Helper()
	a, err := New(set, streams, Trace{})
	if err != nil {
		t.Fatal(err)
	}
	push := func(b rig.Block) {
		if err := a.Push(b); err != nil {
			t.Fatal(err)
		}
	}
	end := 0.0
	for _, s := range streams {
		b := all[s.Channel]
		if s.RateHz > 0 {
			end = max(end, float64(len(b.Samples))/s.RateHz)
		}
	}
	for at := 0.0; at < end; at += pieceS {
		for _, s := range streams {
			b := all[s.Channel]
			if s.RateHz == 0 {
				for _, r := range b.Readings {
					if r.AtS >= at && r.AtS < at+pieceS && !(s.Channel == gone && r.AtS >= fromS && r.AtS < toS) {
						push(rig.Block{Channel: s.Channel, Readings: []rig.Reading{r}})
					}
				}
				continue
			}
			i, j := int(math.Ceil(at*s.RateHz-1e-6)), min(int(math.Ceil((at+pieceS)*s.RateHz-1e-6)), len(b.Samples))
			give := func(i, j int) {
				if i < j {
					push(rig.Block{Channel: s.Channel, StartS: float64(i) / s.RateHz, Samples: b.Samples[i:j]})
				}
			}
			if s.Channel != gone {
				give(i, j)
				continue
			}
			g, h := int(fromS*s.RateHz), int(toS*s.RateHz)
			give(i, min(j, g))
			if tellS > 0 && at >= fromS {
				for u := at + tellS; u <= min(at+pieceS, toS-tellS); u += tellS {
					push(rig.Block{Channel: s.Channel, StartS: u})
				}
			}
			give(max(i, h), j)
		}
	}
	return a.Finish("gap")
}

func inJSON(t *testing.T, r rig.Result) string {
	t.Helper()
	b, err := json.MarshalIndent(r, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// A gap gives the same result however it is told and however samples are cut.
func TestGapsDoNotDependOnTheCut(t *testing.T) {
	set, streams, all := recorded(t, "stall-and-trip")
	for _, gone := range []rig.Channel{rig.Clamp, rig.Microphone} {
		for i, at := range []float64{1.2, 6.37, 14.111, 22.2} {
			want := inJSON(t, feed(t, set, streams, all, gone, at, at+3.3, 0.25, 0))
			cuts := [][2]float64{{0.25, 0.1}, {1, 0.33}, {0.11, 0.05}}
			if os.Getenv("QUERN_WHOLE") == "" { // each in its turn
				cuts = cuts[i%3 : i%3+1]
			}
			for _, cut := range cuts {
				if got := inJSON(t, feed(t, set, streams, all, gone, at, at+3.3, cut[0], cut[1])); got != want {
					t.Errorf("%s gone at %g s, cut %v: got\n%s\nwant\n%s", gone, at, cut, firstDifference(got, want), "")
				}
			}
			if !strings.Contains(want, string(gone)+"-gap") {
				t.Errorf("%s gone at %g s: no warning says so", gone, at)
			}
		}
	}
}

func firstDifference(a, b string) string {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range min(len(x), len(y)) {
		if x[i] != y[i] {
			return x[i] + "  instead of  " + y[i]
		}
	}
	return "one is longer"
}

// While the microphone is gone its levels cover the rest; the motor's events do not change.
func TestMicrophoneGap(t *testing.T) {
	set, streams, all := recorded(t, "stall-and-trip")
	whole := feed(t, set, streams, all, "", 0, 0, 0.25, 0)
	gap := feed(t, set, streams, all, rig.Microphone, 12, 14, 0.25, 0.1)
	if len(gap.Runs) != len(whole.Runs) {
		t.Fatalf("%d runs, want %d", len(gap.Runs), len(whole.Runs))
	}
	for i, r := range gap.Runs {
		w := whole.Runs[i]
		if r.MotorOnS != w.MotorOnS || !(math.Abs(r.Sound.LAeqDB.V-w.Sound.LAeqDB.V) <= 1.5) || r.Sound.BackgroundDB != w.Sound.BackgroundDB {
			t.Errorf("run %d: motor on %v, LAeq %v, background %v; want %v, about %v, %v", i+1, r.MotorOnS, r.Sound.LAeqDB, r.Sound.BackgroundDB, w.MotorOnS, w.Sound.LAeqDB, w.Sound.BackgroundDB)
		}
	}
}

// The motor is switched off while the clamp is gone: the stop is told, as uncertain as it is.
func TestStopInsideAGap(t *testing.T) {
	set, streams, all := recorded(t, "plain")
	whole := feed(t, set, streams, all, "", 0, 0, 0.25, 0)
	stop := whole.Runs[0].EndS.V
	gap := feed(t, set, streams, all, rig.Clamp, stop-2, stop+2, 0.25, 0.1)
	if len(gap.Runs) != 1 {
		t.Fatalf("%d runs, want 1", len(gap.Runs))
	}
	last := gap.Runs[0].Events[len(gap.Runs[0].Events)-1]
	if last.Kind != rig.MotorStop && last.Kind != rig.LoadEnd || !(math.Abs(gap.Runs[0].EndS.V-stop) <= 0.7) {
		t.Errorf("the stop is told at %.3f s (%s), it was at %.3f s and could be heard", gap.Runs[0].EndS.V, last.Evidence, stop)
	}
	for _, e := range gap.Runs[0].Events {
		if e.Kind == rig.MotorStop && (e.Sure.V > 0.5 || !strings.Contains(e.Evidence, "gone")) {
			t.Errorf("a stop that nobody saw is sure to %g: %s", e.Sure.V, e.Evidence)
		}
	}
}

func steps(stepS, endS float64, v func(s float64) float64) []rig.Reading {
	var out []rig.Reading
	for i := 1; float64(i)*stepS < endS; i++ {
		s := float64(i) * stepS
		out = append(out, rig.Reading{AtS: s, Value: v(s)})
	}
	return out
}

// A level meter gives levels and runs; what needs samples is absent with its reason.
func TestLevelMeter(t *testing.T) {
	set := config.Setup{Bench: config.DefaultBench(), Unit: config.Unit{ID: "u", RatedCurrentA: 6, Motor: "induction"},
		Procedure: config.Procedure{ID: "p", TimeLimitS: 100, Clock: "motor-on", LongestPauseS: 900}}
	for _, stepS := range []float64{0.1, 0.125, 0.5} {
		a, err := New(set, []rig.Stream{{Channel: rig.Microphone, Form: rig.Level, Unit: rig.Decibel}}, Trace{})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range steps(stepS, 40, func(s float64) float64 {
			switch {
			case s > 10 && s <= 20:
				return 80
			case s > 20 && s <= 30:
				return 75
			}
			return 45
		}) {
			if err := a.Push(rig.Block{Channel: rig.Microphone, Readings: []rig.Reading{r}}); err != nil {
				t.Fatal(err)
			}
		}
		res := a.Finish("meter")
		if len(res.Runs) != 1 {
			t.Fatalf("step %g s: %d runs, want 1: %+v", stepS, len(res.Runs), res.Warnings)
		}
		s := res.Runs[0].Sound
		want := 10 * math.Log10((1e8+math.Pow(10, 7.5))/2) // energy mean of 80 and 75 dB, worked by hand: 78.18 dB
		if !(math.Abs(s.LAeqDB.V-want) <= 0.1) || !(math.Abs(s.BackgroundDB.V-45) <= 0.1) || !(math.Abs(s.LAFmaxDB.V-80) <= 1e-9) || !(math.Abs(s.LA90DB.V-75) <= 0.1) {
			t.Errorf("step %g s: LAeq %v, want %.2f; background %v, LAFmax %v, LA90 %v", stepS, s.LAeqDB, want, s.BackgroundDB, s.LAFmaxDB, s.LA90DB)
		}
		for name, f := range map[string]rig.Figure{"LCpeak": s.LCpeakDB, "LCeq": s.LCeqDB, "LASmax": s.LASmaxDB, "1 kHz": s.ThirdOctaves[16].LeqDB} {
			if f.OK || f.Why != "level-meter" {
				t.Errorf("%s is %+v, want absent for want of samples", name, f)
			}
		}
		if !(math.Abs(res.Runs[0].StartS.V-10) <= 1) {
			t.Errorf("step %g s: start at %v s, want 10", stepS, res.Runs[0].StartS)
		}
	}
}

// An extra channel is told over each run.
func TestExtraChannel(t *testing.T) {
	set, streams, all := recorded(t, "plain")
	water := rig.Stream{Channel: "water-temperature", Form: rig.Value, Unit: "degC"}
	streams = append(streams, water)
	r := steps(1, 200, func(s float64) float64 { return 10 + s/10 })
	all[water.Channel] = &rig.Block{Channel: water.Channel, Readings: r}
	res := feed(t, set, streams, all, "", 0, 0, 0.25, 0)
	run := res.Runs[0]
	first, last := math.Ceil(run.StartS.V), math.Floor(run.EndS.V)
	if len(run.Extra) != 1 || run.Extra[0].Unit != "degC" || !(math.Abs(run.Extra[0].Least.V-(10+first/10)) <= 1e-9) ||
		!(math.Abs(run.Extra[0].Most.V-(10+last/10)) <= 1e-9) || !(math.Abs(run.Extra[0].Mean.V-(10+(first+last)/20)) <= 1e-9) {
		t.Errorf("got %+v over %v to %v s", run.Extra, run.StartS, run.EndS)
	}
}

// RMS readings that stop for a while leave the motor's state unknown, not the last one.
func TestReadingsGap(t *testing.T) {
	set, streams, all := recorded(t, "rms-readings")
	whole := feed(t, set, streams, all, "", 0, 0, 0.25, 0)
	at := whole.Runs[0].StartS.V + 3
	gap := feed(t, set, streams, all, rig.Clamp, at, at+4, 0.25, 0)
	again := feed(t, set, streams, all, rig.Clamp, at, at+4, 0.25, 0.1)
	if inJSON(t, gap) != inJSON(t, again) {
		t.Error("the result depends on how the gap was told")
	}
	unknown := 0.0
	for _, s := range gap.Runs[0].States {
		if s.State == rig.Unknown {
			unknown += s.ToS.V - s.FromS.V
		}
	}
	if !(math.Abs(unknown-4) <= 0.5) {
		t.Errorf("the state is unknown for %.2f s, want about 4", unknown)
	}
}
