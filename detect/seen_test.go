package detect_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"quern/detect"
	"quern/rig"
)

// Where no run is found, what every channel showed is told, and what was missing.
func TestNoRunSaysWhatWasSeen(t *testing.T) {
	mass := []rig.Reading{{AtS: 0, Value: 2500}, {AtS: 5, Value: 2480}, {AtS: 9, Value: 1800}}
	for _, c := range []struct {
		name string
		make func(s *takes)
		want []string // what each text after the first holds
	}{
		{"all quiet", func(s *takes) { s.mass = mass }, []string{
			"the microphone: 3", "; where the clamp sees nothing a motor is believed to have run if it is louder than 60 dB(A)",
			"the clamp: at most 0.0", "more than 2 % of it (0.12 A)", "around one conductor", "the scale: from 1800 to 2500 g"}},
		{"no clamp", func(s *takes) { s.clamp = nil }, []string{"a motor must stand 10 dB above the quiet for 1 s"}},
		{"dead microphone", func(s *takes) {
			for i := range s.mic {
				s.mic[i] = 0
			}
		}, []string{"the microphone: its input did not change at all", "the clamp: at most"}},
		{"a lamp on the lead", func(s *takes) {
			for i := range s.clamp {
				s.clamp[i] += 0.15 * math.Sqrt2 * math.Sin(2*math.Pi*60*float64(i)/s.curHz)
			}
		}, []string{"at most 0.15", "A flowed for", "Is rated_current_a that of this unit?"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := tone(nil, 10, 75, 40)
			c.make(s)
			res := analyse(t, s, setup())
			if len(res.Runs) != 0 {
				t.Fatalf("%d runs, want none", len(res.Runs))
			}
			got := told(res, "no-run")
			if len(got) == 0 || got[0] != "no run was found" {
				t.Fatalf("got %q", got)
			}
			all := strings.Join(got, "\n")
			for _, w := range c.want {
				if !strings.Contains(all, w) {
					t.Errorf("no %q in\n%s", w, all)
				}
			}
		})
	}
	if got := told(analyse(t, tone([][2]float64{{3, 7}}, 10, 75, 40), setup()), "no-run"); got != nil {
		t.Errorf("with a run: got %q", got)
	}
}

// Where a motor was heard that the clamp does not tell, it is said whether the clamp saw nothing or too little.
func TestBlindClampSaysWhatItSaw(t *testing.T) {
	for _, c := range []struct {
		scale float64 // of the 4 A of the motor, whose nameplate says 6
		want  []string
	}{
		{0.3, []string{"clamp-saw-little", "for half of 7.0 s 1.", "% of the rated 6 A, and at most 8.", "full_scale_a"}},
		{0, []string{"clamp-saw-nothing", "a motor was heard for 7.0 s and no current was seen with it (at most 0.02", "one conductor"}},
	} {
		s := tone([][2]float64{{3, 10}}, 13, 75, 40)
		rng := rand.New(rand.NewPCG(5, 6))
		for i := range s.clamp {
			s.clamp[i] = c.scale*s.clamp[i] + 0.02*rng.NormFloat64()
		}
		res := analyse(t, s, setup())
		got := told(res, c.want[0])
		if len(res.Runs) != 1 || len(got) != 1 || res.Runs[0].Motor.MeanA.Why != c.want[0] {
			t.Fatalf("at %g of the current: %d runs, %+v", c.scale, len(res.Runs), res.Warnings)
		}
		for _, w := range c.want[1:] {
			if !strings.Contains(got[0], w) {
				t.Errorf("no %q in %s", w, got[0])
			}
		}
	}
}

// A clamp that shows three times the current makes an empty motor an overloaded one: that is said.
func TestClampSawMuch(t *testing.T) {
	for _, c := range []struct {
		scale float64
		want  int
	}{{1, 0}, {3, 1}} {
		s := tone([][2]float64{{3, 10}}, 13, 75, 40)
		for i := range s.clamp {
			s.clamp[i] *= c.scale
		}
		got := told(analyse(t, s, setup()), "clamp-saw-much")
		if len(got) != c.want || c.want == 1 && !strings.Contains(got[0], "12 A without load, 200 % of the rated 6 A") {
			t.Errorf("at %g times the current: %q", c.scale, got)
		}
	}
}

// stepped rounds to steps of digits, as a converter does.
func stepped(s *takes, bits int) {
	n := math.Pow(2, float64(bits-1))
	for i, v := range s.mic {
		s.mic[i] = math.Round(v*n) / n
	}
}

// A background that is the instrument's own is said to be.
func TestUnderRange(t *testing.T) {
	run := [][2]float64{{3, 7}}
	for _, c := range []struct {
		name         string
		backgroundDB float64
		bits         int
		selfNoiseDB  float64
		want         int
		absent       bool // the background; the level, far above it, stays as it is
	}{
		// 16 bits and a full scale of 120 dB: 120 - 98.1 dB (6.02 dB a bit and 1.76 dB, handbook) is 21.9 dB unweighted.
		{"16 bits, a usual room", 40, 16, 0, 0, false},
		{"16 bits, a very quiet room", 22, 16, 0, 1, false},
		{"16 bits, a room that only moves a digit now and then", 15, 16, 0, 1, true},
		{"12 bits, a usual room", 40, 12, 0, 1, true},
		{"24 bits, a very quiet room", 22, 24, 0, 0, false},
		{"a microphone that hisses", 40, 24, 38, 1, false},
		{"one that does not", 40, 24, 15, 0, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := tone(run, 10, 75, c.backgroundDB)
			stepped(s, c.bits)
			set := setup()
			set.Bench.Microphone.SelfNoiseDB = c.selfNoiseDB
			r := analyse(t, s, set)
			if got := told(r, "microphone-under-range"); len(got) != c.want {
				t.Errorf("got %q, want %d", got, c.want)
			}
			level := r.Runs[0].Sound
			if level.BackgroundDB.OK == c.absent || c.absent && level.LAeqCorrectedDB != level.LAeqDB {
				t.Errorf("background %v, LAeq %v, corrected %v", level.BackgroundDB, level.LAeqDB, level.LAeqCorrectedDB)
			}
		})
	}
}

// What the step of the digits is said to be worth is what the level meter shows of rounding errors: noise that is even
// from half a step below to half a step above (W. R. Bennett, 1948). Unweighted, 16 bits are 98.1 dB below a full sine (handbook).
func TestGrainLevel(t *testing.T) {
	const step, fullDB = 1.0 / 2048, 120.0
	for _, rate := range []float64{8000, 16000, 48000} {
		t.Run(fmt.Sprint(rate), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(7, 8))
			x := make([]float64, int(20*rate))
			for i := range x {
				x[i] = step * (rng.Float64() - 0.5)
			}
			s := &takes{micHz: rate, cutMic: 1000, mic: x}
			var sum, n float64
			_, err := detect.Analyse(s, setup(), "s", detect.Trace{Level: func(atS, laeqDB, _ float64) {
				if atS > 1 {
					sum, n = sum+math.Pow(10, laeqDB/10), n+1
				}
			}})
			if err != nil {
				t.Fatal(err)
			}
			near(t, "level of rounding", detect.GrainLevelDB(step, rate, fullDB), 10*math.Log10(sum/n), 0.2)
		})
	}
}
