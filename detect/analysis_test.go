package detect_test

import (
	"encoding/json"
	"io"
	"math"
	"math/rand/v2"
	"testing"

	"quern/config"
	"quern/detect"
	"quern/rig"
)

// takes is a session made by this test: a source whose blocks can be cut anywhere.
type takes struct {
	mic, clamp   []float64
	micHz, curHz float64
	rows         []rig.Reading // RMS readings of the clamp in place of samples
	mass         []rig.Reading
	cutMic       int
	cutCur       int
	at           [3]int
}

func (t *takes) Streams() []rig.Stream {
	var out []rig.Stream
	if t.mic != nil {
		out = append(out, rig.Stream{Channel: rig.Microphone, Form: rig.Waveform, Unit: rig.FullScale, RateHz: t.micHz})
	}
	if t.clamp != nil {
		out = append(out, rig.Stream{Channel: rig.Clamp, Form: rig.Waveform, Unit: rig.Ampere, RateHz: t.curHz})
	}
	if t.rows != nil {
		out = append(out, rig.Stream{Channel: rig.Clamp, Form: rig.RMS, Unit: rig.Ampere})
	}
	if t.mass != nil {
		out = append(out, rig.Stream{Channel: rig.Scale, Form: rig.Mass, Unit: rig.Gram})
	}
	return out
}

func (t *takes) Next() (rig.Block, error) {
	mic, cur := math.Inf(1), math.Inf(1)
	if t.at[0] < len(t.mic) {
		mic = float64(t.at[0]) / t.micHz
	}
	if t.at[1] < len(t.clamp) {
		cur = float64(t.at[1]) / t.curHz
	}
	switch {
	case mic <= cur && !math.IsInf(mic, 1):
		n := min(t.cutMic, len(t.mic)-t.at[0])
		b := rig.Block{Channel: rig.Microphone, StartS: mic, Samples: t.mic[t.at[0] : t.at[0]+n]}
		t.at[0] += n
		return b, nil
	case !math.IsInf(cur, 1):
		n := min(t.cutCur, len(t.clamp)-t.at[1])
		b := rig.Block{Channel: rig.Clamp, StartS: cur, Samples: t.clamp[t.at[1] : t.at[1]+n]}
		t.at[1] += n
		return b, nil
	case len(t.rows) > 0 && t.at[2] == 0:
		t.at[2] = 1
		return rig.Block{Channel: rig.Clamp, Readings: t.rows}, nil
	case len(t.mass) > 0 && t.at[2] == 0:
		t.at[2] = 1
		return rig.Block{Channel: rig.Scale, Readings: t.mass}, nil
	}
	return rig.Block{}, io.EOF
}

func setup() config.Setup {
	s := config.Setup{Bench: config.DefaultBench()}
	s.Unit = config.Unit{ID: "unit-a", RatedCurrentA: 6, LockedRotorA: 33, Motor: "induction"}
	s.Procedure = config.Procedure{ID: "mixed", TimeLimitS: 240, Clock: "motor-on", LongestPauseS: 900}
	return s
}

// tone is a session with a 1 kHz tone of levelDB and a current of 4 A while the motor is on, over a
// background of noise.
func tone(on [][2]float64, seconds, levelDB, backgroundDB float64) *takes {
	const full = 120.0
	t := &takes{micHz: 48000, curHz: 8000, cutMic: 12000, cutCur: 2000}
	rng := rand.New(rand.NewPCG(3, 4))
	running := func(at float64) (float64, bool) {
		for _, o := range on {
			if at >= o[0] && at < o[1] {
				return at - o[0], true
			}
		}
		return 0, false
	}
	amp := math.Pow(10, (levelDB-full)/20)
	bg := math.Pow(10, (backgroundDB-full)/20) / math.Sqrt2
	for i := range int(seconds * t.micHz) {
		at := float64(i) / t.micHz
		v := bg * rng.NormFloat64()
		if _, is := running(at); is {
			v += amp * math.Sin(2*math.Pi*1000*at)
		}
		t.mic = append(t.mic, v)
	}
	for i := range int(seconds * t.curHz) {
		at := float64(i) / t.curHz
		v := 0.02 * rng.NormFloat64()
		if age, is := running(at); is {
			a := 4.0
			if age < 0.25 {
				a = 28
			}
			v += a * math.Sqrt2 * math.Sin(2*math.Pi*60.02*at)
		}
		t.clamp = append(t.clamp, v)
	}
	return t
}

