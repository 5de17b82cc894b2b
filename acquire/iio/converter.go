// Package iio reads converters and sensors that the Linux kernel knows under /sys/bus/iio: a current clamp
// through the kernel's buffer, and slow channels one value at a time.
package iio

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"syscall"
	"time"

	"quern/acquire"
	"quern/config"
	"quern/rig"
)

// Converter is a converter that delivers the clamp's samples through the kernel's buffer.
type Converter struct {
	cfg  config.ClampDevice
	root string // "/", but for tests
}

var _ acquire.Device = (*Converter)(nil)

// New returns the converter that cfg describes; its kind must be "iio". Samples are fractions of digital
// full scale: (counts - zero_counts) / full_scale_counts.
func New(cfg config.ClampDevice) (*Converter, error) {
	switch {
	case cfg.Kind != "iio":
		return nil, fmt.Errorf("clamp.device.kind is %q, expected \"iio\": set it, or use the device of that kind", cfg.Kind)
	case cfg.Form != "waveform":
		return nil, fmt.Errorf("clamp.device.form is %q, expected \"waveform\": a converter of the kernel gives instantaneous samples", cfg.Form)
	case !(cfg.RateHz > 0):
		return nil, fmt.Errorf("clamp.device.rate_hz is %v, expected more than 0: set it to what the converter does", cfg.RateHz)
	case !(cfg.IIO.CountsFull > 0):
		return nil, fmt.Errorf("clamp.device.iio.full_scale_counts is %v, expected more than 0: 2048 for a 12-bit converter", cfg.IIO.CountsFull)
	case cfg.IIO.Buffer < 1:
		return nil, fmt.Errorf("clamp.device.iio.buffer_samples is %d, expected 1 or more: 256 is usual", cfg.IIO.Buffer)
	}
	if err := checkChannel("clamp.device.iio.channel", cfg.IIO.Channel); err != nil {
		return nil, err
	}
	return &Converter{cfg: cfg, root: "/"}, nil
}

// Name says what it is and where.
func (c *Converter) Name() string { return "clamp on " + called(c.cfg.IIO) }

// Streams returns the one stream it delivers: the clamp's waveform, in fractions of full scale.
func (c *Converter) Streams() []rig.Stream {
	return []rig.Stream{{Channel: rig.Clamp, Form: rig.Waveform, Unit: rig.FullScale, RateHz: c.cfg.RateHz}}
}

// deliveries is how many of them the kernel's buffer holds, so that a late reader loses nothing.
const deliveries = 4

// Run sets the converter up and delivers until ctx ends or it fails; it is switched off at the end.
func (c *Converter) Run(ctx context.Context, to acquire.Sink) (err error) {
	u, err := find(c.root, "clamp.device.iio.device", c.cfg.IIO.Device)
	if err != nil {
		return err
	}
	node := filepath.Join(c.root, "dev", u.ID)
	// The kernel lets one program open the node: nobody's settings are changed below.
	fd, err := os.OpenFile(node, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return explain(node, "", err)
	}
	defer fd.Close()
	s, off, err := c.setUp(u)
	defer off()
	if err != nil {
		return err
	}
	note, err := c.setRate(u)
	if err != nil {
		return err
	}
	if err := c.enable(u); err != nil {
		return err
	}
	defer acquire.Interrupt(ctx, fd.SetReadDeadline)()
	buf := make([]byte, c.cfg.IIO.Buffer*s.bytes)
	var samples []float64
	for {
		n, err := fd.Read(buf)
		got := time.Now()
		switch {
		case ctx.Err() != nil:
			return nil
		case errors.Is(err, io.EOF):
			return explain(node, "", syscall.ENODEV)
		case err != nil:
			return explain(node, "", err)
		}
		samples = s.Unpack(samples[:0], buf[:n])
		for i, v := range samples {
			samples[i] = (v - c.cfg.IIO.ZeroCounts) / c.cfg.IIO.CountsFull
		}
		if len(samples) == 0 {
			continue
		}
		to.Samples(rig.Clamp, got, 0, samples)
		if note != "" {
			to.Alive(rig.Clamp, note)
			note = ""
		}
	}
}

// setUp enables the one channel, and returns how scans look and what switches the converter off again.
func (c *Converter) setUp(u Unit) (s *Scan, off func(), err error) {
	name := c.cfg.IIO.Channel
	at := func(channel, part string) string {
		return filepath.Join(u.Dir, "scan_elements", "in_"+channel+"_"+part)
	}
	enable := filepath.Join(u.Dir, "buffer/enable")
	off = func() {}
	if !exists(at(name, "en")) {
		there := Scanned(u)
		if len(there) == 0 {
			return nil, off, &rig.FileError{File: u.Dir, Byte: -1, Found: u.String() + " without a buffer", Want: "one that delivers samples by itself",
				Do: "its driver cannot: use another converter for the clamp; this one can serve slow [[extra]] channels"}
		}
		return nil, off, noChannel("clamp.device.iio.channel", name, u, there)
	}
	if err := write(enable, "0"); err != nil { // left on by a program that was killed
		return nil, off, err
	}
	off = func() { // best done, but a converter that has gone cannot be switched off
		_ = write(enable, "0")
		_ = write(at(name, "en"), "0")
	}
	var enabled []element
	for _, channel := range append(Scanned(u), "timestamp") {
		want, path := "0", at(channel, "en")
		if channel == name {
			want = "1"
		}
		is, err := read(path)
		if err != nil && channel == "timestamp" {
			continue
		}
		if is != want {
			if err := write(path, want); err != nil {
				return nil, off, err
			}
			is, _ = read(path)
		}
		if is == "0" || is == "" {
			continue
		}
		e := element{channel: channel}
		if e.format, err = FormatOf(u, channel); err != nil {
			return nil, off, err
		}
		index, err := readNumber(at(channel, "index"))
		if err != nil {
			return nil, off, explain(at(channel, "index"), "", err)
		}
		e.index = int(index)
		enabled = append(enabled, e)
	}
	if s, err = newScan(name, enabled); err != nil {
		return nil, off, &rig.FileError{File: at(name, "en"), Byte: -1, Found: err.Error(), Want: "1", Do: "look at what the kernel says of the driver (dmesg)", Err: err}
	}
	if least, most := s.format.Range(); c.cfg.IIO.ZeroCounts < least || c.cfg.IIO.ZeroCounts > most {
		return nil, off, &rig.FileError{File: "clamp.device.iio.zero_counts", Byte: -1, Found: fmt.Sprint(c.cfg.IIO.ZeroCounts),
			Want: fmt.Sprintf("%.0f to %.0f, the counts of %s (%v)", least, most, name, s.format), Do: "set it to what the converter tells without current"}
	}
	return s, off, nil
}

