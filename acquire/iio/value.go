package iio

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"quern/acquire"
	"quern/config"
	"quern/rig"
)

// Value is a slow channel of a converter, read now and then as an extra channel.
type Value struct {
	cfg  config.Extra
	root string // "/", but for tests
}

var _ acquire.Device = (*Value)(nil)

// NewExtra returns the extra channel that cfg describes; its kind must be "iio". A value is what the kernel
// makes of the channel, (raw + offset) * scale, times cfg's factor plus cfg's offset, in cfg's unit. The
// kernel tells millivolts, milliamperes, thousandths of a degree Celsius and of a percent, and kilopascals.
func NewExtra(cfg config.Extra) (*Value, error) {
	where := "extra " + cfg.ID
	switch {
	case cfg.Kind != "iio":
		return nil, fmt.Errorf("%s: kind is %q, expected \"iio\": set it, or use the device of that kind", where, cfg.Kind)
	case cfg.Factor == 0:
		return nil, fmt.Errorf("%s: factor is 0, expected another number: every value would be the offset; leave factor out for 1", where)
	case cfg.IntervalS < 0.001:
		return nil, fmt.Errorf("%s: interval_s is %v, expected more than 0: set it to 1", where, cfg.IntervalS)
	}
	if err := checkChannel(where+": iio.channel", cfg.IIO.Channel); err != nil {
		return nil, err
	}
	return &Value{cfg: cfg, root: "/"}, nil
}

func checkChannel(key, channel string) error {
	if channel == "" || strings.ContainsAny(channel, "/ \n*?[") || strings.HasPrefix(channel, "in_") {
		return &rig.FileError{File: key, Byte: -1, Found: fmt.Sprintf("%q", channel), Want: "a channel such as voltage0", Do: "take the name from its files: in_voltage0_raw is voltage0"}
	}
	return nil
}

// Name says what it is and where.
func (v *Value) Name() string { return v.cfg.ID + " on " + called(v.cfg.IIO) }

func called(c config.IIO) string {
	if c.Device == "" {
		return "the converter's " + c.Channel
	}
	return c.Device + " " + c.Channel
}

// Streams returns the one stream it delivers.
func (v *Value) Streams() []rig.Stream {
	return []rig.Stream{{Channel: rig.Channel(v.cfg.ID), Form: rig.Value, Unit: rig.Unit(v.cfg.Unit)}}
}

// Run reads the channel until ctx ends or the converter is gone. A single reading that fails is told and
// not the end: slow sensors miss one now and then.
func (v *Value) Run(ctx context.Context, to acquire.Sink) error {
	c, err := v.find()
	if err != nil {
		return err
	}
	t := time.NewTicker(time.Duration(v.cfg.IntervalS * float64(time.Second)))
	defer t.Stop()
	for ctx.Err() == nil {
		x, err := readNumber(c.path)
		got := time.Now()
		switch {
		case err != nil && !exists(c.path):
			return explain(c.path, "", err)
		case err != nil:
			to.Reject(rig.Channel(v.cfg.ID), cause(err))
		default:
			to.Reading(rig.Channel(v.cfg.ID), got, (x+c.offset)*c.scale*v.cfg.Factor+v.cfg.Offset, rig.Unsaid)
		}
		select {
		case <-ctx.Done():
		case <-t.C:
		}
	}
	return nil
}

func cause(err error) string {
	if told := (*rig.FileError)(nil); errors.As(err, &told) {
		return told.Error()
	}
	return "the converter gave no value: " + err.Error()
}

// slow is where the values of a channel are read.
type slow struct {
	path          string
	offset, scale float64
}

func (v *Value) find() (slow, error) {
	u, err := find(v.root, "extra "+v.cfg.ID+": iio.device", v.cfg.IIO.Device)
	if err != nil {
		return slow{}, err
	}
	at := func(name, part string) string { return filepath.Join(u.Dir, "in_"+name+"_"+part) }
	c := slow{path: at(v.cfg.IIO.Channel, "raw"), scale: 1}
	if !exists(c.path) {
		// Some drivers tell the finished value only.
		if input := at(v.cfg.IIO.Channel, "input"); exists(input) {
			c.path = input
			return c, nil
		}
		return slow{}, noChannel("extra "+v.cfg.ID+": iio.channel", v.cfg.IIO.Channel, u, Channels(u))
	}
	for _, x := range []struct {
		part string
		to   *float64
	}{{"scale", &c.scale}, {"offset", &c.offset}} {
		for _, name := range shared(v.cfg.IIO.Channel) {
			p := at(name, x.part)
			if !exists(p) {
				continue
			}
			if *x.to, err = readNumber(p); err != nil {
				return slow{}, explain(p, "", err)
			}
			break
		}
	}
	return c, nil
}

// shared returns the names under which an attribute of a channel may stand: its own, and that of its kind,
// as in_voltage_scale is for in_voltage0_scale.
func shared(channel string) []string {
	noDigits := strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return -1
		}
		return r
	}, channel)
	kind, _, _ := strings.Cut(noDigits, "_")
	own, _, _ := strings.Cut(channel, "_")
	return []string{channel, own, noDigits, kind}
}

// noChannel is the error of a channel that is not there.
func noChannel(key, channel string, u Unit, there []string) error {
	want := "a channel of " + u.String()
	if len(there) > 0 {
		want += ": " + strings.Join(there, ", ")
	}
	return &rig.FileError{File: key, Byte: -1, Found: fmt.Sprintf("%q", channel), Want: want, Do: "set it to one that is there"}
}

// Channels lists the channels of a converter that can be read one value at a time.
func Channels(u Unit) []string {
	var out []string
	for _, part := range []string{"raw", "input"} {
		paths, _ := filepath.Glob(filepath.Join(u.Dir, "in_*_"+part)) // the pattern is sound
		for _, p := range paths {
			out = append(out, strings.TrimSuffix(strings.TrimPrefix(filepath.Base(p), "in_"), "_"+part))
		}
	}
	return out
}

// Scanned lists the channels that a converter can deliver through its buffer, without its time stamps.
func Scanned(u Unit) []string {
	paths, _ := filepath.Glob(filepath.Join(u.Dir, "scan_elements/in_*_en"))
	var out []string
	for _, p := range paths {
		if c := strings.TrimSuffix(strings.TrimPrefix(filepath.Base(p), "in_"), "_en"); c != "timestamp" {
			out = append(out, c)
		}
	}
	return out
}

// FormatOf returns the form of a channel's samples in the buffer.
func FormatOf(u Unit, channel string) (Format, error) {
	p := filepath.Join(u.Dir, "scan_elements", "in_"+channel+"_type")
	s, err := read(p)
	if err != nil {
		return Format{}, explain(p, "", err)
	}
	return ParseFormat(s)
}
