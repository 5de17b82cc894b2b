package export

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"quern/detect/sound"
	"quern/rig"
	"quern/rig/report/series"
	"quern/rig/wave"
)

func rowsOf[T any](t testing.TB, out, table string) []T {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(out, table+".json"))
	check(t, err)
	var rows []T
	check(t, json.Unmarshal(b, &rows))
	return rows
}

type seriesRow struct {
	Session string   `json:"session"`
	TimeS   float64  `json:"time_s"`
	Hz      float64  `json:"nominal_hz"`
	Channel string   `json:"channel"`
	LAeqDB  float64  `json:"laeq_db"`
	LAFmax  float64  `json:"lafmax_db"`
	RMSA    *float64 `json:"rms_a"`
	LeqDB   float64  `json:"leq_db"`
	MassG   float64  `json:"mass_g"`
	Value   float64  `json:"value"`
}

// TestSeriesAreTheRuns: what the series come to over a run is what the analysis found of it, at any step, and nothing
// is told of a gap.
func TestSeriesAreTheRuns(t *testing.T) {
	o := campaign(t)
	o.Forms, o.Mass = []string{"json"}, "g"
	for _, stepS := range []float64{0, 0.5} {
		o.StepS = stepS
		out := written(t, o, "series")
		for _, r := range o.Campaign.Runs {
			d := r.Detected()
			if d == nil {
				continue
			}
			from, to := d.StartS.V, d.EndS.V
			in := func(x seriesRow) bool { return x.Session == r.Record.Session && x.TimeS >= from && x.TimeS < to }
			var energy, n, top float64
			for _, x := range rowsOf[seriesRow](t, out, "series_level") {
				if in(x) {
					energy, n, top = energy+sound.MeanSquarePa2(x.LAeqDB), n+1, max(top, x.LAFmax)
				}
				if x.Session == "b" && x.TimeS > 6.6 && x.TimeS < 7.9 {
					t.Errorf("step %g: a level at %g s, in the gap", stepS, x.TimeS)
				}
			}
			if got := sound.LevelDB(energy / n); r.Record.Session == "b" && math.Abs(got-d.Sound.LAeqDB.V) > 0.3 { // session a has a pause, which LAeq leaves out
				t.Errorf("step %g: LAeq %g dB, the run has %g", stepS, got, d.Sound.LAeqDB.V)
			}
			if !(math.Abs(top-d.Sound.LAFmaxDB.V) <= 0.02) {
				t.Errorf("step %g, session %s: LAFmax %g dB, the run has %g", stepS, r.Record.Session, top, d.Sound.LAFmaxDB.V)
			}
			var amperes, m float64
			for _, x := range rowsOf[seriesRow](t, out, "series_current") {
				if in(x) && x.RMSA != nil {
					amperes, m = amperes+*x.RMSA, m+1
				}
				if x.Session == "b" && x.TimeS > 9.3 && x.TimeS < 9.2+0.25 {
					t.Errorf("step %g: a current at %g s, in the gap", stepS, x.TimeS)
				}
			}
			if got := amperes / m; r.Record.Session == "b" && math.Abs(got/d.Motor.MeanA.V-1) > 0.01+0.05*stepS { // a root mean square lies above the mean
				t.Errorf("step %g: %g A in the mean, the run has %g", stepS, got, d.Motor.MeanA.V)
			}
			if r.Record.Session == "b" {
				bandsAgree(t, rowsOf[seriesRow](t, out, "series_third_octaves"), in, d)
			}
		}
		extra := rowsOf[seriesRow](t, out, "series_extra")
		if len(extra) < 60 || extra[3].Channel != "water-temperature" || extra[3].Value < 13 || extra[3].Value > 17 {
			t.Errorf("step %g: the extra channel has %d rows", stepS, len(extra))
		}
	}
}

// bandsAgree compares the energy mean of the bands over a run with its spectrum. Its edges, and the gap, cost some tenths.
func bandsAgree(t *testing.T, rows []seriesRow, in func(seriesRow) bool, d *rig.Run) {
	t.Helper()
	sum, n := map[float64]float64{}, map[float64]float64{}
	for _, x := range rows {
		if in(x) {
			sum[x.Hz] += sound.MeanSquarePa2(x.LeqDB)
			n[x.Hz]++
		}
	}
	compared := 0
	for _, b := range d.Sound.ThirdOctaves {
		if !b.LeqDB.OK || b.NominalHz.V < 100 {
			continue
		}
		compared++
		if got := sound.LevelDB(sum[b.NominalHz.V] / n[b.NominalHz.V]); !(math.Abs(got-b.LeqDB.V) < 1) {
			t.Errorf("%g Hz: %g dB, the run has %g", b.NominalHz.V, got, b.LeqDB.V)
		}
	}
	if compared < 10 {
		t.Errorf("only %d bands compared", compared)
	}
}

// TestBandsKeepEnergy: frames of different lengths and delays come to cells with the same exposure, whatever the step.
func TestBandsKeepEnergy(t *testing.T) {
	for _, stepS := range []float64{0.1, 1, 7} {
		got := make([]float64, 2)
		lastAt := math.Inf(-1)
		b := bands{count: 2, stepS: stepS, told: func(atS float64, band int, ms float64) error {
			if atS < lastAt {
				t.Fatalf("%g s after %g s", atS, lastAt)
			}
			lastAt = atS
			got[band] += ms * stepS
			return nil
		}}
		for i := range 400 { // the low band comes in frames of 4 s, 4 s late
			from := float64(i) / 10
			check(t, b.add(from, from+0.1, 1, []float64{0.2, 99}))
			if i%40 == 39 && i > 40 {
				check(t, b.add(float64(i-79)/10, float64(i-39)/10, 0, []float64{4}))
			}
		}
		check(t, b.add(36, 40, 0, []float64{4}), b.finish())
		if !(math.Abs(got[1]-80) <= 2*stepS*2) || !(math.Abs(got[0]-40) <= 2*stepS) || stepS < 2 && (math.Abs(got[1]-80) > 1e-9 || math.Abs(got[0]-40) > 1e-9) {
			t.Errorf("step %g: exposures %v, want 40 and 80", stepS, got)
		}
	}
}

