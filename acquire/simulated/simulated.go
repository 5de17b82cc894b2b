// Package simulated delivers the simulated bench as a device does: in real time, or as fast as its clock
// runs. One session follows the other for ever, each drawn from the next seed.
package simulated

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"quern/acquire"
	"quern/acquire/sim"
	"quern/config"
	"quern/rig"
)

// Bench is a device that delivers all channels of a simulated bench.
type Bench struct {
	clock   acquire.Clock
	draw    func(seed uint64) sim.Scenario
	seed    uint64
	streams []rig.Stream
	setup   config.Setup
	between func(ctx context.Context, next config.Setup)
}

var _ acquire.Device = (*Bench)(nil)

// New returns a bench that plays draw(first), draw(first+1), ... which all deliver the same streams. What
// it delivers is in hand at the instants of its clock.
func New(clock acquire.Clock, first uint64, draw func(seed uint64) sim.Scenario) (*Bench, error) {
	b, err := sim.New(draw(first))
	if err != nil {
		return nil, err
	}
	return &Bench{clock: clock, draw: draw, seed: first, streams: b.Streams(), setup: b.Setup()}, nil
}

// Setup returns the settings of the first session.
func (b *Bench) Setup() config.Setup { return b.setup }

// Between sets what is done between two sessions, with the settings of the one that is played next: what a tester does who
// ends a session and puts another unit on the bench. It is to be set before Run.
func (b *Bench) Between(do func(ctx context.Context, next config.Setup)) { b.between = do }

// Name says what it is.
func (b *Bench) Name() string { return "the simulated bench" }

// Streams returns what it delivers.
func (b *Bench) Streams() []rig.Stream { return b.streams }

// pollEvery is how often the clock is looked at.
const pollEvery = 5 * time.Millisecond

// chunkS is how much of a waveform is delivered at once, s: what a sound card does.
const chunkS = 0.02

// Run plays until ctx ends.
func (b *Bench) Run(ctx context.Context, to acquire.Sink) error {
	t := time.NewTicker(pollEvery)
	defer t.Stop()
	begun := b.clock()
	for played := 0; ctx.Err() == nil; played++ {
		bench, err := sim.New(b.draw(b.seed))
		if err != nil {
			return fmt.Errorf("simulated session %d: %w", b.seed, err)
		}
		b.seed++
		if b.between != nil && played > 0 {
			b.between(ctx, bench.Setup())
		}
		if err := b.play(ctx, bench, begun, t.C, to); err != nil {
			return err
		}
		begun = begun.Add(time.Duration(bench.Seconds() * float64(time.Second)))
	}
	return nil
}

// play delivers one session that begins at begun, the channels interleaved as devices beside each other
// deliver them.
func (b *Bench) play(ctx context.Context, bench *sim.Bench, begun time.Time, poll <-chan time.Time, to acquire.Sink) error {
	var queue []piece
	for {
		blk, err := bench.Next()
		done := err == io.EOF
		if err != nil && !done {
			return err
		}
		start := blk.StartS
		if len(blk.Readings) > 0 {
			start = blk.Readings[0].AtS
		}
		slices.SortStableFunc(queue, func(x, y piece) int { return cmp.Compare(x.endS, y.endS) })
		n := 0
		for n < len(queue) && (done || queue[n].endS <= start-readAheadS) {
			p := queue[n]
			n++
			at := begun.Add(time.Duration(p.endS * float64(time.Second)))
			for b.clock().Before(at) {
				select {
				case <-ctx.Done():
					return nil
				case <-poll:
				}
			}
			if p.samples != nil {
				to.Samples(p.channel, at, 0, p.samples)
			} else {
				to.Reading(p.channel, at, p.reading.Value, p.reading.Stable)
			}
		}
		if done {
			return nil
		}
		queue = b.cut(append(queue[:0], queue[n:]...), blk)
	}
}

// readAheadS is more than the length of the bench's blocks, s.
const readAheadS = 0.3

// piece is what is delivered at once.
type piece struct {
	channel rig.Channel
	endS    float64
	samples []float64
	reading rig.Reading
}

func (b *Bench) cut(out []piece, blk rig.Block) []piece {
	for _, r := range blk.Readings {
		out = append(out, piece{channel: blk.Channel, endS: r.AtS, reading: r})
	}
	rate := 0.0
	for _, s := range b.streams {
		if s.Channel == blk.Channel {
			rate = s.RateHz
		}
	}
	n := max(1, int(rate*chunkS))
	for from := 0; from < len(blk.Samples); from += n {
		to := min(from+n, len(blk.Samples))
		out = append(out, piece{channel: blk.Channel, endS: blk.StartS + float64(to)/rate, samples: slices.Clone(blk.Samples[from:to])})
	}
	return out
}
