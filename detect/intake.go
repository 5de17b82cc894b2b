package detect

import (
	"math"

	"quern/detect/run"
	"quern/detect/sound"
	"quern/rig"
)

// take takes a block of samples, and nothing for those that are missing before it.
func (a *Analysis) take(s *stream, b rig.Block) {
	missing := s.course.reach(b.StartS, len(b.Samples) == 0)
	for missing > 0 {
		n := min(missing, len(nothing))
		missing -= n
		if s.Channel == rig.Microphone {
			a.meter.Push(nothing[:n])
		} else if a.tracker != nil {
			a.tracker.Skip(n)
		}
		a.ready(s)
	}
	if s.Channel == rig.Microphone {
		a.grain.look(b.Samples)
		a.meter.Push(b.Samples)
	} else if a.tracker != nil {
		a.tracker.Push(b.Samples)
	}
	s.course.n += int64(len(b.Samples))
	s.endS = s.course.nextS()
	a.ready(s)
}

var nothing [4096]float64

// ready takes what a meter has ready.
func (a *Analysis) ready(s *stream) {
	if s.Channel == rig.Microphone {
		a.hear()
	} else if a.tracker != nil {
		a.feel()
	}
}

// reading takes one reading of a slow instrument.
func (a *Analysis) reading(s *stream, r rig.Reading) {
	if gap, ok := s.quiet.reading(r.AtS); ok {
		a.gone(s, gap)
	}
	switch s.Form {
	case rig.RMS:
		a.read(s, r)
	case rig.Level:
		a.readLevel(s, r)
	case rig.Mass:
		p := a.pan.Push(r)
		a.seen.mass.add(r.Value)
		if a.trace.Mass != nil {
			a.trace.Mass(p.AtS, p.MassG)
		}
		if a.shaker != nil {
			a.shaker.Pan(run.Pan{AtS: r.AtS, MassG: r.Value, Stable: r.Stable})
		}
	case rig.Value:
		a.extra(s, r)
	}
	s.endS = r.AtS
}

// nothing takes that no reading came up to an instant.
func (a *Analysis) nothing(s *stream, atS float64) {
	if gap, ok := s.quiet.until(atS); ok {
		a.gone(s, gap)
	}
	s.toldS = max(s.toldS, atS)
}

// gone says that a source of readings was gone for a while.
func (a *Analysis) gone(s *stream, gap run.Interval) {
	switch s.Form {
	case rig.RMS:
		a.cycles = append(a.cycles, run.Current{StartS: gap.FromS, EndS: gap.ToS, Missing: true})
		a.lastRMSS = gap.ToS
	case rig.Level:
		a.levelGap(s, gap)
	}
}

// ringS is how long a meter's filters ring after a gap: sound is left out for so long, s.
const (
	ringS     = 0.05
	ringBandS = 0.3
)

// hear takes what the meter has ready.
func (a *Analysis) hear() {
	c := &a.streams[rig.Microphone].course
	for _, f := range a.meter.Frames() {
		gone := c.within(f.StartS, f.EndS, ringS)
		c.forget(f.StartS - 5)
		f.StartS, f.EndS = c.place(f.StartS), c.place(f.EndS)
		if !a.meter.HasTreble() {
			f.ET = math.NaN()
		}
		a.frame(f, gone)
	}
	for _, f := range a.meter.Bands() {
		if c.within(f.StartS, f.EndS, ringBandS) {
			continue
		}
		f.StartS, f.EndS = c.place(f.StartS), c.place(f.EndS)
		if a.trace.Bands != nil {
			a.trace.Bands(f.StartS, f.EndS, f.First, f.E)
		}
		for _, b := range a.books {
			b.addBands(f)
		}
	}
	for _, f := range a.meter.Faults() {
		if f.Kind == "silent" && c.within(f.FromS+0.02, f.ToS-0.02, 0) {
			continue // told as a gap
		}
		f.FromS, f.ToS = c.place(f.FromS), c.place(f.ToS)
		a.fault(f)
	}
}

// frame hands 10 ms of sound on.
func (a *Analysis) frame(f sound.Frame, gone bool) {
	w := heardFrame{f, gone}
	if gone {
		w.Still = true
	}
	a.lately.heard(&w)
	if !gone {
		a.seen.quiet.add(&w.Frame)
	}
	a.series.add(&w.Frame, a.trace.Level)
	a.frames = append(a.frames, w)
	for _, b := range a.books {
		b.frames = append(b.frames, w)
	}
}

// heardFrame is 10 ms of sound, or of none because the source was gone.
type heardFrame struct {
	sound.Frame
	gone bool
}

func heard(f *heardFrame) run.Heard {
	h := run.Heard{StartS: f.StartS, EndS: f.EndS, EA: f.EA, EC: f.EC, ET: f.ET, Dead: f.Still, Missing: f.gone}
	for i, e := range f.Octave {
		h.Octave[i] = float32(e)
	}
	return h
}

// feel takes what the tracker has ready.
func (a *Analysis) feel() {
	p := &a.streams[rig.Clamp].course
	for _, c := range a.tracker.Cycles() {
		gone := p.within(c.StartS, c.EndS, 0)
		p.forget(c.StartS - 5)
		c.StartS, c.EndS = p.place(c.StartS), p.place(c.EndS)
		if !gone {
			a.seen.current(c.RMSA, (c.EndS-c.StartS)/2, a.onA()) // renewed every half cycle
		}
		if a.trace.Current != nil {
			v := c.RMSA
			if gone {
				v = math.NaN()
			}
			a.trace.Current(c.EndS, v)
		}
		a.cycles = append(a.cycles, run.Current{StartS: c.StartS, EndS: c.EndS, RMSA: c.RMSA, SwingA: c.SwingA, FundA: c.FundA, ThirdA: c.ThirdA,
			PeakA: c.PeakA, Quarters: c.Quarters, Turns: c.Turns, Locked: c.Locked, Torn: c.Torn, FirstA: c.FirstA, SecondA: c.SecondA, Wave: true, Missing: gone})
		a.lately.currentA, a.lately.gone = c.RMSA, gone
		a.turns.add(c)
	}
	for _, h := range a.tracker.Harmonics() {
		if !p.within(h.StartS, h.EndS, 0) {
			h.StartS, h.EndS = p.place(h.StartS), p.place(h.EndS)
			a.spectra = append(a.spectra, h)
		}
	}
}

// read takes one RMS reading: it stands for the time since the one before.
func (a *Analysis) read(s *stream, r rig.Reading) {
	from := a.lastRMSS
	if from == r.AtS { // the first reading, at 0
		from = r.AtS - 1e-3
	}
	a.lastRMSS = r.AtS
	if a.trace.Current != nil {
		a.trace.Current(r.AtS, r.Value)
	}
	a.lately.currentA, a.lately.gone = r.Value, false
	a.seen.current(r.Value, r.AtS-from, a.onA())
	a.cycles = append(a.cycles, run.Current{StartS: from, EndS: r.AtS, RMSA: r.Value, SwingA: r.Value, FundA: math.NaN(), ThirdA: math.NaN(), PeakA: r.Value * math.Sqrt2})
}
