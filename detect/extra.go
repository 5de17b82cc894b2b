package detect

import (
	"math"

	"quern/detect/run"
	"quern/detect/sound"
	"quern/rig"
)

// extraBook keeps what an extra channel read while a run went on.
type extraBook struct {
	stream   rig.Stream
	readings []rig.Reading
}

type span struct {
	n, sum, low, high float64
}

func (s *span) add(v float64) {
	if s.n == 0 {
		s.low, s.high = v, v
	}
	s.n++
	s.sum += v
	s.low, s.high = min(s.low, v), max(s.high, v)
}

// extra takes a reading of an extra channel.
func (a *Analysis) extra(s *stream, r rig.Reading) {
	if a.trace.Extra != nil {
		a.trace.Extra(s.Channel, r.AtS, r.Value)
	}
	var b *extraBook
	for _, x := range a.extras {
		if x.stream.Channel == s.Channel {
			b = x
		}
	}
	if b == nil {
		b = &extraBook{stream: s.Stream}
		a.extras = append(a.extras, b)
	}
	b.readings = append(b.readings, r)
}

// extrasOf returns what the extra channels came to over a run.
func (a *Analysis) extrasOf(f *run.Found) []rig.Extra {
	var out []rig.Extra
	for _, s := range a.order {
		if s.Form != rig.Value {
			continue
		}
		x := rig.Extra{Channel: s.Channel, Unit: s.Unit, Mean: rig.Absent("no-reading"), Least: rig.Absent("no-reading"), Most: rig.Absent("no-reading")}
		for _, b := range a.extras {
			if b.stream.Channel != s.Channel {
				continue
			}
			var in span
			for _, r := range b.readings {
				if r.AtS >= f.StartS() && r.AtS <= f.EndS() && !math.IsNaN(r.Value) {
					in.add(r.Value)
				}
			}
			if in.n > 0 {
				x.Mean, x.Least, x.Most = rig.Fig(in.sum/in.n), rig.Fig(in.low), rig.Fig(in.high)
			}
		}
		out = append(out, x)
	}
	return out
}

// meterFrameS is the length of the frames that a level meter's reading is cut into, s.
const meterFrameS = 0.01

// firstLevelS is how long the first reading of a level meter is taken to stand for at most, s.
const firstLevelS = 1.0

// readLevel takes one reading of a level meter: the level since the reading before, as equal frames of
// 10 ms, so that runs are heard in them as in samples.
func (a *Analysis) readLevel(s *stream, r rig.Reading) {
	ms := sound.RefPa * sound.RefPa * math.Pow(10, r.Value/10)
	if s.quiet.n <= 1 {
		a.meterS = max(0, r.AtS-firstLevelS)
	}
	a.meterFrames(r.AtS, ms, false)
}

func (a *Analysis) levelGap(_ *stream, gap run.Interval) { a.meterFrames(gap.ToS, 0, true) }

func (a *Analysis) meterFrames(toS, ms float64, gone bool) {
	for toS-a.meterS > 1e-9 {
		end := min(a.meterS+meterFrameS, toS)
		if toS-end < meterFrameS/2 {
			end = toS
		}
		d := end - a.meterS
		a.frame(sound.Frame{StartS: a.meterS, EndS: end, EA: ms * d, EC: ms * d, ET: math.NaN(), FMax: ms, FEnd: ms, SMax: ms, SEnd: ms}, gone)
		a.meterS = end
	}
}

// lately is what the channels showed last.
type lately struct {
	levelDB  rig.Figure
	currentA float64
	gone     bool
}

func (l *lately) heard(f *heardFrame) {
	if f.gone {
		l.levelDB = rig.Absent("microphone-gap")
		return
	}
	l.levelDB = levelOf(f.FEnd)
}