func analyse(t *testing.T, src rig.Source, set config.Setup) rig.Result {
	t.Helper()
	res, err := detect.Analyse(src, set, "s", detect.Trace{})
	if err != nil {
		t.Fatal(err)
	}
	return res
}

func near(t *testing.T, what string, got rig.Figure, want, tol float64) {
	t.Helper()
	if !got.OK || !(math.Abs(got.V-want) <= tol) {
		t.Errorf("%s: got %+v, want %g ± %g", what, got, want, tol)
	}
}

func TestFiguresOfATone(t *testing.T) {
	on := [][2]float64{{3, 10}, {14, 17}}
	res := analyse(t, tone(on, 20, 80, 40), setup())
	if len(res.Runs) != 1 {
		t.Fatalf("%d runs, want 1: %+v", len(res.Runs), res.Warnings)
	}
	r := res.Runs[0]
	near(t, "start", r.StartS, 3, 0.005)
	near(t, "end", r.EndS, 17, 0.005)
	near(t, "elapsed", r.ElapsedS, 14, 0.01)
	near(t, "motor on", r.MotorOnS, 10, 0.01)
	near(t, "run time", r.RunTimeS, 10, 0.01)
	near(t, "laeq", r.Sound.LAeqDB, 80, 0.03)
	near(t, "lceq", r.Sound.LCeqDB, 80, 0.03)
	near(t, "lafmax", r.Sound.LAFmaxDB, 80, 0.05)
	near(t, "lasmax", r.Sound.LASmaxDB, 80, 0.05)
	near(t, "lcpeak", r.Sound.LCpeakDB, 83.01, 0.5)
	near(t, "lae", r.Sound.LAEDB, 90, 0.03)
	near(t, "la50", r.Sound.LA50DB, 80, 0.05)
	near(t, "corrected", r.Sound.LAeqCorrectedDB, 80, 0.03)
	near(t, "1 kHz band", r.Sound.ThirdOctaves[16].LeqDB, 80, 0.05)
	near(t, "1 kHz", r.Sound.ThirdOctaves[16].NominalHz, 1000, 0)
	near(t, "idle", r.Motor.IdleA, 4, 0.02)
	near(t, "max", r.Motor.MaxA, 28, 0.3)
	near(t, "inrush", r.Motor.InrushA, 28, 0.3)
	near(t, "mean", r.Motor.MeanA, 4+24*0.5/10, 0.1)
	near(t, "frequency", r.Motor.FrequencyHz, 60.02, 0.005)
	var kinds []rig.Kind
	for _, e := range r.Events {
		kinds = append(kinds, e.Kind)
	}
	if len(kinds) != 4 {
		t.Errorf("events %v, want two starts and two stops", kinds)
	}
	if t.Failed() {
		j, _ := json.Marshal(res)
		t.Logf("%s", j)
	}
}

// TestCutsDoNotMatter holds the house rule: a result never depends on how samples were cut.
func TestCutsDoNotMatter(t *testing.T) {
	on := [][2]float64{{1.5, 4}, {5, 6}}
	want, _ := json.Marshal(analyse(t, tone(on, 8, 75, 40), setup()))
	for _, cut := range [][2]int{{1, 1000}, {7, 13}, {4096, 1}, {1 << 30, 1 << 30}, {100, 8000}, {48000, 11}} {
		src := tone(on, 8, 75, 40)
		src.cutMic, src.cutCur = cut[0], cut[1]
		if got, _ := json.Marshal(analyse(t, src, setup())); string(got) != string(want) {
			t.Errorf("cut %v: the result differs\n got %s\nwant %s", cut, got, want)
		}
	}
}
