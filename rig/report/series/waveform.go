package series

import (
	"context"
	"math"
	"os"
	"sync/atomic"

	"quern/rig"
	"quern/rig/session"
	"quern/rig/wave"
)

// A recording is summed up in blocks, so that wide views need not read it all.
const (
	leastBlock = 256     // frames
	mostBlocks = 1 << 20 // a longer recording has longer blocks
	rawFrames  = 1 << 21 // a view of at most so many is not made of blocks
	readFrames = 1 << 16 // frames read at once
)

// waveform is a recording with its blocks. Blocks below done are there; whoever makes them raises it.
type waveform struct {
	stream rig.Stream
	file   *os.File // nil: there is nothing in it
	rec    *wave.Reader
	enc    wave.Encoding
	base   *timebase
	factor float64 // from full scale to the unit
	unit   string

	raw          int64     // a view of at most so many frames is read as it is
	block        int64     // frames
	lo, hi, mean []float32 // as fractions of full scale
	done         atomic.Int64
	job          *Job
}

// openWaveform opens the recording of a stream; anchors are those of the channel.
func openWaveform(name string, e session.StreamEntry, anchors []part) (*waveform, error) {
	w := &waveform{stream: e.Stream(), raw: rawFrames, job: NewJob()}
	f, err := os.Open(name)
	if err != nil {
		if os.IsNotExist(err) { // an interrupted session that was sealed later
			w.base, w.enc, w.block = newTimebase(e.RateHz, 0, nil), wave.PCM16, leastBlock
			return w, nil
		}
		return nil, err
	}
	info, err := f.Stat()
	if err == nil {
		w.rec, err = wave.Open(f, info.Size(), name)
	}
	if err != nil {
		_ = f.Close() // the first error tells more
		return nil, err
	}
	w.file, w.enc = f, w.rec.Format().Encoding
	w.base = newTimebase(e.RateHz, w.rec.Frames(), anchors)
	w.block = leastBlock
	for w.blocks() > mostBlocks {
		w.block *= 2
	}
	return w, nil
}

func (w *waveform) blocks() int64 { return (w.base.frames + w.block - 1) / w.block }

func (w *waveform) peek(chunk int64) *peeker {
	return &peeker{data: w.rec.Data(), enc: w.enc, frames: w.base.frames, chunk: chunk}
}

// sumUp makes the blocks.
func (w *waveform) sumUp(ctx context.Context) error {
	n := w.blocks()
	w.lo, w.hi, w.mean = make([]float32, n), make([]float32, n), make([]float32, n)
	if n == 0 {
		return nil
	}
	p := w.peek(max(readFrames, w.block))
	for i := range n {
		if i%64 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		s, err := p.sum(i*w.block, min((i+1)*w.block, w.base.frames))
		if err != nil {
			return err
		}
		w.lo[i], w.hi[i], w.mean[i] = float32(s.lo), float32(s.hi), float32(s.total/float64(s.n))
		w.done.Store(i + 1)
		w.job.Reach(float64(i+1) / float64(n))
	}
	return nil
}

// envelope returns the columns of a view. One narrower than a sample is as wide as one, with the sample in
// its middle.
func (w *waveform) envelope(fromS, toS float64, points int) (Envelope, error) {
	step := (toS - fromS) / float64(points)
	if tick := 1 / w.base.rateHz; step < tick {
		step = tick
		if f := w.base.frameAt(fromS); f < w.base.frames && w.base.startOf(f) < toS {
			fromS = w.base.startOf(f) - tick/2
		}
		points = max(1, min(points, int(math.Ceil((toS-fromS)/step))))
	}
	e := newEnvelope(fromS, step, points)
	e.Unit = w.unit
	if w.base.frames == 0 {
		return e, nil
	}
	edges := make([]int64, points+1)
	for k := range edges {
		edges[k] = w.base.frameAt(fromS + float64(k)*step)
	}
	raw := edges[points]-edges[0] <= w.raw
	p := w.peek(w.block)
	if raw {
		p.chunk = readFrames
	}
	done := w.done.Load()
	for k := range points {
		s, ok, err := w.column(p, edges[k], edges[k+1], raw, done)
		if err != nil {
			return e, err
		}
		if !ok {
			e.Progress = w.job.Reached()
		} else if s.n > 0 {
			e.Min[k], e.Max[k], e.Mean[k] = float32(s.lo*w.factor), float32(s.hi*w.factor), float32(s.total/float64(s.n)*w.factor)
		}
	}
	return e, nil
}

// column sums up frames from a to b, of which whole blocks are taken as they are; false: those are not
// there yet.
func (w *waveform) column(p *peeker, a, b int64, raw bool, done int64) (sum, bool, error) {
	first, last := (a+w.block-1)/w.block, b/w.block // the whole blocks
	if raw || last <= first {
		s, err := p.sum(a, b)
		return s, true, err
	}
	if last > done {
		return sum{}, false, nil
	}
	out, err := p.sum(a, first*w.block)
	if err != nil {
		return out, true, err
	}
	mid := sum{lo: math.Inf(1), hi: math.Inf(-1), n: (last - first) * w.block}
	for i := first; i < last; i++ {
		mid.lo, mid.hi = min(mid.lo, float64(w.lo[i])), max(mid.hi, float64(w.hi[i]))
		mid.total += float64(w.mean[i])
	}
	mid.total *= float64(w.block)
	out.add(mid)
	tail, err := p.sum(last*w.block, b)
	out.add(tail)
	return out, true, err
}

func (w *waveform) close() error {
	if w.file == nil {
		return nil
	}
	return w.file.Close()
}
