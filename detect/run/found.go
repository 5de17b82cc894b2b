package run

import (
	"fmt"
	"sort"

	"quern/rig"
)

// Found is one run as far as events and times go.
type Found struct {
	On     []Interval // motor on, in order
	Events []rig.Event
	States []rig.Span
	IdleA  rig.Figure // no-load current of this run, RMS
	Inrush rig.Figure // largest RMS of one cycle of the first start; from a waveform, from its second cycle on and without d.c.
	NoiseA rig.Figure // RMS of the clamp while the motor was off before this run
	MaxA   float64    // largest RMS over one cycle while the motor was on, its first cycle included; of readings, the largest
	PeakA  float64    // largest instantaneous current
	crest  spread
	ampS   float64 // ampere-seconds
	seenS  float64 // over so many seconds
}

// MeanA is the mean of the cycle RMS over the time the motor was on.
func (f *Found) MeanA() rig.Figure {
	if f.seenS == 0 {
		return rig.Absent("no-current")
	}
	return rig.Fig(f.ampS / f.seenS)
}

// CrestFactor is the median of peak over RMS of the cycles while the motor was on.
func (f *Found) CrestFactor() rig.Figure {
	if f.crest.n == 0 {
		return rig.Absent("no-waveform")
	}
	return rig.Fig(f.crest.quantile(0.5))
}

// spread counts values from 0 to 10 in steps of 0.01, in constant memory.
type spread struct {
	n     int
	steps [1000]int32
}

func (s *spread) add(v float64) {
	s.n++
	s.steps[min(max(int(v*100), 0), len(s.steps)-1)]++
}

func (s *spread) quantile(q float64) float64 {
	left := int(q * float64(s.n))
	for i, n := range s.steps {
		if left -= int(n); left < 0 {
			return (float64(i) + 0.5) / 100
		}
	}
	return 10
}

// StartS is the first start, EndS the last stop.
func (f *Found) StartS() float64 { return f.On[0].FromS }
func (f *Found) EndS() float64   { return f.On[len(f.On)-1].ToS }

// OnS is the time the motor was on.
func (f *Found) OnS() float64 { return f.onAfterS(f.StartS()) }

// onAfterS is the time it was on after an instant.
func (f *Found) onAfterS(atS float64) float64 {
	s := 0.0
	for _, i := range f.On {
		s += max(i.ToS-max(i.FromS, atS), 0)
	}
	return s
}

// started keeps the inrush of the first start: when that is over, or is broken off by a stop.
func (f *Found) started(g *grip) {
	if len(f.On) == 1 && !f.Inrush.OK && g.inrushA > 0 {
		f.Inrush = rig.Fig(g.inrushA)
	}
}

// take adds a record to the figures of the current.
func (f *Found) take(c Current) {
	s := (c.EndS - c.StartS) / 2
	if !c.Wave {
		s *= 2
	}
	f.ampS += c.RMSA * s
	f.seenS += s
	f.PeakA = max(f.PeakA, c.PeakA) // an instant needs no whole cycle
	f.MaxA = max(f.MaxA, c.FirstA)
	if c.Torn {
		return
	}
	f.MaxA = max(f.MaxA, c.RMSA)
	if c.Wave && c.RMSA > 0 {
		f.crest.add(c.PeakA / c.RMSA)
	}
}

// interrupt marks the stretches in which the clamp was gone as unknown.
func (f *Found) interrupt(lost []Interval) {
	for _, l := range lost {
		if l.ToS <= f.StartS() || l.FromS >= f.EndS() {
			continue
		}
		var out []rig.Span
		for _, s := range f.States {
			out = append(out, cutOut(s, l)...)
		}
		out = append(out, rig.Span{State: rig.Unknown, FromS: rig.Fig(l.FromS), ToS: rig.Fig(l.ToS)})
		sort.SliceStable(out, func(i, j int) bool { return out[i].FromS.V < out[j].FromS.V })
		f.States = out
	}
}

func cutOut(s rig.Span, l Interval) (left []rig.Span) {
	if s.FromS.V < l.FromS {
		left = append(left, rig.Span{State: s.State, FromS: s.FromS, ToS: rig.Fig(min(s.ToS.V, l.FromS))})
	}
	if s.ToS.V > l.ToS {
		left = append(left, rig.Span{State: s.State, FromS: rig.Fig(max(s.FromS.V, l.ToS)), ToS: s.ToS})
	}
	return left
}

func (f *Found) String() string { return fmt.Sprintf("run %.3f to %.3f s", f.StartS(), f.EndS()) }
