package detect_test

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"quern/rig"
)

// unexplained lists the figures of a result that are absent without a warning of their reason's code.
func unexplained(res rig.Result) []string {
	told := map[string]bool{}
	for _, w := range res.Warnings {
		told[w.Code] = true
	}
	var out []string
	var walk func(v reflect.Value, name string)
	walk = func(v reflect.Value, name string) {
		if f, ok := v.Interface().(rig.Figure); ok {
			if !f.OK && !told[f.Why] {
				out = append(out, fmt.Sprintf("%s (%q)", name, f.Why))
			}
			return
		}
		switch v.Kind() {
		case reflect.Struct:
			for i := range v.NumField() {
				walk(v.Field(i), name+"."+v.Type().Field(i).Name)
			}
		case reflect.Slice:
			for i := range v.Len() {
				walk(v.Index(i), fmt.Sprintf("%s[%d]", name, i))
			}
		}
	}
	walk(reflect.ValueOf(res.Runs), "runs")
	return out
}

// blocks is a source of blocks made beforehand.
type blocks struct {
	streams []rig.Stream
	queue   []rig.Block
}

func (b *blocks) Streams() []rig.Stream { return b.streams }

func (b *blocks) Next() (rig.Block, error) {
	if len(b.queue) == 0 {
		return rig.Block{}, io.EOF
	}
	out := b.queue[0]
	b.queue = b.queue[1:]
	return out, nil
}

// readings are one value a step, of what is 1 while the motor is on and 0 while it is not.
func readings(on [][2]float64, seconds, stepS float64, value func(on bool, atS float64) float64) []rig.Reading {
	var out []rig.Reading
	for at := stepS; at < seconds; at += stepS {
		is := false
		for _, o := range on {
			is = is || at > o[0] && at <= o[1]
		}
		out = append(out, rig.Reading{AtS: at, Value: value(is, at)})
	}
	return out
}

// Nothing is absent in silence: whatever a session was made of and whatever was wrong with it, each absent figure has a
// warning that bears its reason's code.
func TestEveryAbsentFigureHasItsWarning(t *testing.T) {
	on := [][2]float64{{3, 10}, {12, 15}}
	amps := func(on bool, _ float64) float64 {
		if on {
			return 4
		}
		return 0.02
	}
	made := func() *takes { return tone(on, 18, 80, 40) }
	with := func(change func(s *takes)) func() rig.Source {
		return func() rig.Source { s := made(); change(s); return s }
	}
	short := func(on [][2]float64) func() rig.Source { return func() rig.Source { return tone(on, 18, 80, 40) } }
	absent := 0
	for _, c := range []struct {
		name string
		src  func() rig.Source
	}{
		{"all", with(func(*takes) {})},
		{"sound only", with(func(s *takes) { s.clamp = nil })},
		{"current only", with(func(s *takes) { s.mic = nil })},
		{"readings", with(func(s *takes) { s.mic, s.clamp, s.rows = nil, nil, readings(on, 18, 0.1, amps) })},
		{"readings and sound", with(func(s *takes) { s.clamp, s.rows = nil, readings(on, 18, 0.02, amps) })},
		{"slow readings", with(func(s *takes) { s.mic, s.clamp, s.rows = nil, nil, readings(on, 18, 1, amps) })},
		{"scale only", with(func(s *takes) {
			s.mic, s.clamp = nil, nil
			rng := rand.New(rand.NewPCG(1, 1))
			s.mass = readings([][2]float64{{5, 14}}, 18, 0.1, func(on bool, _ float64) float64 {
				if on {
					return 500 + 40*rng.NormFloat64()
				}
				return 500
			})
		})},
		{"deaf", with(func(s *takes) { clear(s.mic) })},
		{"deaf before the start", with(func(s *takes) { clear(s.mic[:int(3*s.micHz)]) })},
		{"blind", with(func(s *takes) { clear(s.clamp) })},
		{"dead", with(func(s *takes) { clear(s.mic); clear(s.clamp) })},
		{"clipped", with(func(s *takes) {
			for i, v := range s.mic {
				s.mic[i] = max(min(v*1000, 1), -1)
			}
		})},
		{"sound ends early", with(func(s *takes) { s.mic = s.mic[:int(6*s.micHz)] })},
		{"sound ends before the start", with(func(s *takes) { s.mic = s.mic[:int(2*s.micHz)] })},
		{"current ends early", with(func(s *takes) { s.clamp = s.clamp[:int(6*s.curHz)] })},
		{"current ends before the start", with(func(s *takes) { s.clamp = s.clamp[:int(2*s.curHz)] })},
		{"current ends at once", with(func(s *takes) { s.clamp = s.clamp[:int(0.1*s.curHz)] })},
		{"low sample rates", with(func(s *takes) { s.micHz, s.curHz = 4000, 1000 })},
		{"jog first", short([][2]float64{{3, 3.15}, {5, 12}})},
		{"only a jog", short([][2]float64{{3, 3.2}})},
		{"only a click", short([][2]float64{{3, 3.05}})},
		{"short run", short([][2]float64{{3, 4}})},
		{"began running", short([][2]float64{{0, 9}})},
		{"began at once", short([][2]float64{{0.06, 9}})},
		{"ended running", short([][2]float64{{3, 30}})},
		{"loud room", func() rig.Source { return tone(on, 18, 60, 59) }},
		{"nothing ran", short(nil)},
		{"level meter", func() rig.Source {
			return &blocks{[]rig.Stream{{Channel: rig.Microphone, Form: rig.Level, Unit: rig.Decibel}},
				[]rig.Block{{Channel: rig.Microphone, Readings: readings(on, 18, 0.125, func(on bool, _ float64) float64 {
					if on {
						return 80
					}
					return 40
				})}}}
		}},
		{"silent extra channel", func() rig.Source {
			s := made()
			return &blocks{[]rig.Stream{{Channel: rig.Clamp, Form: rig.RMS, Unit: rig.Ampere}, {Channel: "water", Form: rig.Value, Unit: "degC"}},
				[]rig.Block{{Channel: rig.Clamp, Readings: readings(on, 18, 0.1, amps)}, {Channel: "water", Readings: s.rows}}}
		}},
	} {
		res := analyse(t, c.src(), setup())
		for _, what := range unexplained(res) {
			t.Errorf("%s: %s is absent, and no warning says why: %v", c.name, what, res.Warnings)
		}
		if (c.name == "sound only" || c.name == "scale only") && warned(res, "no-waveform") {
			t.Errorf("%s: told that its current was recorded as readings: %v", c.name, res.Warnings)
		}
		for _, w := range res.Warnings {
			if strings.Contains(w.Text, "%!") || strings.Contains(w.Text, "it could not be measured") {
				t.Errorf("%s: %s: %s", c.name, w.Code, w.Text)
			}
		}
		for _, r := range res.Runs {
			if !r.Sound.LAeqDB.OK || !r.Motor.FrequencyHz.OK || !r.Motor.InrushA.OK {
				absent++
			}
		}
	}
	if absent < 10 {
		t.Errorf("only %d sessions lacked a figure: the test sees too little", absent)
	}
}

