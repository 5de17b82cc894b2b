package captions

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"quern/rig"
	"quern/rig/report/align"
	"quern/rig/report/timecode"
)

func TestEditPoints(t *testing.T) {
	s := shown()
	for _, c := range []struct{ rate, start, code string }{
		// The load starts at 15 s of the session, 9.999 s of the camera.
		{"25", "01:00:00:00", "01:00:10:00"}, {"23.976", "00:00:00:00", "00:00:10:00"} /* 239.74 frames */, {"29.97df", "00:00:50;00", "00:01:00;02"}, {"60", "00:00:00:00", "00:00:10:00"}, {"50", "10:00:00:00", "10:00:10:00"},
	} {
		s.Rate, _ = timecode.ParseRate(c.rate)
		s.Start, _ = s.Rate.ParseCode(c.start)
		r, err := csv.NewReader(strings.NewReader(text(t, func(b *bytes.Buffer) error { return s.Table(b) }))).ReadAll()
		if err != nil || len(r) != 11 {
			t.Fatalf("%d rows, %v", len(r), err)
		}
		// Others read these columns by name.
		if head := strings.Join(r[0], ","); head != "time_code,frame,frame_rate,camera_s,session_s,within_s,sure,run,event,words,until_time_code,evidence" {
			t.Errorf("columns %s", head)
		}
		if r[2][8] != "load_start" || r[2][0] != c.code {
			t.Errorf("%s from %s: %q, expected %s", c.rate, c.start, r[2], c.code)
		}
		var o struct {
			Start  object `json:"global_start_time"`
			Tracks struct {
				Children []struct {
					Children []struct {
						Source  struct{ Start, Duration struct{ Rate, Value float64 } } `json:"-"`
						Markers []struct {
							Name  string
							Range struct {
								Start    struct{ Rate, Value float64 } `json:"start_time"`
								Duration struct{ Rate, Value float64 }
							} `json:"marked_range"`
						}
					}
				}
			}
		}
		if err := json.Unmarshal([]byte(text(t, func(b *bytes.Buffer) error { return s.Timeline(b) })), &o); err != nil {
			t.Fatal(err)
		}
		m := o.Tracks.Children[0].Children[0].Markers
		if len(m) != 10 {
			t.Fatalf("%d markers", len(m))
		}
		if got := s.Rate.Code(int64(m[1].Range.Start.Value)); got != c.code || m[1].Range.Start.Rate != s.Rate.PerSecond() {
			t.Errorf("%s: marker at %s of rate %g", c.rate, got, m[1].Range.Start.Rate)
		}
		// The first stall lasts 0.8 s.
		if got, want := m[2].Range.Duration.Value, 0.8*s.Rate.PerSecond(); !(math.Abs(got-want) <= 1) {
			t.Errorf("%s: the stall lasts %g frames, expected %g", c.rate, got, want)
		}
	}
}

// TestOutside: footage that the session is not in has no cues, and files that are still valid.
func TestOutside(t *testing.T) {
	for _, a := range []align.Alignment{{OffsetS: 500, CameraS: 60}, {OffsetS: -500, CameraS: 60}, {OffsetS: 129.99, CameraS: 60}, {OffsetS: -59.9, CameraS: 60}} {
		s := shown()
		s.Camera = a
		if where := s.Outside(); (where != "") != (math.Abs(a.OffsetS) == 500) {
			t.Errorf("offset %g: %q", a.OffsetS, where)
		}
		for _, f := range []func(*bytes.Buffer) error{func(b *bytes.Buffer) error { return s.CaptionsVTT(b) }, func(b *bytes.Buffer) error { return s.ChaptersVTT(b) }} {
			if cues, err := readVTT(text(t, f)); err != nil || len(cues) > 1 {
				t.Errorf("offset %g: %d cues, %v", a.OffsetS, len(cues), err)
			}
		}
		checkSRT(t, text(t, func(b *bytes.Buffer) error { return s.CaptionsSRT(b) }))
	}
}

// FuzzWords: no words, times or figures break a file.
func FuzzWords(f *testing.F) {
	f.Add("motor_start", "unit-a", "-->", 10.0, 82.0, 0.0, 100.0)
	f.Add("a --> b\n\n1\n00:00", "<b>{\\an8}&amp;", "=cmd()", 10.0, math.Inf(1), 1e6, -300.0)
	f.Add("\x00\xff\r\n", "NOTE\n", "\u2028--->>", -5.0, math.NaN(), -3.0, 0.0)
	f.Fuzz(func(t *testing.T, kind, unit, evidence string, atS, level, offsetS, driftPPM float64) {
		s := shown()
		if !(math.Abs(offsetS) < 1e7) || !(math.Abs(driftPPM) <= align.MostDriftPPM) {
			return
		}
		s.Unit, s.Result.Session, s.File = unit, evidence, unit
		s.Camera.OffsetS, s.Camera.DriftPPM = offsetS, driftPPM
		s.Result.Runs[0].Events[1] = rig.Event{Kind: rig.Kind(kind), AtS: rig.Fig(atS), Evidence: evidence}
		s.Result.Runs[0].States[2].State = rig.State(kind)
		s.Result.Runs[0].Sound.LAeqCorrectedDB = rig.Fig(level)
		s.Level.V[40] = float32(level)
		if _, err := readVTT(text(t, func(b *bytes.Buffer) error { return s.CaptionsVTT(b) })); err != nil {
			t.Fatal(err)
		}
		if _, err := readVTT(text(t, func(b *bytes.Buffer) error { return s.ChaptersVTT(b) })); err != nil {
			t.Fatal(err)
		}
		checkSRT(t, text(t, func(b *bytes.Buffer) error { return s.CaptionsSRT(b) }))
		table, err := csv.NewReader(strings.NewReader(text(t, func(b *bytes.Buffer) error { return s.Table(b) }))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range table {
			for _, k := range []int{8, 9, 11} {
				if r[k] != "" && strings.ContainsAny(r[k][:1], "=+-@\t\r") {
					t.Fatalf("the cell %q begins a formula", r[k])
				}
			}
		}
		if b := text(t, func(b *bytes.Buffer) error { return s.Timeline(b) }); !json.Valid([]byte(b)) {
			t.Fatal("no JSON")
		}
	})
}
