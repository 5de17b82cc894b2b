package series

import (
	"math"
	"sort"
)

// part is a stretch of a recording without a jump in time: frames from frame on follow each other at the
// stream's rate from atS on, until the next part begins.
type part struct {
	frame int64
	atS   float64
}

// timebase places the frames of a recording on the session's time.
type timebase struct {
	rateHz float64
	frames int64
	parts  []part  // by frame and by time; the first begins at frame 0
	endS   float64 // up to here it is known what there was
}

// newTimebase makes one of the anchors of a recording in the order in which they were written. Those that
// go back in time, or beyond what was recorded, are left out.
func newTimebase(rateHz float64, frames int64, anchors []part) *timebase {
	b := &timebase{rateHz: rateHz, frames: frames, parts: []part{{}}}
	for _, a := range anchors {
		last := &b.parts[len(b.parts)-1]
		switch {
		case !(a.atS >= last.atS) || math.IsInf(a.atS, 0) || a.frame < last.frame || a.frame > frames:
		case a.frame == frames: // nothing more came up to there
			b.endS = max(b.endS, a.atS)
		case a.frame == last.frame:
			last.atS = a.atS
		default:
			b.parts = append(b.parts, a)
		}
	}
	b.endS = max(b.endS, b.timeAt(float64(frames)))
	return b
}

// frameAt returns the first frame at or after an instant; that of the next part if there is none left in
// its own. It never falls as the instant rises.
func (b *timebase) frameAt(atS float64) int64 {
	i := sort.Search(len(b.parts), func(i int) bool { return b.parts[i].atS > atS }) - 1
	if i < 0 {
		return 0
	}
	end := b.frames
	if i+1 < len(b.parts) {
		end = b.parts[i+1].frame
	}
	// A millionth of a frame is what rounding costs, not time.
	n := math.Ceil((atS-b.parts[i].atS)*b.rateHz - 1e-6)
	if n >= float64(end-b.parts[i].frame) {
		return end
	}
	return b.parts[i].frame + max(int64(n), 0)
}

// timeAt returns the instant of a frame, or of a point between two. The end of a part is not the beginning
// of the next: what ends with the last frame of a part ends there.
func (b *timebase) timeAt(frame float64) float64 {
	i := sort.Search(len(b.parts), func(i int) bool { return float64(b.parts[i].frame) >= frame }) - 1
	return b.timeIn(max(i, 0), frame)
}

// startOf returns the instant at which a frame begins.
func (b *timebase) startOf(frame int64) float64 {
	i := sort.Search(len(b.parts), func(i int) bool { return b.parts[i].frame > frame }) - 1
	return b.timeIn(max(i, 0), float64(frame))
}

func (b *timebase) timeIn(i int, frame float64) float64 {
	return b.parts[i].atS + (frame-float64(b.parts[i].frame))/b.rateHz
}

// jump returns how far part i begins after the end of what came before it, s.
func (b *timebase) jump(i int) float64 {
	if i == 0 {
		return b.parts[0].atS
	}
	return b.parts[i].atS - b.timeIn(i-1, float64(b.parts[i].frame))
}

// gaps returns where nothing came.
func (b *timebase) gaps() []span {
	var out []span
	for i, p := range b.parts {
		if j := b.jump(i); j >= gapLeastS {
			out = append(out, span{p.atS - j, p.atS})
		}
	}
	if end := b.timeAt(float64(b.frames)); b.endS-end >= gapLeastS {
		out = append(out, span{end, b.endS})
	}
	return out
}

// endOf returns the frame after the last one of the part that a frame is in.
func (b *timebase) endOf(frame int64) int64 {
	i := sort.Search(len(b.parts), func(i int) bool { return b.parts[i].frame > frame })
	if i < len(b.parts) {
		return b.parts[i].frame
	}
	return b.frames
}
