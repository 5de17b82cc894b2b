package detect

import (
	"fmt"
	"math"
	"slices"

	"quern/detect/run"
	"quern/detect/sound"
	"quern/rig"
)

// seen keeps what the channels showed all through a session: it is told where no run is found, with what was
// missing to make one.
type seen struct {
	quiet   quiet           // all of the sound, in stretches of 100 ms
	mostA   float64         // RMS of a cycle or a reading
	currS   float64         // how long there was any record of current
	flowedS float64         // how long it was more than the share of the rated current that a motor draws
	steps   [stepsN]float32 // s at each current, in steps of stepRatio from stepLeastA
	mass    span
}

// The currents told apart: from 1 mA to 1 kA, to 5 %.
const (
	stepLeastA = 1e-3
	stepRatio  = 1.05
	stepsN     = 284
)

func newSeen() seen { return seen{quiet: newQuiet(0)} }

// current takes one cycle or reading.
func (s *seen) current(rmsA, lastsS, onA float64) {
	s.mostA = max(s.mostA, rmsA)
	s.currS += lastsS
	if rmsA > onA {
		s.flowedS += lastsS
	}
	step := 0
	if rmsA > stepLeastA {
		step = int(min(math.Log(rmsA/stepLeastA)/math.Log(stepRatio), stepsN-1))
	}
	s.steps[step] += float32(lastsS)
}

// above returns for how long more than a current was seen, s, and what was passed for a share of that time, A.
func (s *seen) above(a, share float64) (lastsS, passedA float64) {
	at := func(i int) float64 { return stepLeastA * math.Pow(stepRatio, float64(i)) }
	for i, v := range s.steps {
		if at(i) >= a {
			lastsS += float64(v)
		}
	}
	left := share * lastsS
	for i := stepsN - 1; i >= 0 && at(i) >= a; i-- {
		if left -= float64(s.steps[i]); left < 0 {
			return lastsS, at(i)
		}
	}
	return lastsS, a
}

// blindClamp says why runs come from the sound although a clamp recorded: it saw nothing, or too little for this motor.
func (a *Analysis) blindClamp(heard []run.Found) (code, text string) {
	s, m, rated := &a.seen, &a.set.Bench.Detect.Motor, a.set.Unit.RatedCurrentA
	onS := 0.0
	for i := range heard {
		onS += heard[i].OnS()
	}
	_, noiseA := s.above(0, 0.95)
	lastsS, usualA := s.above(max(a.onA(), m.OnNoiseRatio*noiseA), 0.5)
	const so = "runs come from the sound, current figures are absent"
	if lastsS < onS/2 {
		return "clamp-saw-nothing", fmt.Sprintf("a motor was heard for %.1f s and no current was seen with it (at most %s A RMS, rated %g A): the clamp is not around one conductor of this unit, or dead; %s",
			onS, amperes(s.mostA), rated, so)
	}
	return "clamp-saw-little", fmt.Sprintf("a motor was heard for %.1f s, and what current was seen is not what this unit draws: for half of %.1f s %s A RMS or more, %.0f %% of the rated %g A, and at most %s A; %s. Is the clamp on this unit's conductor, and are full_scale_a, the turns through the clamp and rated_current_a right?",
		onS, lastsS, amperes(usualA), 100*usualA/rated, rated, amperes(s.mostA), so)
}

// sawMuch warns of a run whose motor drew more without load than its nameplate allows with it: no motor does, and all that
// is told from the nameplate is then wrong.
func (a *Analysis) sawMuch(f *run.Found, i int) {
	rated := a.set.Unit.RatedCurrentA
	shared := slices.ContainsFunc(a.warnings, func(w rig.Warning) bool { return w.Code == "other-appliance" })
	if idle, ok := f.IdleA.Value(); ok && idle > rated && !shared {
		a.warnOf(i, "clamp-saw-much", fmt.Sprintf("run %d: the motor drew %s A without load, %.0f %% of the rated %g A, as no motor does: its overloads and trips may be none. Are full_scale_a, the turns through the clamp and rated_current_a right?",
			i+1, amperes(idle), 100*idle/rated, rated))
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
			text = fmt.Sprintf("from %.6g to %.6g g; what is weighed makes no run, only a motor does", m.low, m.high)
			if m.low == m.high {
				text = fmt.Sprintf("%.6g g all the time; what is weighed makes no run, only a motor does", m.low)
			}
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
