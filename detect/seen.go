package detect

import (
	"fmt"
	"math"

	"quern/detect/sound"
	"quern/rig"
)

// seen keeps what the channels showed all through a session: it is told where no run is found, with what was
// missing to make one.
type seen struct {
	quiet   quiet   // all of the sound, in stretches of 100 ms
	mostA   float64 // RMS of a cycle or a reading
	currS   float64 // how long there was any record of current
	flowedS float64 // how long it was more than the share of the rated current that a motor draws
	mass    span
}

func newSeen() seen { return seen{quiet: newQuiet(0)} }

// current takes one cycle or reading.
func (s *seen) current(rmsA, lastsS, onA float64) {
	s.mostA = max(s.mostA, rmsA)
	s.currS += lastsS
	if rmsA > onA {
		s.flowedS += lastsS
	}
}

// onA is the current from which a motor may be on, as far as the nameplate tells, A.
func (a *Analysis) onA() float64 {
	return a.set.Bench.Detect.Motor.OnRatedRatio * a.set.Unit.RatedCurrentA
}

// noRun says that there is no run, what was seen instead, and what was missing.
func (a *Analysis) noRun() {
	a.warn("no-run", "no run was found")
	if a.listener != nil {
		a.warn("no-run", "the microphone: "+a.seenSound())
	}
	if a.machine != nil {
		a.warn("no-run", "the clamp: "+a.seenCurrent())
	}
	if m := a.seen.mass; a.streams[rig.Scale] != nil {
		text := "no reading"
		if m.n > 0 {
			text = fmt.Sprintf("from %.0f to %.0f g; what is weighed makes no run, only a motor does", m.low, m.high)
		}
		a.warn("no-run", "the scale: "+text)
	}
}

func (a *Analysis) seenSound() string {
	q := &a.seen.quiet
	n := 0
	for _, c := range q.count {
		n += int(c)
	}
	if n == 0 {
		if q.deadS > 0 {
			return "its input did not change at all: it is dead, muted or another input is recorded"
		}
		return "less than a tenth of a second of sound"
	}
	least, most := math.NaN(), 0.0
	soFar := 0
	for i, c := range q.count {
		if c == 0 {
			continue
		}
		soFar += int(c)
		most = sound.LevelDB(q.energy[i] / float64(c))
		if math.IsNaN(least) && soFar*10 >= n {
			least = most
		}
	}
	h := &a.set.Bench.Detect.Heard
	text := fmt.Sprintf("%.1f dB(A) in the quietest tenth of the time, at most %.1f dB(A) in 0.1 s: %.1f dB more", least, most, most-least)
	switch lifted := most-least >= h.OverBackgroundDB; {
	case a.machine != nil && most < h.RunningAboveDB:
		return text + fmt.Sprintf("; where the clamp sees nothing a motor is believed to have run if it is louder than %g dB(A) for 5 s", h.RunningAboveDB)
	case a.machine != nil:
		return text + "; that was no motor's steady sound, and the clamp saw nothing"
	case !lifted:
		return text + fmt.Sprintf("; without a clamp a motor must stand %g dB above the quiet for %g s. Is the microphone near it, and full_scale_db right?", h.OverBackgroundDB, h.HoldS)
	}
	return text + fmt.Sprintf("; loud enough, but no sound rose above the quiet and stayed for %g s as a motor's does: record some seconds before the start and after the stop, or a clamp", h.HoldS)
}

func (a *Analysis) seenCurrent() string {
	s, m := &a.seen, &a.set.Bench.Detect.Motor
	rated, onA := a.set.Unit.RatedCurrentA, a.onA()
	if s.currS == 0 {
		return "no record of current"
	}
	text := fmt.Sprintf("at most %s A RMS, %.2g %% of the rated %g A", amperes(s.mostA), 100*s.mostA/rated, rated)
	if s.flowedS < m.OnHoldS {
		return text + fmt.Sprintf("; a motor that is on draws more than %g %% of it (%s A), and more than %g times the clamp's own noise, for %g s. Is the clamp around one conductor, and full_scale_a right?",
			100*m.OnRatedRatio, amperes(onA), m.OnNoiseRatio, m.OnHoldS)
	}
	return text + fmt.Sprintf("; more than %s A flowed for %.1f s in all, but did not begin and end as a motor's current does, or did not rise above %g times the clamp's own noise. Is rated_current_a that of this unit?",
		amperes(onA), s.flowedS, m.OnNoiseRatio)
}

// amperes writes a current to three digits.
func amperes(v float64) string { return fmt.Sprintf("%.3g", v) }
