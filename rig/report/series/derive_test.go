package series

import (
	"errors"
	"io"
	"math"
	"path/filepath"
	"testing"

	"quern/detect"
	"quern/detect/sound"
	"quern/rig"
	"quern/rig/report/series/recorded"
	"quern/rig/session"
)

// trace is what the analysis itself shows of a session.
type trace struct{ levelAt, lafmax, rmsAt, rms []float64 }

func traced(t *testing.T, dir string) (trace, rig.Result) {
	t.Helper()
	var tr trace
	ses, err := session.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	src, err := ses.Source()
	if err != nil {
		t.Fatal(err)
	}
	res, err := detect.Analyse(src, ses.Setup(), "s", detect.Trace{
		Level:   func(at, _, lf float64) { tr.levelAt, tr.lafmax = append(tr.levelAt, at), append(tr.lafmax, lf) },
		Current: func(at, v float64) { tr.rmsAt, tr.rms = append(tr.rmsAt, at), append(tr.rms, v) },
	})
	if err != nil {
		t.Fatal(err)
	}
	return tr, res
}

var gapped = []recorded.Hole{
	{Channel: rig.Microphone, FromS: 6.013, ToS: 6.4}, {Channel: rig.Microphone, FromS: 15, ToS: 23.5}, {Channel: rig.Clamp, FromS: 9, ToS: 9.5}, {Channel: rig.Clamp, FromS: 20.005, ToS: 30.01},
	{Channel: rig.Scale, FromS: 5, ToS: 12},
}

// TestSeriesAreThoseOfTheAnalysis compares what is derived here with what the analysis shows on its way, with
// gaps and without.
func TestSeriesAreThoseOfTheAnalysis(t *testing.T) {
	for _, c := range []struct {
		name  string
		holes []recorded.Hole
	}{{"whole", nil}, {"gapped", gapped}} {
		t.Run(c.name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "s")
			recorded.Record(t, dir, recorded.Small(t, "plain"), false, c.holes...)
			want, res := traced(t, dir)
			s := opened(t, dir, "")
			rms := s.series[RMS]
			i := 0
			for k, at := range want.rmsAt {
				if math.IsNaN(want.rms[k]) {
					continue
				}
				if i >= len(rms.at) || !(math.Abs(rms.at[i]-at) <= 1e-6) || !(math.Abs(float64(rms.mean[i])-want.rms[k]) <= 1e-5) {
					t.Fatalf("RMS %d: want %g A at %g s, got %g at %g of %d", i, want.rms[k], at, rms.mean[min(i, len(rms.at)-1)], rms.at[min(i, len(rms.at)-1)], len(rms.at))
				}
				i++
			}
			if i != len(rms.at) {
				t.Errorf("%d values of RMS, want %d", len(rms.at), i)
			}
			compared := 0
			for k, at := range want.levelAt {
				e, err := s.Envelope(t.Context(), Level, at-0.045, at+0.055, 1)
				if err != nil {
					t.Fatal(err)
				}
				if math.IsNaN(want.lafmax[k]) {
					continue
				}
				compared++
				if d := math.Abs(float64(e.Max[0]) - want.lafmax[k]); !(d < 0.01) {
					t.Fatalf("level at %g s: LAFmax %g, want %g dB", at, e.Max[0], want.lafmax[k])
				}
			}
			if compared < len(want.levelAt)/2 {
				t.Errorf("only %d of %d levels compared", compared, len(want.levelAt))
			}
			bandsAgree(t, s, res.Runs[0])
		})
	}
}

// bandsAgree compares the energy mean of the spectrogram over a run with the result's bands. The edges of
// the run differ by up to a cell, and the analysis leaves out what is not motor-on.
func bandsAgree(t *testing.T, s *Session, run rig.Run) {
	t.Helper()
	o, err := s.Octaves(t.Context(), run.StartS.V, run.EndS.V, 4000)
	if err != nil {
		t.Fatal(err)
	}
	if len(o.DB) < 100 || len(o.BandsHz) == 0 || o.StepS != cellS {
		t.Fatalf("%d columns of %d bands", len(o.DB), len(o.BandsHz))
	}
	mean := make([]float64, len(o.BandsHz))
	for i := range mean {
		n := 0.0
		for _, column := range o.DB {
			if v := float64(column[i]); v == v {
				mean[i] += sound.MeanSquarePa2(v)
				n++
			}
		}
		mean[i] = sound.LevelDB(mean[i] / n)
	}
	compared := 0
	for i, b := range run.Sound.ThirdOctaves {
		if !b.LeqDB.OK || i >= len(mean) {
			continue
		}
		compared++
		if d := mean[i] - b.LeqDB.V; !(math.Abs(d) < 0.5) {
			t.Errorf("%g Hz: %g dB, the result has %g", o.BandsHz[i], mean[i], b.LeqDB.V)
		}
	}
	if compared < 10 {
		t.Errorf("only %d bands compared", compared)
	}
}

