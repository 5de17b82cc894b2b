package detect_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"quern/rig"
)

// told returns the texts of the warnings of a code.
func told(res rig.Result, code string) []string {
	var out []string
	for _, w := range res.Warnings {
		if w.Code == code {
			out = append(out, w.Text)
		}
	}
	return out
}

// TestFaultsOnce wants one warning for one fault: with its run if it lies in one, by itself if not.
func TestFaultsOnce(t *testing.T) {
	run := [][2]float64{{3, 7}}
	at := func(s *takes, fromS, toS float64, v func(i int) float64) {
		for i := int(fromS * s.micHz); i < min(int(toS*s.micHz), len(s.mic)); i++ {
			s.mic[i] = v(i)
		}
	}
	full := func(int) float64 { return 1 }
	dead := func(int) float64 { return 0.25 }
	for _, c := range []struct {
		name string
		code string
		make func(s *takes)
		want []string // what each text holds
	}{
		{"clipped in the run", "microphone-clipped", func(s *takes) { at(s, 5, 5.01, full) }, []string{"480 samples of run 1 were clipped (5.00 to 5.01 s)"}},
		{"clipped before the run", "microphone-clipped", func(s *takes) { at(s, 1, 1.01, full) }, []string{"480 samples clipped from 1.00 to 1.01 s"}},
		{"one sample beyond full scale", "microphone-clipped", func(s *takes) { s.mic[5*48000] = 1.5 }, []string{"1 sample of run 1 was clipped (5.00 to 5.00 s)"}},
		{"one sample that is no sound", "microphone-left-out", func(s *takes) { s.mic[5*48000] = 3e38 }, []string{"1 sample of the microphone is no sound"}},
		{"and is not called clipped", "microphone-clipped", func(s *takes) { s.mic[5*48000] = 3e38 }, nil},
		{"one sample that is no current", "clamp-left-out", func(s *takes) { s.clamp[5*8000] = math.Inf(1) }, []string{"1 sample of the clamp is no current"}},
		{"clipped both", "microphone-clipped", func(s *takes) { at(s, 1, 1.01, full); at(s, 5, 5.01, full) },
			[]string{"480 samples of run 1 were clipped (5.00 to 5.01 s)", "480 samples clipped from 1.00 to 1.01 s"}},
		{"clipped often", "microphone-clipped", func(s *takes) {
			for k := range 8 {
				at(s, 3.5+0.3*float64(k), 3.51+0.3*float64(k), full)
			}
		}, []string{"4.70 to 4.71 s, 3 more stretches)"}},
		{"silent in the run", "microphone-silent", func(s *takes) { at(s, 4, 6, dead) }, []string{"for 2.0 s of run 1 the microphone's input did not change at all (4.00 to 6.00 s)"}},
		{"silent after the run", "microphone-silent", func(s *takes) { at(s, 7.5, 10, dead) }, []string{"did not change at all from 7.50 to 10.00 s"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := tone(run, 10, 75, 40)
			c.make(s)
			got := told(analyse(t, s, setup()), c.code)
			if len(got) != len(c.want) {
				t.Fatalf("got %q, want %q", got, c.want)
			}
			for i, w := range c.want {
				if !strings.Contains(got[i], w) {
					t.Errorf("got %q, want %q", got[i], w)
				}
			}
		})
	}
}

// TestManyFaults counts the stretches that are not kept.
func TestManyFaults(t *testing.T) {
	s := &takes{micHz: 1000, cutMic: 1000}
	for i := range 220 * 1100 {
		v := 0.01 * math.Sin(float64(i)*1.3)
		if i%220 < 4 {
			v = 1
		}
		s.mic = append(s.mic, v)
	}
	got := told(analyse(t, s, setup()), "microphone-clipped")
	if len(got) == 0 || len(got) > 7 || !strings.Contains(strings.Join(got, " "), "more stretches") {
		t.Errorf("got %q", got)
	}
}

// TestBandsBeyond wants one warning a session that names the third octaves above the sample rate.
func TestBandsBeyond(t *testing.T) {
	for rate, want := range map[float64]string{
		48000: "", 44100: "",
		32000: "the third octave at 16000 Hz is absent: a band must end below 0.45 of the sample rate, which is 32000 Hz",
		22050: "the 3 third octaves from 10000 to 16000 Hz are absent: a band must end below 0.45 of the sample rate, which is 22050 Hz",
		1000:  "the 16 third octaves from 500 to 16000 Hz are absent: a band must end below 0.45 of the sample rate, which is 1000 Hz",
	} {
		t.Run(fmt.Sprint(rate), func(t *testing.T) {
			s := tone([][2]float64{{3, 6}, {8, 10}}, 12, 75, 40)
			s.mic, s.micHz = nil, rate
			for i := range int(12 * rate) {
				at := float64(i) / rate
				v := 0.0001 * math.Sin(float64(i)*float64(i)*0.7)
				if at >= 3 && at < 6 || at >= 8 && at < 10 {
					v += 0.01 * math.Sin(2*math.Pi*200*at)
				}
				s.mic = append(s.mic, v)
			}
			set := setup()
			set.Procedure.LongestPauseS = 1 // two runs
			res := analyse(t, s, set)
			if len(res.Runs) != 2 {
				t.Fatalf("%d runs, want 2", len(res.Runs))
			}
			absent := 0
			for _, b := range res.Runs[0].Sound.ThirdOctaves {
				if b.LeqDB.Why == "band-above-sample-rate" {
					absent++
				}
			}
			got := told(res, "band-above-sample-rate")
			if want == "" && (len(got) > 0 || absent > 0) || want != "" && (len(got) != 1 || got[0] != want || absent == 0) {
				t.Errorf("%d absent, got %q, want %q", absent, got, want)
			}
		})
	}
}