// rateTolerance is the difference between the rate that is configured and the one that the converter
// tells from which samples would be placed wrongly: placing them in time corrects 2 ms a second at most.
const rateTolerance = 0.001

// setRate sets and checks the rate. note tells what is odd about it but no error.
func (c *Converter) setRate(u Unit) (note string, err error) {
	dir, names := u.Dir, []string{"sampling_frequency"}
	for _, name := range shared(c.cfg.IIO.Channel) {
		names = append(names, "in_"+name+"_sampling_frequency")
	}
	var paths []string
	if t := c.trigger(); t != "" { // a trigger that has a rate decides it
		paths = append(paths, filepath.Join(t, "sampling_frequency"))
	}
	for _, name := range names {
		paths = append(paths, filepath.Join(dir, name))
	}
	for _, path := range paths {
		if !exists(path) {
			continue
		}
		refused := write(path, strconv.FormatFloat(c.cfg.RateHz, 'f', -1, 64)) // the rate may be fixed
		is, err := readNumber(path)
		if err != nil {
			return "", explain(path, "", err)
		}
		switch differs := math.Abs(is-c.cfg.RateHz) / c.cfg.RateHz; {
		case differs > rateTolerance:
			do := "set clamp.device.rate_hz to it"
			if errors.Is(refused, fs.ErrPermission) {
				do += ", or allow the rate to be set: quern devices prints the udev rule"
			}
			if s, err := read(path + "_available"); err == nil && s != "" {
				do += ", or to another that is offered: " + s
			}
			return "", &rig.FileError{File: path, Byte: -1, Found: fmt.Sprintf("%v samples a second", is), Want: fmt.Sprintf("%v, which is clamp.device.rate_hz", c.cfg.RateHz), Do: do, Err: refused}
		case differs > 0:
			return fmt.Sprintf("the converter gives %v samples a second, clamp.device.rate_hz is %v", is, c.cfg.RateHz), nil
		}
		return "", nil
	}
	return fmt.Sprintf("the converter does not tell its rate: clamp.device.rate_hz = %v is believed", c.cfg.RateHz), nil
}

// trigger returns the folder of the trigger that is configured, or "".
func (c *Converter) trigger() string {
	for name, dir := range triggers(c.root) {
		if name == c.cfg.IIO.Trigger {
			return dir
		}
	}
	return ""
}

// triggers returns the folders of the triggers by name.
func triggers(root string) map[string]string {
	out := map[string]string{}
	dirs, _ := filepath.Glob(filepath.Join(root, "sys/bus/iio/devices/trigger*")) // the pattern is sound
	for _, dir := range dirs {
		if name, err := read(filepath.Join(dir, "name")); err == nil && name != "" {
			out[name] = dir
		}
	}
	return out
}

// enable sets trigger and buffer and switches the converter on.
func (c *Converter) enable(u Unit) error {
	trigger := filepath.Join(u.Dir, "trigger/current_trigger")
	if c.cfg.IIO.Trigger != "" {
		if c.trigger() == "" {
			return noTrigger(c.root, fmt.Sprintf("%q", c.cfg.IIO.Trigger))
		}
		if err := write(trigger, c.cfg.IIO.Trigger); err != nil {
			return err
		}
	}
	if err := write(filepath.Join(u.Dir, "buffer/length"), strconv.Itoa(deliveries*c.cfg.IIO.Buffer)); err != nil {
		return err
	}
	// Without the watermark the kernel wakes the reader for every sample, which old ones do in any case.
	if watermark := filepath.Join(u.Dir, "buffer/watermark"); exists(watermark) {
		if err := write(watermark, strconv.Itoa(c.cfg.IIO.Buffer)); err != nil && !errors.Is(err, syscall.EINVAL) {
			return err
		}
	}
	err := write(filepath.Join(u.Dir, "buffer/enable"), "1")
	if is, e := read(trigger); err != nil && e == nil && is == "" {
		return noTrigger(c.root, "no trigger, and a converter that does not run without ("+err.Error()+")")
	}
	return err
}

func noTrigger(root, found string) error {
	want := "one that is there"
	if names := slices.Sorted(maps.Keys(triggers(root))); len(names) > 0 {
		want += fmt.Sprintf(", such as %q", names[0])
	}
	return &rig.FileError{File: "clamp.device.iio.trigger", Byte: -1, Found: found, Want: want,
		Do: "make a timer trigger: mkdir /sys/kernel/config/iio/triggers/hrtimer/NAME (module iio-trig-hrtimer)"}
}
