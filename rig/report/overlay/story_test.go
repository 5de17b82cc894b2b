package overlay

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"quern/rig"
	"quern/rig/report"
)

// What stands once a run is over is what the report prints, to the digit.
func TestFinalFigures(t *testing.T) {
	sc := eventful()
	s := newStory(sc)
	m := s.at(190)
	r := sc.Result.Runs[0]
	want := []string{report.MeasureWords("laeq_db", r.Sound.LAeqCorrectedDB.V), report.MeasureWords("mean_a", r.Motor.MeanA.V),
		report.MeasureWords("lafmax_db", r.Sound.LAFmaxDB.V), report.MeasureWords("max_a", r.Motor.MaxA.V)}
	for i, w := range want {
		_, unit, _ := strings.Cut(m.reads[i].label, ", ")
		if got := m.reads[i].value + " " + unit; got != w {
			t.Errorf("%s: %q, in the report %q", m.reads[i].label, got, w)
		}
	}
	if m.clock != report.TimeWords(121.16) || m.of != "of 1:40, passed" {
		t.Errorf("clock %q %q, in the report %q", m.clock, m.of, report.TimeWords(121.16))
	}
	sc.Result.Runs[0].Sound.LAeqCorrectedDB = rig.Absent("background")
	if r := newStory(sc).at(190).reads[0]; r.label != "LAeq as measured, dB" || r.value != "82.3" {
		t.Errorf("without a corrected level: %v", r)
	}
	sc.Final = []Final{{RunTimeS: rig.Fig(60), MeanA: rig.Fig(7)}}
	if m := newStory(sc).at(190); m.clock != "1:00.0" || len(m.reads) != 1 || m.reads[0].value != "7.00" {
		t.Errorf("corrected figures: %q %v", m.clock, m.reads)
	}
}

func TestMoments(t *testing.T) {
	s := newStory(eventful())
	for _, c := range []struct {
		atS  float64
		want string
	}{
		{-0.001, "empty"}, {0, "Off / –  of 1:40"}, {4.19, "Off / –  of 1:40"}, {4.2, "Starting / 0:00 of 1:40"}, {5.2, "No load / 0:01 of 1:40"}, {24, "Stalled / 0:19 of 1:40"},
		{58.2, "Overloaded / 0:54 of 1:40"}, {61, "Tripped (presumed) / 0:56 of 1:40"}, {120, "Tripped (presumed) / 0:56 of 1:40"},
		{145, "Unknown / 1:19 of 1:40"}, {165.44, "Loaded / 1:40 of 1:40"}, {166.45, "Loaded / 1:41 of 1:40, passed"}, {186.6, "Off / 2:01.2 of 1:40, passed"}, {250, " / 2:01.2 of 1:40, passed"},
	} {
		m := s.at(c.atS)
		got := "empty"
		if !m.empty {
			got = strings.TrimSpace(m.word+" "+m.beside) + " / " + m.clock + " " + m.of
			if m.word == "" {
				got = " / " + m.clock + " " + m.of
			}
		}
		if got != strings.ReplaceAll(c.want, "–  ", "– ") {
			t.Errorf("at %g s: %q, want %q", c.atS, got, c.want)
		}
	}
	if m := newStory(bare()).at(5); m.word != "Unknown" || m.clock != "" || m.band != nil || len(m.reads) != 1 || m.reads[0].value != "40" {
		t.Errorf("no run, no clamp: %+v", m)
	}
}

