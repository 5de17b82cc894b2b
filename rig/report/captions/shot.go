// Package captions tells footage what was measured: captions and chapters as text tracks, and edit points with
// time code, all on the camera's own clock.
//
// Captions are calm. A cue stands as long as it takes to read it (common practice: at most 17 characters a
// second, at least one second), has at most two lines of 42 characters (common practice), and its figures
// change only from cue to cue, and only by more than they tremble. While the motor is off there is nothing to
// tell. What happens faster than one can read is gathered into one cue, never left out.
package captions

import (
	"fmt"
	"math"

	"quern/rig"
	"quern/rig/report/align"
	"quern/rig/report/timecode"
)

// Shot is footage of a session, and what was measured in it.
type Shot struct {
	Result rig.Result
	Unit   string // what the unit may be called: its blind code, or its name once that is released
	Camera align.Alignment
	File   string  // the footage, as editors are to look for it; ""
	EndS   float64 // of the session

	Level   Curve // A-weighted level, dB
	Current Curve // RMS, A
	Mass    Curve // indication of the scale, g; told only in Grams or Ounces
	Masses  MassUnit

	// Veil takes out of a text what may not be said: names of units that are not released. People name sessions and
	// footage after them. nil: everything may be said.
	Veil func(text string) string

	// Final returns a figure of a run, from 1, after all that was corrected by hand; nil: those of Result stand.
	Final func(run int, measure string) rig.Figure

	Rate  timecode.Rate
	Start int64 // frame of the footage's first picture, by its time code
}

// MassUnit is how masses are told.
type MassUnit string

// The zero MassUnit tells no mass.
const (
	NoMass MassUnit = ""
	Grams  MassUnit = "g"
	Ounces MassUnit = "oz"
)

// Curve is a series at a constant step: V[k] holds from FromS + k StepS on, session time. NaN: nothing known.
type Curve struct {
	FromS, StepS float64
	V            []float32
}

// mean returns the mean between two instants, of energy if the values are levels; NaN if less than half is known.
// A value counts that holds within them to its end: one that reaches past a start or a stop is a mean of on and off.
// Where they are closer together than that, those count that they touch.
func (c Curve) mean(fromS, toS float64, level bool) float64 {
	if !(c.StepS > 0) || !(toS > fromS) {
		return math.NaN()
	}
	a, b := (fromS-c.FromS)/c.StepS, (toS-c.FromS)/c.StepS
	first, last := int(math.Ceil(a-1e-6)), int(math.Floor(b+1e-6))
	if last <= first {
		first, last = int(math.Floor(a)), int(math.Ceil(b))
	}
	first, last = max(0, first), min(len(c.V), last)
	sum, n := 0.0, 0
	for i := first; i < last; i++ {
		v := float64(c.V[i])
		if math.IsNaN(v) || math.IsInf(v, 0) {
			continue
		}
		if level {
			v = math.Pow(10, v/10)
		}
		sum += v
		n++
	}
	if n == 0 || 2*n < last-first {
		return math.NaN()
	}
	if mean := sum / float64(n); !level {
		return mean
	} else {
		return 10 * math.Log10(mean)
	}
}

// veiled returns a text that people may have written, as it may be published.
func (s *Shot) veiled(text string) string {
	if s.Veil != nil {
		text = s.Veil(text)
	}
	return plain(text)
}

// span returns from when to when there is footage of the session, on the camera's clock.
func (s *Shot) span() (fromS, toS float64) {
	fromS, toS = max(0, s.Camera.CameraAtS(0)), s.Camera.CameraAtS(s.EndS)
	if s.Camera.CameraS > 0 {
		toS = min(toS, s.Camera.CameraS)
	}
	return fromS, max(fromS, toS)
}

// Outside says on which side of the session the footage lies, "" where they have some time in common.
func (s *Shot) Outside() string {
	switch at := s.Camera.SessionS(0); {
	case at >= s.EndS:
		return fmt.Sprintf("the footage begins at %.1f s of the session, which ends at %.1f s", at, s.EndS)
	case s.Camera.CameraS > 0 && s.Camera.CameraAtS(0) >= s.Camera.CameraS:
		return fmt.Sprintf("the footage is %.1f s long, and the session begins %.1f s after it", s.Camera.CameraS, s.Camera.CameraAtS(0))
	}
	return ""
}

// happening is an event of a run, on the camera's clock.
type happening struct {
	atS float64
	run int // from 1
	rig.Event
	untilS float64 // of a stall or an overload: its end; otherwise atS
}

// happenings returns the events that fall into the footage, in order of time.
func (s *Shot) happenings() []happening {
	fromS, toS := s.span()
	var out []happening
	for i, r := range s.Result.Runs {
		for j, e := range r.Events {
			if !e.AtS.OK {
				continue
			}
			at := s.Camera.CameraAtS(e.AtS.V)
			if !(at >= fromS && at < toS) {
				continue
			}
			h := happening{atS: at, run: i + 1, Event: e, untilS: at}
			if end := endOf(e.Kind); end != "" {
				for _, o := range r.Events[j:] {
					if o.Kind == end && o.AtS.OK {
						h.untilS = min(max(at, s.Camera.CameraAtS(o.AtS.V)), toS)
						break
					}
				}
			}
			out = append(out, h)
		}
	}
	sortStable(out)
	return out
}

// endOf returns the kind of event that ends what another begins; "" if it begins nothing that ends.
func endOf(k rig.Kind) rig.Kind {
	switch k {
	case rig.StallStart:
		return rig.StallEnd
	case rig.OverloadStart:
		return rig.OverloadEnd
	}
	return ""
}

// stateAt returns what the motor does at an instant of the session, and in which run, from 1; 0: in none.
func (s *Shot) stateAt(atS float64) (rig.State, int) {
	for i, r := range s.Result.Runs {
		if !r.StartS.OK || !r.EndS.OK || atS < r.StartS.V || atS >= r.EndS.V {
			continue
		}
		for _, p := range r.States {
			if p.FromS.OK && p.ToS.OK && atS >= p.FromS.V && atS < p.ToS.V {
				return p.State, i + 1
			}
		}
		return rig.Unknown, i + 1
	}
	return rig.Off, 0
}

// CurvePoints returns how many points the curves of a session of so many seconds are to have: four a second.
func CurvePoints(seconds float64) int {
	return int(min(max(1, math.Ceil(4*seconds)), 1<<19))
}
