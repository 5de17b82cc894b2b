package detect

import (
	"math"
	"sort"

	"quern/config"
	"quern/detect/run"
	"quern/detect/sound"
)

// books keeps the sound of the runs that one finder finds: each frame waits until the finder knows
// whether the motor was on, and is then booked to a run or to the quiet before one.
type books struct {
	finder finder
	set    config.DetectSound
	meter  *sound.Meter
	frames []heardFrame
	booked int // so many of frames are, and are kept for the bands
	bands  []sound.BandFrame
	spare  [][]float64 // memory of bands that are booked, for those to come
	runs   []*tally
	quiet  quiet
	begun  int // runs whose quiet has ended
	wasOn  bool

	settled float64 // up to here nothing is left to book
}

func newBooks(f finder, set config.DetectSound, m *sound.Meter) *books {
	return &books{finder: f, set: set, meter: m, quiet: newQuiet(0)}
}

// addBands keeps a copy: the meter reuses its memory.
func (b *books) addBands(f sound.BandFrame) {
	var e []float64
	if n := len(b.spare); n > 0 {
		e, b.spare = b.spare[n-1], b.spare[:n-1]
	}
	f.E = append(e[:0], f.E...)
	b.bands = append(b.bands, f)
}

// settle books what has been decided since the last call.
func (b *books) settle() {
	if d := b.finder.DecidedS(); d != b.settled {
		b.settled = d
		b.until(d)
	}
}

func (b *books) settleAll() { b.until(math.Inf(1)) }

// keptS is by how much bands may lag behind frames, more than three of the longest, s.
const keptS = 2.0

// dropN frames that nothing needs any more are dropped together.
const dropN = 256

func (b *books) until(decided float64) {
	if len(b.frames) == 0 && len(b.bands) == 0 {
		return
	}
	known := b.finder.Known()
	for ; b.booked < len(b.frames) && b.frames[b.booked].EndS <= decided; b.booked++ {
		b.book(&b.frames[b.booked], known)
	}
	bookedS := 0.0
	if b.booked > 0 {
		bookedS = b.frames[b.booked-1].EndS
	}
	n := 0
	for ; n < len(b.bands); n++ {
		if f := &b.bands[n]; f.EndS+f.EdgeS > bookedS && !math.IsInf(decided, 1) {
			break
		}
		b.bookBands(&b.bands[n], known)
		b.spare = append(b.spare, b.bands[n].E)
	}
	b.bands = append(b.bands[:0], b.bands[n:]...)
	keepS := bookedS - keptS
	for i := range b.bands {
		keepS = min(keepS, b.bands[i].StartS-b.bands[i].EdgeS)
	}
	old := 0
	for old < b.booked && b.frames[old].EndS < keepS {
		old++
	}
	if old < dropN && !math.IsInf(decided, 1) {
		return // moving the rest for a few costs more than keeping them
	}
	b.frames = append(b.frames[:0], b.frames[old:]...)
	b.booked -= old
}

// bookBands books what fell into the time in which the motor was on. Where a start or stop lies within a frame, that is
// told by when the C-weighted energy came.
func (b *books) bookBands(f *sound.BandFrame, known [][]run.Interval) {
	fromS, toS := f.StartS-f.EdgeS, f.EndS+f.EdgeS
	r, onS := covered(known, fromS, toS)
	if onS == 0 {
		return
	}
	share := 1.0
	if onS < toS-fromS-1e-9 {
		on, all := 0.0, 0.0
		i := sort.Search(len(b.frames), func(i int) bool { return b.frames[i].EndS > fromS })
		for ; i < len(b.frames) && b.frames[i].StartS < toS; i++ {
			h := &b.frames[i]
			e := f.Weight((h.StartS+h.EndS)/2) * h.EC
			_, s := covered(known, h.StartS, h.EndS)
			on += e * s / (h.EndS - h.StartS)
			all += e
		}
		if all == 0 { // silent: the time decides
			on, all = onS, toS-fromS
		}
		share = on / all
	}
	_, s := covered(known, f.StartS, f.EndS)
	b.tally(r).addBands(f, share, s)
}

// tally returns the sound of run r.
func (b *books) tally(r int) *tally {
	for len(b.runs) <= r {
		b.runs = append(b.runs, newTally())
	}
	return b.runs[r]
}

func (b *books) book(f *heardFrame, known [][]run.Interval) {
	r, s := covered(known, f.StartS, f.EndS)
	if s == 0 {
		if b.wasOn {
			b.quiet = newQuiet(f.StartS + coastS)
		}
		b.wasOn = false
		if !f.gone {
			b.quiet.add(&f.Frame)
		}
		return
	}
	if !b.wasOn {
		if r >= b.begun {
			b.tally(r).quiet, b.begun = b.quiet, r+1
		}
		b.quiet = newQuiet(0)
	}
	b.wasOn = true
	if f.gone {
		b.tally(r).goneS += s
		return
	}
	b.tally(r).add(&f.Frame, s)
}

// covered returns the run whose motor-on time overlaps a stretch, and for how long, s.
func covered(known [][]run.Interval, fromS, toS float64) (r int, s float64) {
	for r = len(known) - 1; r >= 0; r-- {
		on := known[r]
		if on[0].FromS >= toS {
			continue
		}
		for i := len(on) - 1; i >= 0 && on[i].ToS > fromS; i-- {
			s += max(0, min(on[i].ToS, toS)-max(on[i].FromS, fromS))
		}
		return r, s
	}
	return -1, 0
}

// coastS is left out of the quiet after a stop: the turntable coasts.
const coastS = 3.0
