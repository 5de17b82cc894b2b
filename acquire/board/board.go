// Package board takes current from a converter board on a serial port: numbers in lines of text, or binary
// frames. Samples of a waveform become fractions of full scale, -1 to 1; RMS values amperes.
//
// Frames that are damaged, cut, or overlaid are refused and told. With a check value a damaged frame is
// taken only by chance: xor, sum and crc8 miss one in 256, the CRCs of 16 bits one in 65536 (and no burst
// of up to 16 bits), crc32 one in 4 milliards. Without one, a binary frame is taken when the next begins
// where it should.
package board

import (
	"context"
	"fmt"
	"time"

	"quern/acquire"
	"quern/acquire/serialport"
	"quern/config"
	"quern/rig"
)

// Board is a converter board as a source.
type Board struct {
	cfg        config.ClampDevice
	fullScaleA float64
	open       func() (port, error)
}

// port is what a Board needs of a serial port.
type port interface {
	// Read hands over what comes until ctx ends, when it returns nil.
	Read(ctx context.Context, take func(got time.Time, b []byte)) error
	Close()
}

var _ acquire.Device = (*Board)(nil)

// New returns the board that cfg describes. fullScaleA is clamp.full_scale_a, A at full scale. Errors tell
// which key is wrong.
func New(cfg config.ClampDevice, fullScaleA float64) (*Board, error) {
	if cfg.RateHz <= 0 {
		return nil, &rig.FileError{File: "clamp.device.rate_hz", Byte: -1, Found: fmt.Sprint(cfg.RateHz), Want: "samples a second", Do: "take it from the board's program"}
	}
	if err := serialport.Check(cfg.Port); err != nil {
		return nil, fmt.Errorf("clamp.device: %w", err)
	}
	if _, err := NewReader(cfg.Board, rig.Form(cfg.Form), fullScaleA); err != nil {
		return nil, err
	}
	return &Board{cfg: cfg, fullScaleA: fullScaleA, open: func() (port, error) { return serialport.Open(cfg.Port) }}, nil
}

// Name returns "converter board on ...".
func (b *Board) Name() string { return "converter board on " + b.cfg.Port.Device }

// Streams returns the clamp's stream.
func (b *Board) Streams() []rig.Stream {
	if rig.Form(b.cfg.Form) == rig.RMS {
		return []rig.Stream{{Channel: rig.Clamp, Form: rig.RMS, Unit: rig.Ampere}}
	}
	return []rig.Stream{{Channel: rig.Clamp, Form: rig.Waveform, Unit: rig.FullScale, RateHz: b.cfg.RateHz}}
}

// Run reads the port until ctx ends, when it returns nil, or until the port fails.
func (b *Board) Run(ctx context.Context, to acquire.Sink) error {
	r, err := NewReader(b.cfg.Board, rig.Form(b.cfg.Form), b.fullScaleA)
	if err != nil {
		return err
	}
	p, err := b.open()
	if err != nil {
		return fmt.Errorf("%s: %w", b.Name(), err)
	}
	defer p.Close()
	g := &giver{to: to, form: rig.Form(b.cfg.Form), rateHz: b.cfg.RateHz}
	err = p.Read(ctx, func(got time.Time, bytes []byte) {
		r.Push(got, bytes, g)
		g.flush()
	})
	if err != nil {
		return fmt.Errorf("%s: %w", b.Name(), err)
	}
	return nil
}

// Constants of what losses are believed; the project's own choice.
const (
	looseS = 0.5  // s by which a loss may exceed what is missing
	slow   = 0.02 // a board may be so much slower than it says, ...
	slowS  = 0.01 // ... which makes no more than this, s, between two frames
	most   = 1024 // samples gathered at most before they are handed on
)

// giver hands to a sink what a Reader finds: the frames of one read together.
type giver struct {
	to      acquire.Sink
	form    rig.Form
	rateHz  float64
	samples []float64
	lost    int64
	got     time.Time // of the last frame
	behindS float64   // how much less has come than should have
	began   bool
}

var _ Taker = (*giver)(nil)

// Frame takes one frame.
func (g *giver) Frame(got time.Time, lost int64, values []float64) {
	if g.form == rig.RMS {
		if lost != 0 {
			g.to.Xrun(rig.Clamp)
		}
		for i, v := range values {
			early := float64(len(values)-1-i) / g.rateHz
			g.to.Reading(rig.Clamp, got.Add(-time.Duration(early*float64(time.Second))), v, rig.Unsaid)
		}
		return
	}
	if g.began {
		s := got.Sub(g.got).Seconds()
		g.behindS += s - min(s*slow, slowS)
	}
	g.began = true
	// A board that begins anew sets its counter back, which looks like a large loss: but then nothing is
	// missing.
	if lost < 0 || float64(lost)/g.rateHz > g.behindS+looseS {
		g.flush()
		g.to.Xrun(rig.Clamp)
		lost = 0
	}
	if lost > 0 || len(g.samples) >= most || !got.Equal(g.got) {
		g.flush()
	}
	g.behindS = max(0, g.behindS-float64(lost+int64(len(values)))/g.rateHz)
	g.got = got
	g.lost += lost
	g.samples = append(g.samples, values...)
}

// Reject takes what was refused.
func (g *giver) Reject(why string) { g.to.Reject(rig.Clamp, why) }

func (g *giver) flush() {
	if len(g.samples) > 0 {
		g.to.Samples(rig.Clamp, g.got, g.lost, g.samples)
		g.samples, g.lost = g.samples[:0], 0
	}
}
