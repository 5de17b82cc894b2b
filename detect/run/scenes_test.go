package run_test

import (
	"math"
	"math/rand/v2"
	"os"
	"sort"
	"testing"

	"quern/config"
	"quern/rig"
)

func TestLoadOfScenes(t *testing.T) {
	for _, c := range []struct {
		name string
		set  func(*scene, *rand.Rand, *config.Setup)
		// start and stop within this, s; load_end median and worst within these
		edge, median, worst float64
		missed              int
	}{
		{"usual", func(*scene, *rand.Rand, *config.Setup) {}, 0.017, 0.5, 1, 0},
		{"stubborn", func(s *scene, r *rand.Rand, _ *config.Setup) { s.stubborn = 2 + 4*r.Float64() }, 0.017, 0.5, 1, 0},
		{"hides for long", func(s *scene, r *rand.Rand, _ *config.Setup) {
			more := 7 + 2*r.Float64()
			s.peakLoad = max(s.peakLoad, 0.6) // a piece that hides so long is hard
			s.stubborn, s.clearS, s.stopS, s.seconds = more, s.clearS+more, s.stopS+more, s.seconds+more
		}, 0.017, 0.5, 1, 0},
		{"claps", func(s *scene, r *rand.Rand, _ *config.Setup) {
			s.claps = []float64{s.clearS + 2 + r.Float64(), s.startS + 1.5, s.startS - 1}
		}, 0.017, 0.5, 1, 0},
		{"weak clamp", func(s *scene, r *rand.Rand, _ *config.Setup) { s.noiseA = 0.15 }, 0.017, 0.5, 2, 0},
		{"no microphone", func(s *scene, r *rand.Rand, _ *config.Setup) { s.silent = true }, 0.017, 0.5, 3, 0},
		{"follows load", func(s *scene, r *rand.Rand, set *config.Setup) {
			s.inPhase, s.magnetising = true, 0.05+0.1*r.Float64()
			set.Unit.Motor = "permanent-magnet"
		}, 0.017, 0.5, 2, 0},
		{"amplitude only", func(s *scene, r *rand.Rand, set *config.Setup) { s.inPhase = true }, 0.017, 0.5, 2, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			var starts, ends []float64
			missed := 0
			last := uint64(30)
			if os.Getenv("QUERN_WHOLE") == "" {
				last = 12
			}
			for seed := uint64(1); seed <= last; seed++ {
				rng := rand.New(rand.NewPCG(seed, 1))
				s, set := usual(rng), setup()
				c.set(&s, rng, &set)
				runs, warn := s.play(seed, set)
				if len(runs) != 1 {
					t.Errorf("seed %d: %d runs %v", seed, len(runs), warn)
					continue
				}
				ls, le := math.NaN(), math.NaN()
				n := map[rig.Kind]int{}
				for _, e := range runs[0].Events {
					n[e.Kind]++
					switch e.Kind {
					case rig.LoadStart:
						ls = e.AtS.V - s.feedS
					case rig.LoadEnd:
						le = e.AtS.V - s.clearS
					case rig.MotorStart:
						if d := e.AtS.V - s.startS; !(math.Abs(d) <= c.edge) {
							t.Errorf("seed %d: start off by %.4f s", seed, d)
						}
					case rig.MotorStop:
						if d := e.AtS.V - s.stopS; !(math.Abs(d) <= c.edge) {
							t.Errorf("seed %d: stop off by %.4f s", seed, d)
						}
					}
				}
				if n[rig.MotorStart] != 1 || n[rig.MotorStop] != 1 || n[rig.StallStart]+n[rig.Trip] != 0 {
					t.Errorf("seed %d: %v %v", seed, n, warn)
				}
				if ls != ls || le != le {
					missed++
					t.Logf("seed %d: missed %v %v %+v", seed, n, warn, s)
					continue
				}
				starts, ends = append(starts, math.Abs(ls)), append(ends, math.Abs(le))
				if math.Abs(ls) > 0.5 || math.Abs(le) > 0.5 {
					t.Logf("seed %d: load_start %+.2f load_end %+.2f %.2f", seed, ls, le, s.claps)
				}
			}
			sort.Float64s(starts)
			sort.Float64s(ends)
			if missed > c.missed || len(ends) == 0 {
				t.Fatalf("missed %d", missed)
			}
			t.Logf("missed %d; load_start median %.2f worst %.2f; load_end median %.2f worst %.2f", missed, starts[len(starts)/2], starts[len(starts)-1], ends[len(ends)/2], ends[len(ends)-1])
			if ends[len(ends)/2] > c.median || ends[len(ends)-1] > c.worst {
				t.Errorf("load_end median %.2f s, worst %.2f s", ends[len(ends)/2], ends[len(ends)-1])
			}
		})
	}
}
