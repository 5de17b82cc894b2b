package detect

import (
	"fmt"
	"math"

	"quern/detect/motor"
	"quern/detect/run"
	"quern/detect/sound"
	"quern/rig"
)

func (a *Analysis) runOf(f *run.Found, b *books, i int) rig.Run {
	on := f.OnS()
	r := rig.Run{StartS: rig.Fig(f.StartS()), EndS: rig.Fig(f.EndS()), ElapsedS: rig.Fig(f.EndS() - f.StartS()),
		MotorOnS: rig.Fig(on), Events: f.Events, States: f.States}
	r.RunTimeS = r.MotorOnS
	if a.set.Procedure.Clock == "elapsed" {
		r.RunTimeS = r.ElapsedS
	}
	if r.Events == nil {
		r.Events = []rig.Event{}
	}
	if r.States == nil {
		r.States = []rig.Span{}
	}
	r.Sound = a.soundOf(f, b, i)
	r.Motor = a.motorOf(f)
	r.Extra = a.extrasOf(f)
	return r
}

const (
	unheardLeastS = 0.25 // motor-on time without any record of sound from which that is told, s
	hardlyShare   = 0.1  // of the motor-on time: less of it heard stands for nothing
)

func (a *Analysis) soundOf(f *run.Found, b *books, i int) rig.Sound {
	if b == nil {
		return noSound("no-microphone")
	}
	t, on := b.tally(i), b.finder.Known()[i]
	unheardS := f.OnS() - t.onS - t.goneS
	switch endS := a.endS(rig.Microphone); {
	case unheardS > unheardLeastS && t.onS < hardlyShare*f.OnS():
		a.warnOf(i, "microphone-short", fmt.Sprintf("the microphone's recording (to %.2f s) covers %.2f of the %.2f s in which the motor was on in run %d: too little to stand for it, its sound figures are absent", endS, t.onS, f.OnS(), i+1))
		return noSound("microphone-short")
	case t.onS == 0 && t.goneS > 0:
		a.warnOf(i, "microphone-gap", fmt.Sprintf("the microphone was gone all through run %d: its sound figures are absent", i+1))
		return noSound("microphone-gap")
	case t.onS == 0 || t.ea <= 0:
		a.warnOf(i, "microphone-silent", fmt.Sprintf("the microphone's input never changed in run %d%s: its sound figures are absent", i+1, a.faultsIn("silent", on)))
		return noSound("microphone-silent")
	case unheardS > unheardLeastS:
		a.warnOf(i, "microphone-short", fmt.Sprintf("the microphone's recording (to %.2f s) covers %.1f of the %.1f s in which the motor was on in run %d: its levels are those of that part and say nothing of the rest; what came later may have been louder or quieter, and lae_db, lafmax_db, lasmax_db and lcpeak_db are at least what is told", endS, t.onS, f.OnS(), i+1))
	}
	s := t.figures(a.meter)
	a.bandsBeyond()
	if t.clipped > 0 {
		a.warnOf(i, "microphone-clipped", fmt.Sprintf("%s of run %d %s clipped%s: its levels are at least what is told; lower the input gain and calibrate again", rig.Count(t.clipped, "sample"), i+1, was(t.clipped), a.faultsIn("clipped", on)))
	}
	if t.stillS > 0 {
		without := sound.LevelDB(t.ea / max(t.onS-t.stillS, 0.01))
		a.warnOf(i, "microphone-silent", fmt.Sprintf("for %.1f s of run %d the microphone's input did not change at all%s; if it was dead and not silent, LAeq is %.1f dB over the rest", t.stillS, i+1, a.faultsIn("silent", on), without))
	}
	if t.goneS > 0 {
		a.warnOf(i, "microphone-gap", fmt.Sprintf("for %.2f s of run %d the microphone was gone: its sound figures cover the remaining %.1f s", t.goneS, i+1, t.onS))
	}
	if a.meter == nil {
		a.warn("level-meter", "sound came as readings of a level meter: LAeq and the percentiles are made from them, LAFmax is the largest of them; C-weighted, S-weighted and third-octave figures are absent")
	}
	for _, e := range f.Events[:min(1, len(f.Events))] { // the start, which was then at the earliest
		t.quiet.until(e.AtS.V - e.WithinS.V)
	}
	var disturbed float64
	s.BackgroundDB, disturbed = t.quiet.laeqDB(a.set.Bench.Detect.Sound)
	if disturbed > 0 {
		a.warnOf(i, "background-disturbed", fmt.Sprintf("%.1f s of the quiet before run %d stood out from the rest, or lay within %g s of what did, and were left out of its background", disturbed, i+1, nearS))
	}
	if loud := a.set.Bench.Detect.Heard.RunningAboveDB; b.finder == a.listener && s.BackgroundDB.OK && s.BackgroundDB.V > loud {
		a.warnOf(i, "background-loud", fmt.Sprintf("the sound before run %d, by which its start was told, is %.1f dB(A), more than running_above_db = %g: a motor may have run all along, and the run be only its load; record some seconds of the quiet room", i+1, s.BackgroundDB.V, loud))
	}
	var atMost rig.Figure
	s.BackgroundDB, atMost = a.underRange(s.BackgroundDB, i)
	s.LAeqCorrectedDB = a.corrected(s.LAeqDB, s.BackgroundDB, atMost, i)
	return s
}

