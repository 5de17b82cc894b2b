package series

import (
	"context"
	"errors"
	"io"
	"math"
	"sort"

	"quern/config"
	"quern/detect/motor"
	"quern/detect/sound"
)

// Stretches that a gap spoils beyond its end while the meter's filters ring, s: those of the analysis.
const (
	ringS     = 0.05
	ringBandS = 0.3
)

// padS is how much of a gap a meter is given as missing samples, s. Of a longer one whole seconds are left
// out: nothing rings so long.
const padS = 60

// course says where the samples that a meter was given stand in the recording. Missing ones are given too,
// so that its time goes on.
type course struct {
	base  *timebase
	n     int64      // samples given
	spans []fed      // what was given of the recording
	pads  [][2]int64 // missing samples, from and to
}

type fed struct{ sample, frame int64 }

// feed gives a whole recording to a meter; missing says that so many samples are not there.
func (c *course) feed(ctx context.Context, w *waveform, take func(x []float64), missing func(n int), ready func() error) error {
	b := w.base
	buf := make([]float64, max(64, int(b.rateHz/4)))
	for i, p := range b.parts {
		end := b.endOf(p.frame)
		if j := b.jump(i); j >= gapLeastS {
			gone := int64(math.Round(j * b.rateHz))
			if whole := int64(math.Round(b.rateHz)); j > padS {
				gone -= (gone - int64(padS*b.rateHz)) / whole * whole
			}
			c.pads = append(c.pads, [2]int64{c.n, c.n + gone})
			for c.n < c.pads[len(c.pads)-1][1] {
				n := min(c.pads[len(c.pads)-1][1]-c.n, int64(len(buf)))
				missing(int(n))
				c.n += n
				if err := ready(); err != nil {
					return err
				}
			}
		}
		c.spans = append(c.spans, fed{c.n, p.frame})
		for f := p.frame; f < end; {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			n, err := w.rec.Read(buf[:min(int64(len(buf)), end-f)], 1)
			if err != nil {
				if errors.Is(err, io.EOF) {
					err = io.ErrUnexpectedEOF
				}
				return err
			}
			take(buf[:n])
			f += int64(n)
			c.n += int64(n)
			if err := ready(); err != nil {
				return err
			}
		}
	}
	return nil
}

// place returns the session time of an instant of the meter that ends a stretch.
func (c *course) place(atS float64) float64 {
	x := atS * c.base.rateHz
	i := max(0, sort.Search(len(c.spans), func(i int) bool { return float64(c.spans[i].sample) >= x-1e-6 })-1)
	if len(c.spans) == 0 {
		return atS
	}
	return c.base.timeAt(float64(c.spans[i].frame) + x - float64(c.spans[i].sample))
}

// gone says whether a stretch of the meter's time touches missing samples, or what still rings of them.
func (c *course) gone(fromS, toS, ringS float64) bool {
	rate := c.base.rateHz
	i := sort.Search(len(c.pads), func(i int) bool { return float64(c.pads[i][1])/rate+ringS > fromS })
	return i < len(c.pads) && toS > float64(c.pads[i][0])/rate
}

// share is how much of the recording a meter was given.
func (c *course) share() float64 {
	if k := len(c.spans) - 1; k >= 0 && c.base.frames > 0 {
		return float64(c.spans[k].frame+c.n-c.spans[k].sample) / float64(c.base.frames)
	}
	return 0
}

// hear derives the level every 10 ms and the third-octave bands from the microphone. The level is LAF: its
// least and largest values are those at the ends of frames and within them, its mean that of the mean
// squares, which over any longer stretch is LAeq.
func hear(ctx context.Context, w *waveform, set config.Setup, level *series, bands *octaves) error {
	m, err := sound.New(w.base.rateHz, set.Bench.Microphone.FullScaleDB, set.Bench.Detect.Sound)
	if err != nil {
		return err
	}
	for b := range sound.NominalHz {
		if m.Measurable(b) {
			bands.bands = b + 1
		}
	}
	c := &course{base: w.base}
	var none [4096]float64
	ready := func() error {
		level.mu.Lock()
		for _, f := range m.Frames() {
			from, to := c.place(f.StartS), c.place(f.EndS)
			switch {
			case c.gone(f.StartS, f.EndS, ringS):
			case f.Still:
				level.gap(from, to)
			default:
				level.add(to, float32(f.FEnd), float32(f.FMax), float32(f.FEnd))
			}
		}
		level.mu.Unlock()
		bands.mu.Lock()
		for _, f := range m.Bands() {
			if !c.gone(f.StartS, f.EndS, ringBandS) {
				to := c.place(f.EndS)
				bands.add(to-(f.EndS-f.StartS), to, f.First, f.E)
			}
		}
		bands.mu.Unlock()
		level.job.Reach(c.share())
		bands.job.Reach(c.share())
		return nil
	}
	missing := func(n int) {
		for n > 0 {
			k := min(n, len(none))
			m.Push(none[:k])
			n -= k
		}
	}
	if err := c.feed(ctx, w, m.Push, missing, ready); err != nil {
		return err
	}
	m.Finish()
	return ready()
}

// feel derives the RMS of the current every half cycle from the clamp.
func feel(ctx context.Context, w *waveform, set config.Setup, rms *series) error {
	t, err := motor.New(w.base.rateHz, w.factor, set.Bench.Supply.FrequencyHz, 0.01*set.Unit.RatedCurrentA)
	if err != nil {
		return err
	}
	c := &course{base: w.base}
	return c.feed(ctx, w, t.Push, t.Skip, func() error {
		rms.mu.Lock()
		for _, x := range t.Cycles() {
			if !c.gone(x.StartS, x.EndS, 0) {
				v := float32(x.RMSA)
				rms.add(c.place(x.EndS), v, v, v)
			}
		}
		rms.mu.Unlock()
		t.Harmonics() // nobody looks at them here
		rms.job.Reach(c.share())
		return nil
	})
}
