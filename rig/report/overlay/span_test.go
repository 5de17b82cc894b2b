package overlay

import (
	"math"
	"testing"

	"quern/rig"
	"quern/rig/report/align"
	"quern/rig/report/timecode"
)

func TestSpanFrames(t *testing.T) {
	for _, c := range []struct {
		rate     timecode.Rate
		from, to float64
		want     int64
	}{
		{timecode.Rate{Num: 25, Den: 1}, 0, 10, 250}, {timecode.Rate{Num: 25, Den: 1}, 0.1, 10.1, 250}, {timecode.Rate{Num: 50, Den: 1}, 0.1, 0.3, 10}, {timecode.Rate{Num: 24000, Den: 1001}, 0, 10, 240},
		{timecode.Rate{Num: 30000, Den: 1001}, 10, 20, 300}, {timecode.Rate{Num: 30000, Den: 1001}, 0, 1001, 30000}, {timecode.Rate{Num: 25, Den: 1}, 5, 5, 0}, {timecode.Rate{Num: 25, Den: 1}, 5, 4, 0},
		{timecode.Rate{Num: 25, Den: 1}, 0, 0.001, 1}, {timecode.Rate{Num: 60, Den: 1}, 1.0 / 3, 4.0 / 3, 60},
	} {
		s := Span{Rate: c.rate, FromS: c.from, ToS: c.to}
		if got := s.Frames(); got != c.want {
			t.Errorf("%s from %g to %g: %d frames, want %d", c.rate, c.from, c.to, got, c.want)
		}
	}
}

func TestAligned(t *testing.T) {
	// 100 ppm are 0.36 s in an hour.
	s := Span{Rate: timecode.Rate{Num: 30000, Den: 1001}, FromS: 10, ToS: 20, Camera: &align.Alignment{OffsetS: 12.5, DriftPPM: 100}}
	if n := s.OnGrid(); n != 299 || !(math.Abs(s.FromS-299*1001/30000.0) <= 1e-12) {
		t.Errorf("10 s of the camera lie in its frame %d, at %g s; want 299", n, s.FromS)
	}
	if got, want := s.SessionS(1), 12.5+300*1001/30000.0*1.0001; !(math.Abs(got-want) <= 1e-9) {
		t.Errorf("the second frame shows %g s, want %g", got, want)
	}
	s.FromS = 3600
	if got := s.SessionS(0); !(math.Abs(got-3612.86) <= 1e-9) {
		t.Errorf("after an hour of the camera: %g s of the session, want 3612.86", got)
	}
}

func TestSpanOfARun(t *testing.T) {
	var s Span
	if s.OfRun(rig.Run{StartS: rig.Fig(4)}) || s != (Span{}) {
		t.Errorf("a run without an end: %+v", s)
	}
	if !s.OfRun(rig.Run{StartS: rig.Fig(2), EndS: rig.Fig(30)}) || s.FromS != 0 || s.ToS != 35 {
		t.Errorf("a run from 2 to 30 s: %+v, want 0 to 35", s)
	}
	camera := align.Alignment{OffsetS: 10, CameraS: 60}
	s.OnCamera(camera, false)
	if s.FromS != 0 || s.ToS != 25 || *s.Camera != camera { // the camera began 10 s into the session
		t.Errorf("on the camera: %+v, want 0 to 25", s)
	}
	s = Span{ToS: 100}
	s.OnCamera(camera, true)
	if s.FromS != 0 || s.ToS != 60 {
		t.Errorf("all of the film: %+v, want 0 to 60", s)
	}
	camera.CameraS = 0
	s = Span{ToS: 100}
	if s.OnCamera(camera, true); s.FromS != 0 || s.ToS != 90 {
		t.Errorf("a film of which no length is known: %+v, want 0 to 90", s)
	}
}
