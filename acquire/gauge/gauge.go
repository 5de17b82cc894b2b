// Package gauge reads instruments that send one number a line on a serial port: a sound level meter, or
// whatever an extra channel stands for.
package gauge

import (
	"context"
	"fmt"
	"time"

	"quern/acquire"
	"quern/acquire/frame"
	"quern/acquire/serialport"
	"quern/config"
	"quern/rig"
)

// Gauge is such an instrument.
type Gauge struct {
	name           string
	port           config.Port
	frame          config.Frame
	stream         rig.Stream
	factor, offset float64
	least, most    float64 // of what is believed, in the stream's unit
}

var _ acquire.Device = (*Gauge)(nil)

// Limits of a level that is believed, dB: wider than any meter shows, but 9999 for "no value" is outside.
const (
	leastDB = -20
	mostDB  = 200
)

// anyValue is beyond every value of an extra channel: a frame has at most 12 digits, a factor is at most 1e9.
const anyValue = 1e22

// NewMeter returns the sound level meter that cfg describes; its kind must be "meter". It is set to A and F
// on the meter itself, and delivers dB re 20 µPa.
func NewMeter(cfg config.MicrophoneDevice) (*Gauge, error) {
	if cfg.Kind != "meter" {
		return nil, fmt.Errorf("microphone.device.kind is %q, expected \"meter\": set it, or use the device of that kind", cfg.Kind)
	}
	return newGauge("microphone.device", &Gauge{
		name: "sound level meter on " + cfg.Port.Device, port: cfg.Port, frame: cfg.Frame,
		stream: rig.Stream{Channel: rig.Microphone, Form: rig.Level, Unit: rig.Decibel},
		factor: 1, least: leastDB, most: mostDB,
	})
}

// NewExtra returns the instrument of an extra channel; its kind must be "line". A value is the number sent
// times factor plus offset, in cfg's unit.
func NewExtra(cfg config.Extra) (*Gauge, error) {
	where := "extra " + cfg.ID
	if cfg.Kind != "line" {
		return nil, fmt.Errorf("%s: kind is %q, expected \"line\": set it, or use the device of that kind", where, cfg.Kind)
	}
	if cfg.Factor == 0 {
		return nil, fmt.Errorf("%s: factor is 0, expected another number: every value would be the offset; leave factor out for 1", where)
	}
	return newGauge(where+": ", &Gauge{
		name: cfg.ID + " on " + cfg.Port.Device, port: cfg.Port, frame: cfg.Frame,
		stream: rig.Stream{Channel: rig.Channel(cfg.ID), Form: rig.Value, Unit: rig.Unit(cfg.Unit)},
		factor: cfg.Factor, offset: cfg.Offset, least: -anyValue, most: anyValue,
	})
}

func newGauge(where string, g *Gauge) (*Gauge, error) {
	if where[len(where)-1] != ' ' {
		where += "."
	}
	if err := serialport.Check(g.port); err != nil {
		return nil, fmt.Errorf("%s%w", where, err)
	}
	if g.frame.Unit == "lb-oz" {
		return nil, fmt.Errorf("%sframe.unit_word is \"lb-oz\", which only a scale has: leave it out", where)
	}
	if _, err := frame.New(g.frame); err != nil {
		return nil, fmt.Errorf("%s%w", where, err)
	}
	return g, nil
}

// Name says what it is and where.
func (g *Gauge) Name() string { return g.name }

// Streams returns the one stream it delivers.
func (g *Gauge) Streams() []rig.Stream { return []rig.Stream{g.stream} }

// Run reads the instrument until ctx ends or the port fails.
func (g *Gauge) Run(ctx context.Context, to acquire.Sink) error {
	port, err := serialport.Open(g.port)
	if err != nil {
		return err
	}
	defer port.Close()
	r, err := frame.New(g.frame)
	if err != nil {
		return err
	}
	return port.Read(ctx, func(got time.Time, b []byte) {
		r.PushAt(got, b, func(f frame.Found) { g.take(got, f, to) })
	})
}

// take hands on what came of a frame.
func (g *Gauge) take(got time.Time, f frame.Found, to acquire.Sink) {
	c := g.stream.Channel
	switch {
	case f.Reject != "":
		to.Reject(c, f.Reject)
		return
	case f.OutOfRange != "":
		to.Alive(c, f.OutOfRange)
		return
	}
	v := f.Reading.Value*g.factor + g.offset
	if v < g.least || v > g.most {
		to.Reject(c, fmt.Sprintf("%v %s, expected %v to %v: damaged, or the meter has no value", v, g.stream.Unit, g.least, g.most))
		return
	}
	to.Reading(c, got, v, f.Reading.Stable)
}