// TestWAV: the sound of a run is the recording's own samples.
func TestWAV(t *testing.T) {
	o := campaign(t)
	out := filepath.Join(t.TempDir(), "run.wav")
	from, to, err := WAV(out, Stretch{Dir: o.Dirs["a"], Run: 1, Channel: series.Waveform, MarginS: 0.5})
	check(t, err)
	d := o.Campaign.Runs[0].Detected()
	if !(math.Abs(from-(d.StartS.V-0.5)) <= 1e-9) || !(math.Abs(to-(d.EndS.V+0.5)) <= 1e-9) {
		t.Errorf("from %g to %g s, the run lasts from %g to %g", from, to, d.StartS.V, d.EndS.V)
	}
	got, format := samples(t, out)
	all, was := samples(t, filepath.Join(o.Dirs["a"], "recordings", "microphone.wav"))
	if format != was {
		t.Errorf("%v, the recording is %v", format, was)
	}
	first := int(math.Ceil(from*float64(format.RateHz) - 1e-6))
	if n := int(math.Round((to - from) * float64(format.RateHz))); len(got) != n || !slices.Equal(got, all[first:first+n]) {
		t.Errorf("%d samples, want %d from %d on, as recorded", len(got), n, first)
	}
	for _, c := range []Stretch{{Dir: o.Dirs["a"], Run: 2, Channel: series.Waveform}, {Dir: o.Dirs["a"], Channel: series.Mass}, {Dir: o.Dirs["c"], Channel: series.Waveform}} {
		if _, _, err := WAV(filepath.Join(filepath.Dir(out), "none.wav"), c); err == nil {
			t.Errorf("%+v was written", c)
		}
	}
	if files, err := os.ReadDir(filepath.Dir(out)); err != nil || len(files) != 1 {
		t.Errorf("%d files, want only run.wav", len(files))
	}
}

func samples(t *testing.T, name string) ([]float64, wave.Format) {
	t.Helper()
	b, err := os.ReadFile(name)
	check(t, err)
	r, err := wave.Open(bytes.NewReader(b), int64(len(b)), name)
	check(t, err)
	out := make([]float64, r.Frames())
	if _, err := r.Read(out, 1); err != nil && err != io.EOF {
		t.Fatal(err)
	}
	return out, r.Format()
}

// TestRecompute: from the tables alone, as a stranger would, come the shares, the points of the runs on straight curves,
// and the whole.
func TestRecompute(t *testing.T) {
	o := campaign(t)
	o.Forms = []string{"json"}
	out := written(t, o, "tables")
	type row map[string]any
	f := func(r row, k string) float64 { v, _ := r[k].(float64); return v }
	net := map[string]float64{}
	for _, w := range rowsOf[row](t, out, "weighings") {
		net[w["role"].(string)] = f(w, "net_g") // the last counts, for there is one item
	}
	found := 0
	for _, m := range rowsOf[row](t, out, "measures") {
		if m["session"] == "a" && m["measure"] == "input_g" {
			found++
			if f(m, "value") != net["charge"] {
				t.Errorf("input %v g, weighed %v", m["value"], net["charge"])
			}
		}
		if m["session"] == "a" && m["measure"] == "trips" {
			found++
			if f(m, "value") != 2 || m["typed"] != true || f(m, "was") != 1 {
				t.Errorf("trips: %v", m)
			}
		}
	}
	whole := map[string]float64{}
	for _, c := range rowsOf[row](t, out, "criteria") {
		whole[c["unit"].(string)] += f(c, "weight") * f(c, "points")
	}
	for _, u := range rowsOf[row](t, out, "units") {
		if u["overall"] == nil {
			continue
		}
		found++
		if got := whole[u["unit"].(string)]; !(math.Abs(got-f(u, "overall")) <= 1e-4) {
			t.Errorf("unit %v: weights x points come to %g, the whole is %v", u["unit"], got, u["overall"])
		}
	}
	linear := map[string]bool{}
	for _, c := range rowsOf[row](t, out, "curves") {
		linear[c["criterion"].(string)] = c["shape"] == "linear"
	}
	for _, p := range rowsOf[row](t, out, "points") {
		if !linear[p["criterion"].(string)] || p["points"] == nil || p["floor"] == true || f(p, "outside") != 0 {
			continue
		}
		x0, y0, x1, y1 := f(p, "curve_at_0"), f(p, "curve_points_0"), f(p, "curve_at_1"), f(p, "curve_points_1")
		if x1 == x0 {
			continue
		}
		found++
		if want := y0 + (f(p, "value")-x0)/(x1-x0)*(y1-y0); !(math.Abs(f(p, "points")-want) <= 1e-3) {
			t.Errorf("%v: %v points, the curve says %g", p["criterion"], p["points"], want)
		}
	}
	if found < 5 {
		t.Errorf("only %d numbers computed again", found)
	}
}

// BenchmarkSeries writes all series of a session of a minute as Parquet and CSV.
func BenchmarkSeries(b *testing.B) {
	o := campaign(b)
	o.Forms = []string{"csv", "parquet"}
	var err error
	o.Tables, err = Select([]string{"series"})
	check(b, err)
	for b.Loop() {
		out := filepath.Join(b.TempDir(), "out")
		check(b, Write(context.Background(), out, o))
	}
}
