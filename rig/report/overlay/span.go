package overlay

import (
	"quern/rig"
	"quern/rig/report/align"
	"quern/rig/report/timecode"
)

// Span is the stretch of film that is drawn.
type Span struct {
	Rate   timecode.Rate
	FromS  float64          // time of the first frame: of the camera if there is an alignment, else of the session
	ToS    float64          // no frame begins at or after it
	Camera *align.Alignment // nil: the film's times are the session's
}

// Around a run that is drawn by itself, s.
const (
	leadS = 3.0
	holdS = 5.0
)

// OfRun makes the span one of a run, with some seconds around it. False: it is not known when the run began and ended.
func (s *Span) OfRun(r rig.Run) bool {
	if !r.StartS.OK || !r.EndS.OK {
		return false
	}
	s.FromS, s.ToS = max(r.StartS.V-leadS, 0), r.EndS.V+holdS
	return true
}

// OnCamera makes the span, which was one of the session, one of the camera's film; or all of that film, to its end if
// that is known.
func (s *Span) OnCamera(a align.Alignment, all bool) {
	s.Camera = &a
	s.FromS, s.ToS = max(a.CameraAtS(s.FromS), 0), a.CameraAtS(s.ToS)
	if !all {
		return
	}
	s.FromS = 0
	if a.CameraS > 0 {
		s.ToS = a.CameraS
	}
}

// Frames returns how many frames there are.
func (s Span) Frames() int64 {
	if !(s.ToS > s.FromS) {
		return 0
	}
	n := s.Rate.FrameAt(s.ToS-s.FromS) + 1
	// A frame that begins within a nanosecond of the end is past it: the end was written in decimals.
	for n > 0 && s.FromS+s.Rate.SecondsOf(n-1) >= s.ToS-1e-9 {
		n--
	}
	return n
}

// SessionS returns the instant of the session that frame n shows, counted from 0.
func (s Span) SessionS(n int64) float64 {
	at := s.FromS + s.Rate.SecondsOf(n)
	if s.Camera != nil {
		return s.Camera.SessionS(at)
	}
	return at
}

// OnGrid moves the beginning back to where a frame of the camera's own film begins, and returns which one.
func (s *Span) OnGrid() int64 {
	n := s.Rate.FrameAt(s.FromS + 1e-9)
	s.FromS = s.Rate.SecondsOf(n)
	return n
}