// corrected takes the background out of a level. Of a background that is not known, but is so little at most that it takes
// nothing away, no more need be known.
func (a *Analysis) corrected(level, background, atMost rig.Figure, i int) rig.Figure {
	switch {
	case !level.OK, atMost.OK && level.V > atMost.V+sound.CorrectUntilDB:
		return level
	case !background.OK:
		do := ""
		if background.Why == "background-not-seen" {
			do = fmt.Sprintf("; leave at least %g s of quiet in the recording before the first start, better 5 s", a.set.Bench.Detect.Sound.BackgroundMinS)
		}
		a.warnOf(i, background.Why, fmt.Sprintf("run %d has no background: its level could not be corrected for the room%s", i+1, do))
		return rig.Absent(background.Why)
	}
	out, bound := sound.Correct(level.V, background.V)
	if !out.OK {
		a.warnOf(i, "background-too-high", fmt.Sprintf("the background (%.1f dB) is less than 3 dB below run %d (%.1f dB): the corrected level is at most %.1f dB; a microphone nearer to the machine or a quieter room tells more", background.V, i+1, level.V, bound))
	}
	return out
}

func (a *Analysis) motorOf(f *run.Found) rig.Motor {
	x := rig.Absent("no-current")
	m := rig.Motor{IdleA: f.IdleA, MeanA: f.MeanA(), MaxA: x, InrushA: f.Inrush, PeakA: x, FrequencyHz: x,
		CrestFactor: f.CrestFactor(), THDPercent: x, HarmonicsA: []rig.Figure{}, NoiseA: f.NoiseA}
	if f.MaxA > 0 {
		m.MaxA = rig.Fig(f.MaxA)
	}
	if !m.MeanA.OK {
		m.CrestFactor = x
		return m
	}
	if a.tracker == nil {
		x = rig.Absent("no-waveform")
		m.PeakA, m.FrequencyHz, m.CrestFactor, m.THDPercent = x, x, x, x
		return m
	}
	m.PeakA = rig.Fig(f.PeakA)
	m.FrequencyHz = a.turns.frequencyHz(f.On)
	var sum [motor.Orders + 1]float64
	n, highest := 0.0, motor.Orders
	for _, h := range a.spectra {
		if h.StartS >= f.StartS() && h.EndS <= f.EndS() {
			n++
			highest = min(highest, h.Highest)
			for k, v := range h.A {
				sum[k] += v * v
			}
		}
	}
	if n == 0 {
		m.THDPercent = rig.Absent("too-short-for-harmonics")
		return m
	}
	mean := motor.Harmonics{Highest: highest}
	for k := range sum {
		mean.A[k] = math.Sqrt(sum[k] / n)
	}
	for k := 1; k <= highest; k++ {
		m.HarmonicsA = append(m.HarmonicsA, rig.Fig(mean.A[k]))
	}
	m.THDPercent = rig.Fig(mean.THDPercent())
	return m
}

// closingWarnings says what is absent and why.
func (a *Analysis) closingWarnings(found []run.Found) {
	a.faultsLeft()
	if a.listener == nil {
		text := "no sound was recorded: sound figures are absent"
		if a.machine != nil {
			text += ", and the clear chamber is told from the current alone"
		}
		a.warn("no-microphone", text)
	}
	if a.machine == nil {
		a.warn("no-clamp", "no current was recorded: motor figures are absent")
	}
	if len(found) == 0 {
		a.noRun()
	}
	for i := range found {
		a.sawMuch(&found[i], i)
		if limit := a.set.Procedure.TimeLimitS; found[i].OnS() > limit && a.set.Procedure.Clock == "motor-on" {
			a.warnOf(i, "over-time-limit", fmt.Sprintf("run %d lasted %.1f s, longer than the limit of %g s", i+1, found[i].OnS(), limit))
		} else if t := found[i].EndS() - found[i].StartS(); t > limit && a.set.Procedure.Clock == "elapsed" {
			a.warnOf(i, "over-time-limit", fmt.Sprintf("run %d lasted %.1f s, longer than the limit of %g s", i+1, t, limit))
		}
	}
	if t := a.tracker; t != nil {
		if m := t.ClippedSamples(); m > 0 {
			a.warn("clamp-clipped", fmt.Sprintf("%s of the clamp stood at full scale or beyond: peak, inrush and RMS are at least what is told; use a larger range", rig.Count(m, "sample")))
		}
		a.warnLeftOut(rig.Clamp, t.LeftOut(), "current (not a number, or beyond 1e12 A)")
	}
	if a.meter != nil {
		a.warnLeftOut(rig.Microphone, a.meter.LeftOut(), "sound (not a number, or beyond a million full scales)")
	}
}

// warnLeftOut says that samples were left out, so that the figures are those of the rest.
func (a *Analysis) warnLeftOut(c rig.Channel, n int, what string) {
	is := "are"
	if n == 1 {
		is = "is"
	}
	if n > 0 {
		a.warn(string(c)+"-left-out", fmt.Sprintf("%s of the %s %s no %s and left out: 0 stands there, and figures near it may be wrong; export the recording again", rig.Count(n, "sample"), c, is, what))
	}
}

func was(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}
