package live

import (
	"math"

	"quern/config"
	"quern/detect"
	"quern/rig"
)

// fold is an analysis with its place in the sources' time.
type fold struct {
	a       *detect.Analysis
	baseS   float64
	streams map[rig.Channel]*course
}

// course is where a sampled stream stands in a fold.
type course struct {
	rateHz float64
	begun  bool
	atS    float64 // of its last anchor
	n      int64   // samples since
}

// sameInstantS is what two ways of adding up one and the same instant may differ by, s.
const sameInstantS = 1e-7

// follow returns the start of the next block as its anchor has it, so that what follows on shows as that.
func (c *course) follow(startS float64, n int) float64 {
	due := c.atS + float64(c.n)/c.rateHz
	if !c.begun || math.Abs(startS-due) > sameInstantS {
		c.begun, c.atS, c.n = true, startS, 0
		due = startS
	}
	c.n += int64(n)
	return due
}

func newFold(set config.Setup, streams []rig.Stream, baseS float64) (*fold, error) {
	a, err := detect.New(set, streams, detect.Trace{})
	if err != nil {
		return nil, err
	}
	f := &fold{a: a, baseS: baseS, streams: map[rig.Channel]*course{}}
	for _, s := range streams {
		f.streams[s.Channel] = &course{rateHz: s.RateHz}
	}
	return f, nil
}

// placed returns a block in the fold's time, without what lies before its beginning; false: nothing is
// left of it.
func (f *fold) placed(b rig.Block) (rig.Block, bool) {
	b.StartS -= f.baseS
	if len(b.Readings) > 0 {
		rs := make([]rig.Reading, 0, len(b.Readings))
		for _, r := range b.Readings {
			if r.AtS -= f.baseS; r.AtS >= 0 {
				rs = append(rs, r)
			}
		}
		b.Readings, b.StartS = rs, 0
		return b, len(rs) > 0
	}
	if len(b.Samples) == 0 {
		return b, b.StartS > 0
	}
	c := f.streams[b.Channel]
	if b.StartS < 0 {
		rate := c.rateHz
		k := int(math.Ceil(-b.StartS*rate - 1e-9))
		if k >= len(b.Samples) {
			return b, false
		}
		b.Samples = b.Samples[k:]
		b.StartS = max(0, b.StartS+float64(k)/rate)
	}
	b.StartS = c.follow(b.StartS, len(b.Samples))
	return b, true
}

func (f *fold) push(b rig.Block) error {
	p, ok := f.placed(b)
	if !ok {
		return nil
	}
	return f.a.Push(p)
}