// The limit ends where the report puts it, and never moves back.
func TestLimit(t *testing.T) {
	for _, clock := range []string{"motor-on", "elapsed"} {
		for _, limit := range []float64{1, 30, 56.7, 57, 100, 121, 122, 240, 5000} {
			sc := eventful()
			sc.Clock, sc.LimitS = clock, limit
			if clock == "elapsed" {
				sc.Result.Runs[0].RunTimeS = sc.Result.Runs[0].ElapsedS
			}
			u := &newStory(sc).uses[0]
			want, _ := report.LimitAt(sc.Result.Runs[0], limit)
			if got := u.limitAt(u.endS); !(math.Abs(got-want) <= 1e-9) {
				t.Errorf("%s, %g s: the limit ends at %g s, in the report at %g s", clock, limit, got, want)
			}
			last := 0.0
			for at := 0.0; at < u.endS; at += 0.31 {
				got := u.limitAt(at)
				if got < last-1e-9 {
					t.Fatalf("%s, %g s: the limit goes back from %g to %g s at %g s", clock, limit, last, got, at)
				}
				// The clock stands at the limit where the edge is.
				if at > got+1e-9 != (u.used(at) > limit+1e-9) {
					t.Fatalf("%s, %g s: at %g s the clock says %g s, and the edge is at %g s", clock, limit, at, u.used(at), got)
				}
				last = got
			}
		}
	}
}

// A figure changes at most twice a second, follows within a digit, and does not tremble.
func TestSteady(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, scatter := range []float64{0.1, 0.3, 3} {
		var tr Track
		for k := range 3000 {
			tr.Add(float64(k)/10+0.05, 80.5+scatter*(2*rng.Float64()-1))
		}
		tr.settle()
		s := newSteady(&tr, 0)
		changes, last := 0, -100
		for k := 1; k < 3000; k++ {
			if s.shown[k] == s.shown[k-1] {
				continue
			}
			if changes++; k-last < paceTenths {
				t.Fatalf("scatter %g: two changes within %d tenths of a second", scatter, k-last)
			}
			last = k
		}
		if scatter < 0.75-0.5 && changes > 0 || scatter > 1 && changes < 100 {
			t.Errorf("scatter %g: %d changes", scatter, changes)
		}
	}
	var tr Track
	tr.Add(0.05, -0.04)
	tr.settle()
	if got := newSteady(&tr, 1).text(0.05); got != "0.0" {
		t.Errorf("nearly nothing is shown as %q", got)
	}
	if got := newSteady(&tr, 1).text(0.2); got != absent {
		t.Errorf("past the end: %q", got)
	}
}

// A reading holds until the next, but not for ever, and not where the source was dead.
func TestTrackHolds(t *testing.T) {
	var tr Track
	for _, v := range [][2]float64{{0.05, 1}, {1.05, 2}, {4.05, 3}, {5.05, math.NaN()}, {5.95, 4}, {-1, 9}, {math.NaN(), 9}, {1e12, 9}} {
		tr.Add(v[0], v[1])
	}
	tr.settle()
	got := ""
	for _, k := range []int{0, 9, 10, 29, 30, 31, 40, 49, 50, 58, 59, 60, -1} {
		got += fmt.Sprintf("%g ", tr.at(k))
	}
	if want := "1 1 2 2 NaN NaN 3 3 NaN NaN 4 NaN NaN "; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if m := tr.mean(0, 2); m != 1.5 {
		t.Errorf("mean %g, want 1.5", m)
	}
	if m := tr.mean(5.1, 5.8); !math.IsNaN(m) {
		t.Errorf("a mean of nothing: %g", m)
	}
}

// Words stand half a second; what is grave comes at once.
func TestCalm(t *testing.T) {
	all := []change{{0, rig.Off}, {5, rig.Starting}, {5.2, rig.NoLoad}, {8, rig.Loaded}, {8.1, rig.NoLoad}, {8.2, rig.Loaded}, {9, rig.NoLoad}, {9.1, rig.Stalled}, {9.2, rig.Loaded}, {9.65, rig.Off}}
	got := ""
	for _, c := range calm(all) {
		got += fmt.Sprintf("%s %.1f, ", c.state, c.atS)
	}
	if want := "off 0.0, starting 5.0, no-load 5.5, loaded 8.0, no-load 9.0, stalled 9.1, loaded 9.6, off 10.1, "; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}
