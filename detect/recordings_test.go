package detect_test

import (
	"encoding/csv"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"quern/rig"
	"quern/rig/wave"
)

// recordings is the folder of sound and power that nobody here made; it is no part of the project.
func recordings(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("QUERN_RECORDINGS")
	if dir == "" {
		dir = "../../shared/recordings"
	}
	if _, err := os.Stat(filepath.Join(dir, "levels.csv")); err != nil {
		t.Skipf("the real recordings are not at %s; QUERN_RECORDINGS may name their folder", dir)
	}
	return dir
}

func table(t *testing.T, name string, comma rune) []map[string]string {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comma = comma
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, rec := range all[1:] {
		m := map[string]string{}
		for i, k := range all[0] {
			m[k] = rec[i]
		}
		out = append(out, m)
	}
	return out
}

func value(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func samples(t *testing.T, name string, channel int) ([]float64, float64) {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	r, err := wave.Open(f, info.Size(), name)
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, r.Frames())
	for n := 0; n < len(x); {
		k, err := r.Read(x[n:], channel)
		n += k
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return x, float64(r.Format().RateHz)
}

// TestLevelsOfRealRecordings holds the levels of whole files to those of levels.csv, which come from one
// FFT over the file times the analytic weighting of IEC 61672-1. A made clamp says the motor was on.
func TestLevelsOfRealRecordings(t *testing.T) {
	dir := recordings(t)
	set := setup()
	toDBFS := func(f rig.Figure) float64 { return f.V - set.Bench.Microphone.FullScaleDB - 20*math.Log10(math.Sqrt2) }
	n := 0
	worst := map[string]float64{}
	for _, row := range table(t, filepath.Join(dir, "levels.csv"), ',') {
		if value(t, row["duration_s"]) < 1 {
			continue
		}
		n++
		src := &takes{cutMic: 5000, cutCur: 800, curHz: 8000}
		src.mic, src.micHz = samples(t, filepath.Join(dir, row["file"]), int(value(t, row["channel"])))
		for i := range int(8000 * float64(len(src.mic)) / src.micHz) {
			src.clamp = append(src.clamp, 6*math.Sin(2*math.Pi*60*float64(i)/8000))
		}
		res := analyse(t, src, set)
		if len(res.Runs) != 1 {
			t.Errorf("%s: %d runs, want one over the whole file: %v", row["file"], len(res.Runs), res.Warnings)
			continue
		}
		s := res.Runs[0].Sound
		for _, c := range []struct {
			what, column string
			got          rig.Figure
			tol          float64
		}{{"LAeq", "LAeq_dbfs", s.LAeqDB, 0.03}, {"LCeq", "LCeq_dbfs", s.LCeqDB, 0.03}, {"LAFmax", "LAFmax_dbfs", s.LAFmaxDB, 0.05}} {
			d := toDBFS(c.got) - value(t, row[c.column])
			worst[c.what] = max(worst[c.what], math.Abs(d))
			if !c.got.OK || !(math.Abs(d) <= c.tol) {
				t.Errorf("%s channel %s: %s off by %+.3f dB", row["file"], row["channel"], c.what, d)
			}
		}
	}
	if n == 0 {
		t.Fatal("no recording of 1 s or more in levels.csv")
	}
	t.Logf("%d channels; worst errors, dB: LAeq %.3f, LCeq %.3f, LAFmax %.3f", n, worst["LAeq"], worst["LCeq"], worst["LAFmax"])
}

// TestSwitchingOfRealAppliances takes power logged about once a second as RMS rows of a clamp and wants
// the starts and stops of switching.csv.
func TestSwitchingOfRealAppliances(t *testing.T) {
	dir := recordings(t)
	type edge struct{ from, to float64 }
	for _, c := range []struct {
		file   string
		volts  float64
		ratedA float64
	}{{"electrical/tracebase/refrigerator_28dec.csv", 230, 0.7}, {"electrical/tracebase/vacuum_13jan.csv", 230, 6}} {
		t.Run(filepath.Base(c.file), func(t *testing.T) {
			b, err := os.ReadFile(filepath.Join(dir, c.file))
			if err != nil {
				t.Fatal(err)
			}
			src := &takes{}
			for _, line := range strings.Fields(strings.ReplaceAll(string(b), " ", "T")) {
				p := strings.Split(line, ";")
				hms := strings.Split(strings.Split(p[0], "T")[1], ":")
				at := 3600*value(t, hms[0]) + 60*value(t, hms[1]) + value(t, hms[2])
				if n := len(src.rows); n > 0 && src.rows[n-1].AtS >= at {
					continue
				}
				src.rows = append(src.rows, rig.Reading{AtS: at, Value: value(t, p[1]) / c.volts})
			}
			var on, off []edge
			for _, row := range table(t, filepath.Join(dir, "switching.csv"), ',') {
				if row["file"] != c.file {
					continue
				}
				on = append(on, edge{value(t, row["on_after_s"]), value(t, row["on_by_s"])})
				if row["off_by_s"] != "" {
					off = append(off, edge{value(t, row["off_after_s"]), value(t, row["off_by_s"])})
				}
			}
			set := setup()
			set.Unit.RatedCurrentA, set.Unit.LockedRotorA = c.ratedA, 0
			res := analyse(t, src, set)
			var gotOn, gotOff []float64
			for _, r := range res.Runs {
				for _, e := range r.Events {
					switch e.Kind {
					case rig.MotorStart:
						gotOn = append(gotOn, e.AtS.V)
					case rig.MotorStop, rig.Trip:
						gotOff = append(gotOff, e.AtS.V)
					}
				}
			}
			last := src.rows[len(src.rows)-1].AtS
			if n := len(off); n < len(on) && len(gotOff) == len(on) && gotOff[n] == last {
				gotOff = gotOff[:n] // still running at the end of the file
			}
			for _, x := range []struct {
				what string
				got  []float64
				want []edge
			}{{"start", gotOn, on}, {"stop", gotOff, off}} {
				if len(x.got) != len(x.want) {
					t.Errorf("%ss at %.1f, want %v", x.what, x.got, x.want)
					continue
				}
				for i, at := range x.got {
					if at < x.want[i].from-1 || at > x.want[i].to+1 {
						t.Errorf("%s %d at %.1f s, want %v", x.what, i+1, at, x.want[i])
					}
				}
			}
		})
	}
}