// Hum of a clamp that stands out far enough to be followed lets the frequency be measured as well as one without.
func TestFrequencyWithHum(t *testing.T) {
	for _, hum := range []float64{0, 0.05, 0.1, 0.3} {
		s := tone([][2]float64{{3, 8}, {10, 12}}, 14, 80, 40)
		s.mic = nil
		for i := range s.clamp {
			s.clamp[i] += hum * math.Sqrt2 * math.Sin(2*math.Pi*60.02*float64(i)/s.curHz+1)
		}
		res := analyse(t, s, setup())
		if len(res.Runs) != 1 {
			t.Fatalf("hum of %g A: %d runs, want 1", hum, len(res.Runs))
		}
		near(t, fmt.Sprintf("frequency with %g A of hum", hum), res.Runs[0].Motor.FrequencyHz, 60.02, 0.005)
	}
}

// A first start that is broken off before the motor has run up shows its inrush all the same.
func TestInrushOfAJog(t *testing.T) {
	res := analyse(t, tone([][2]float64{{3, 3.15}, {5, 12}}, 15, 80, 40), setup())
	if len(res.Runs) != 1 {
		t.Fatalf("%d runs, want 1", len(res.Runs))
	}
	near(t, "inrush", res.Runs[0].Motor.InrushA, 28, 0.3)
}

// The largest RMS counts the first cycle, whose direct current comes of the instant at which the switch closed; the
// inrush does not. Expected is the largest mean square of i = I sqrt(2) (sin(wt+p) - sin(p) exp(-t/T)) over one cycle, renewed
// every half cycle from the switching on (IEC 61000-4-30), by quadrature.
func TestLargestRMSHoldsTheFirstCycle(t *testing.T) {
	const amps, hz, tauS = 28.0, 60.02, 0.012
	for _, phase := range []float64{0, 0.5, 1.1, math.Pi / 2, 2.3, 4} {
		at := func(s float64) float64 {
			return amps * math.Sqrt2 * (math.Sin(2*math.Pi*hz*s+phase) - math.Sin(phase)*math.Exp(-s/tauS))
		}
		s := tone([][2]float64{{3, 8}}, 10, 80, 40)
		s.mic = nil
		for i := range s.clamp {
			if age := float64(i)/s.curHz - 3; age >= 0 && age < 0.25 {
				s.clamp[i] = at(age)
			}
		}
		ms, n := 0.0, 20000
		for half := range 4 {
			sum := 0.0
			for i := range n {
				v := at((float64(half)/2 + (float64(i)+0.5)/float64(n)) / hz)
				sum += v * v / float64(n)
			}
			ms = max(ms, sum)
		}
		res := analyse(t, s, setup())
		if len(res.Runs) != 1 {
			t.Fatalf("phase %g: %d runs, want 1", phase, len(res.Runs))
		}
		m := res.Runs[0].Motor
		near(t, fmt.Sprintf("phase %g: largest RMS", phase), m.MaxA, math.Sqrt(ms), 0.02*math.Sqrt(ms))
		near(t, fmt.Sprintf("phase %g: inrush", phase), m.InrushA, amps, 0.03*amps)
	}
}

// Sound that ends in mid-run: its levels are those of a part, and that is said; too small a part stands for nothing.
func TestSoundEndsInMidRun(t *testing.T) {
	for _, c := range []struct {
		endS float64
		ok   bool
	}{{8, true}, {3.3, false}, {1, false}} {
		s := tone([][2]float64{{3, 13}}, 16, 80, 40)
		s.mic = s.mic[:int(c.endS*s.micHz)]
		res := analyse(t, s, setup())
		if len(res.Runs) != 1 || res.Runs[0].Sound.LAeqDB.OK != c.ok || !warned(res, "microphone-short") {
			t.Fatalf("sound to %g s: %+v", c.endS, res)
		}
		if got := res.Runs[0].Sound.LAeqDB; !c.ok && got.Why != "microphone-short" {
			t.Errorf("sound to %g s: LAeq is absent for %q", c.endS, got.Why)
		}
	}
	if res := analyse(t, tone([][2]float64{{3, 13}}, 16, 80, 40), setup()); warned(res, "microphone-short") {
		t.Errorf("all of the run was heard: %+v", res.Warnings)
	}
}

func warned(res rig.Result, code string) bool {
	for _, w := range res.Warnings {
		if w.Code == code {
			return true
		}
	}
	return false
}