// TestGapsAreEmpty: in a gap no series says anything, at any zoom.
func TestGapsAreEmpty(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "s")
	recorded.Record(t, dir, recorded.Small(t, "plain"), true, gapped...)
	s := opened(t, dir, "")
	for _, c := range []struct {
		channel  string
		gap      span
		inside   float64 // how far from its ends nothing is told for sure
		unlessIn bool
	}{
		{Waveform, span{15, 23.5}, 0.001, true}, {Level, span{15, 23.5}, 0.02, true}, {Current, span{20.005, 30.01}, 0.001, true},
		{RMS, span{20.005, 30.01}, 0.03, true}, {Mass, span{5, 12}, 0.3, true},
	} {
		for _, points := range []int{1, 7, 100, 1000} {
			e, err := s.Envelope(t.Context(), c.channel, c.gap.fromS+c.inside, c.gap.toS-c.inside, points)
			if err != nil {
				t.Fatal(err)
			}
			for k := range e.Min {
				if e.Min[k] == e.Min[k] {
					t.Fatalf("%s: column %d of %d inside the gap says %g", c.channel, k, points, e.Min[k])
				}
			}
		}
		e, err := s.Envelope(t.Context(), c.channel, c.gap.fromS-3, c.gap.toS+3, 300)
		if err != nil {
			t.Fatal(err)
		}
		if first, last := e.Min[0], e.Max[len(e.Max)-1]; first != first || last != last {
			t.Errorf("%s: nothing before and after its gap", c.channel)
		}
	}
	o, err := s.Octaves(t.Context(), 15.5, 23, 1000)
	if err != nil {
		t.Fatal(err)
	}
	for k, column := range o.DB {
		for b, v := range column {
			if v == v {
				t.Fatalf("column %d, band %d inside the gap: %g dB", k, b, v)
			}
		}
	}
	var told int
	for _, x := range s.streams {
		told += len(x.Gaps)
	}
	if told != len(gapped) {
		t.Errorf("%d gaps are told, want %d: %+v", told, len(gapped), s.streams)
	}
	x, err := s.Envelope(t.Context(), "extra:water-temperature", 3, 4, 10)
	if err != nil || x.Unit != "degC" || !(math.Abs(float64(x.Min[5])-15-math.Sin(3.0/7)) <= 1e-5) {
		t.Errorf("the extra channel says %+v (%v)", x, err)
	}
}

// TestReadings: a clamp that gives RMS, and a session without a microphone.
func TestReadings(t *testing.T) {
	for _, c := range []struct {
		scenario string
		absent   []string
		there    []string
	}{
		{"rms-readings", nil, []string{Level, ThirdOctaves, Waveform, Current, RMS, Mass}},
		{"no-microphone", []string{Level, Waveform, ThirdOctaves}, []string{Current, RMS, Mass}},
		{"no-clamp", []string{Current, RMS}, []string{Level, ThirdOctaves, Waveform, Mass}},
	} {
		dir := filepath.Join(t.TempDir(), c.scenario)
		recorded.Record(t, dir, recorded.Small(t, c.scenario), false)
		s := opened(t, dir, "")
		for _, name := range c.there {
			if name == ThirdOctaves {
				continue
			}
			e, err := s.Envelope(t.Context(), name, 1, s.Seconds()-1, 50)
			if err != nil {
				t.Fatal(c.scenario, name, err)
			}
			n := 0
			for k := range e.Min {
				if e.Min[k] == e.Min[k] && e.Min[k] <= e.Mean[k]+1e-4 && e.Mean[k] <= e.Max[k]+1e-4 {
					n++
				}
			}
			if n < 45 {
				t.Errorf("%s: %s has %d good columns of 50", c.scenario, name, n)
			}
		}
		for _, name := range c.absent {
			_, err := s.Envelope(t.Context(), name, 1, 2, 50)
			if name == ThirdOctaves {
				_, err = s.Octaves(t.Context(), 1, 2, 50)
			}
			if !errors.Is(err, ErrAbsent) {
				t.Errorf("%s: %s: %v, want ErrAbsent", c.scenario, name, err)
			}
		}
		if got := s.Channels(); len(got) != len(c.there) {
			t.Errorf("%s: channels %q, want %q", c.scenario, got, c.there)
		}
	}
}

// TestUnsealed: a session that is being recorded is refused.
func TestUnsealed(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "s")
	w, err := session.Create(dir, session.Head{Started: recorded.Started, Tool: "quern test", Live: true, Setup: recorded.Setup(t), Streams: []session.Stream{{Stream: recorded.Temperature}}})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	if _, err := Open(dir, ""); !errors.Is(err, ErrUnsealed) {
		t.Errorf("opening it: %v, want ErrUnsealed", err)
	}
}

// TestDamaged: a recording that has become shorter is an error that says so, not an empty plot.
func TestDamaged(t *testing.T) {
	w, _ := written(t, newRand(1), 2, 1000, 5000, nil)
	w.rec = nil
	p := &peeker{data: short{}, enc: w.enc, frames: 5000, chunk: 256}
	if _, err := p.sum(0, 5000); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("got %v, want an unexpected end", err)
	}
}

type short struct{}

func (short) ReadAt(b []byte, _ int64) (int, error) { return len(b) / 2, io.EOF }

// TestOctavesAreBounded: a long recording gets longer cells with the same energy.
func TestOctavesAreBounded(t *testing.T) {
	o := newOctaves()
	o.bands = 3
	o.job.End(nil)
	for i := range 9000 {
		o.add(float64(i), float64(i)+1, 1, []float64{2e-6, 4e-6, 8e-6})
	}
	if o.cells() > mostCells || o.stepS != 4*cellS {
		t.Fatalf("%d cells of %g s", o.cells(), o.stepS)
	}
	v := o.view(0, 9000, 7)
	if len(v.DB) == 0 || len(v.DB) > 7 || v.StepS*float64(len(v.DB)) < 9000 {
		t.Fatalf("%d columns of %g s", len(v.DB), v.StepS)
	}
	for k, column := range v.DB {
		if want := levelDB(2e-6); column[0] == column[0] || !(math.Abs(float64(column[1]-want)) <= 0.01) {
			if k < len(v.DB)-1 {
				t.Errorf("column %d: %v, want nothing and %g dB", k, column, want)
			}
		}
	}
}
