// Package scale reads a scale on a serial port: one that sends by itself, or one that is asked. Masses are
// in grams, whatever unit the scale shows.
package scale

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

	"quern/acquire"
	"quern/acquire/frame"
	"quern/acquire/serialport"
	"quern/config"
	"quern/rig"
)

// Scale is a scale on a serial port.
type Scale struct {
	cfg                 config.ScaleDevice
	request, tare, zero []byte
	commands            chan command

	mu   sync.Mutex
	done chan struct{} // closed when the present run ends; nil while none runs
}

// command is bytes to send on behalf of a person.
type command struct {
	bytes []byte
	sent  chan error // takes one
}

var _ acquire.Device = (*Scale)(nil)

// New returns the scale that cfg describes; its kind must be "serial".
func New(cfg config.ScaleDevice) (*Scale, error) {
	if cfg.Kind != "serial" {
		return nil, fmt.Errorf("scale.device.kind is %q, expected \"serial\": set it, or use the device of that kind", cfg.Kind)
	}
	if err := serialport.Check(cfg.Port); err != nil {
		return nil, fmt.Errorf("scale.device.%w", err)
	}
	if _, err := frame.New(cfg.Frame); err != nil {
		return nil, fmt.Errorf("scale.device.%w", err)
	}
	s := &Scale{cfg: cfg, commands: make(chan command)}
	for _, x := range []struct {
		key, from string
		to        *[]byte
	}{{"request", cfg.Request, &s.request}, {"tare", cfg.Tare, &s.tare}, {"zero", cfg.Zero, &s.zero}} {
		b, err := serialport.Unescape(x.from)
		if err != nil {
			return nil, fmt.Errorf("scale.device.%s: %w: write a backslash itself as \\\\", x.key, err)
		}
		*x.to = b
	}
	switch cfg.Mode {
	case "continuous":
	case "request":
		if len(s.request) == 0 {
			return nil, fmt.Errorf("scale.device.request is empty, expected what asks the scale for a reading, such as 'P\\r\\n': see its manual, or set mode to continuous")
		}
		if cfg.IntervalS <= 0 {
			return nil, fmt.Errorf("scale.device.interval_s is %v, expected more than 0: set it to 0.1", cfg.IntervalS)
		}
	default:
		return nil, fmt.Errorf("scale.device.mode is %q, expected continuous or request", cfg.Mode)
	}
	return s, nil
}

// Name says what it is and where.
func (s *Scale) Name() string { return "scale on " + s.cfg.Port.Device }

// Streams returns the one stream it delivers: mass, in grams.
func (s *Scale) Streams() []rig.Stream {
	return []rig.Stream{{Channel: rig.Scale, Form: rig.Mass, Unit: rig.Gram}}
}

// Tare tells the scale to tare. It returns when the command is sent; only the readings show whether the
// scale obeyed. It may be called by any goroutine.
func (s *Scale) Tare() error { return s.command("tare", s.tare) }

// Zero tells the scale to take the present load for zero, as Tare does.
func (s *Scale) Zero() error { return s.command("zero", s.zero) }

func (s *Scale) command(key string, b []byte) error {
	if len(b) == 0 {
		return fmt.Errorf("%s: scale.device.%s is empty, so nothing can be sent: press the key on the scale, or set %s to what its manual says", s.Name(), key, key)
	}
	s.mu.Lock()
	done := s.done
	s.mu.Unlock()
	gone := fmt.Errorf("%s is not connected, so it cannot be told to %s: look at the plug and the cable", s.Name(), key)
	if done == nil {
		return gone
	}
	c := command{b, make(chan error, 1)}
	select {
	case s.commands <- c:
	case <-done:
		return gone
	}
	select {
	case err := <-c.sent:
		return err
	case <-done:
	}
	select { // the answer may have come together with the end
	case err := <-c.sent:
		return err
	default:
		return gone
	}
}

// chunk is bytes from the port.
type chunk struct {
	got   time.Time
	bytes []byte
}

// Run reads the scale until ctx ends or the port fails.
func (s *Scale) Run(ctx context.Context, to acquire.Sink) error {
	port, err := serialport.Open(s.cfg.Port)
	if err != nil {
		return err
	}
	r, err := frame.New(s.cfg.Frame)
	if err != nil {
		port.Close()
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	chunks, failed := make(chan chunk, 64), make(chan error, 1)
	go func() {
		failed <- port.Read(ctx, func(got time.Time, b []byte) {
			select {
			case chunks <- chunk{got, slices.Clone(b)}:
			case <-ctx.Done():
			}
		})
		close(chunks)
	}()
	done := make(chan struct{})
	s.mu.Lock()
	s.done = done
	s.mu.Unlock()
	defer func() {
		s.mu.Lock()
		s.done = nil
		s.mu.Unlock()
		close(done)
		cancel()
		for range chunks { // until the reader has ended
		}
		port.Close()
	}()
	return s.loop(ctx, port, r, chunks, failed, to)
}

func (s *Scale) loop(ctx context.Context, port *serialport.Port, r *frame.Reader, chunks <-chan chunk, failed <-chan error, to acquire.Sink) error {
	var tick <-chan time.Time
	ask := func() error { return port.Write(ctx, s.request) }
	if s.cfg.Mode == "request" {
		t := time.NewTicker(time.Duration(s.cfg.IntervalS * float64(time.Second)))
		defer t.Stop()
		tick = t.C
		if err := ask(); err != nil {
			return s.end(ctx, err)
		}
	}
	for {
		select {
		case <-ctx.Done():
			return nil
		case c, ok := <-chunks:
			if !ok {
				return s.end(ctx, <-failed)
			}
			was := r.Synced()
			r.PushAt(c.got, c.bytes, func(f frame.Found) { s.take(c.got, f, to) })
			// The first answer only shows where frames begin: ask for another without waiting.
			if tick != nil && !was && r.Synced() {
				if err := ask(); err != nil {
					return s.end(ctx, err)
				}
			}
		case now := <-tick:
			// While an answer is coming in, a slow scale is not asked again; a torn one is given up.
			if r.Partial() && !r.Stalled(now) {
				continue
			}
			r.Break(func(f frame.Found) { s.take(now, f, to) })
			if err := ask(); err != nil {
				return s.end(ctx, err)
			}
		case c := <-s.commands:
			err := port.Write(ctx, c.bytes)
			c.sent <- err
			if err != nil {
				return s.end(ctx, err)
			}
		}
	}
}

// end is what Run returns: an error that only says that ctx ended is none.
func (s *Scale) end(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return nil
	}
	return err
}

// take hands on what came of a frame.
func (s *Scale) take(got time.Time, f frame.Found, to acquire.Sink) {
	switch {
	case f.Reject != "":
		to.Reject(rig.Scale, f.Reject)
		return
	case f.OutOfRange != "":
		to.Alive(rig.Scale, f.OutOfRange)
		return
	}
	unit := f.Reading.Unit
	if unit == "" {
		unit = s.cfg.Frame.Unit
	}
	g, ok := frame.Grams(f.Reading.Value, unit)
	if !ok {
		to.Reject(rig.Scale, fmt.Sprintf("unit %q, expected g, kg, oz, lb or lb-oz: damaged, or set the scale to grams", unit))
		return
	}
	to.Reading(rig.Scale, got, g, f.Reading.Stable)
}
