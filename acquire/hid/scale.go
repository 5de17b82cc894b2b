// Package hid reads USB scales that speak the HID weighing usages (USB-IF, usage page 0x8D), at their
// hidraw node. Masses are in grams, whatever unit the scale shows.
package hid

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"

	"quern/acquire"
	"quern/config"
	"quern/rig"
)

// Scale is a USB scale.
type Scale struct {
	node string // as configured; empty: the first
	root string // "/", but for tests
}

var _ acquire.Device = (*Scale)(nil)

// New returns the scale that cfg describes; its kind must be "hid".
func New(cfg config.ScaleDevice) (*Scale, error) {
	if cfg.Kind != "hid" {
		return nil, fmt.Errorf("scale.device.kind is %q, expected \"hid\": set it, or use the device of that kind", cfg.Kind)
	}
	return &Scale{node: cfg.Hidraw, root: "/"}, nil
}

// Name says what it is and where.
func (s *Scale) Name() string {
	if s.node == "" {
		return "first USB scale"
	}
	return "USB scale on " + s.node
}

// Streams returns the one stream it delivers: mass, in grams.
func (s *Scale) Streams() []rig.Stream {
	return []rig.Stream{{Channel: rig.Scale, Form: rig.Mass, Unit: rig.Gram}}
}

// longestReport is more than a report of a scale has, bytes; the kernel gives one report a read.
const longestReport = 4096

// Run reads the scale until ctx ends or the node fails.
func (s *Scale) Run(ctx context.Context, to acquire.Sink) error {
	node, layouts, err := s.find()
	if err != nil {
		return err
	}
	fd, err := os.OpenFile(node, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return s.explain(node, err)
	}
	defer fd.Close()
	defer acquire.Interrupt(ctx, fd.SetReadDeadline)()
	buf := make([]byte, longestReport)
	for {
		n, err := fd.Read(buf)
		got := time.Now()
		switch {
		case ctx.Err() != nil:
			return nil
		case err != nil:
			return s.explain(node, err)
		}
		take(layouts, got, buf[:n], to)
	}
}

// take hands on what came of one report.
func take(layouts []Layout, got time.Time, b []byte, to acquire.Sink) {
	for _, l := range layouts {
		w, err := l.Report(b)
		switch {
		case err != nil:
			to.Reject(rig.Scale, fmt.Sprintf("% x: %v", b[:min(len(b), 16)], err))
		case w.Other:
			continue
		case w.None != "":
			to.Alive(rig.Scale, w.None)
		default:
			to.Reading(rig.Scale, got, w.MassG, w.Stable)
		}
		return
	}
	to.Alive(rig.Scale, fmt.Sprintf("it sends reports without a weight (report %d)", b[0]))
}

// find returns the node to open and how its reports are laid out.
func (s *Scale) find() (node string, layouts []Layout, err error) {
	if s.node != "" {
		return s.known()
	}
	nodes, err := filepath.Glob(filepath.Join(s.root, "sys/class/hidraw/hidraw*"))
	if err != nil {
		return "", nil, err
	}
	slices.SortFunc(nodes, func(a, b string) int { return cmp.Compare(number(a), number(b)) })
	for _, dir := range nodes {
		d, err := os.ReadFile(filepath.Join(dir, "device/report_descriptor"))
		if err != nil || !Weighing(d) {
			continue
		}
		node := filepath.Join(s.root, "dev", filepath.Base(dir))
		layouts, err := layoutsOf(node, d)
		return node, layouts, err
	}
	return "", nil, &rig.FileError{File: s.Name(), Byte: -1, Found: fmt.Sprintf("no weighing device among %d hidraw nodes", len(nodes)),
		Want: "a USB scale (HID usage page 0x8D)", Do: "plug it in and switch it on; if it only speaks on a serial port, set scale.device.kind to serial"}
}

// known looks up the layout of the node that is named. Without a descriptor the usual layout holds.
func (s *Scale) known() (string, []Layout, error) {
	real, err := filepath.EvalSymlinks(s.node)
	if err != nil {
		return "", nil, s.explain(s.node, err)
	}
	d, err := os.ReadFile(filepath.Join(s.root, "sys/class/hidraw", filepath.Base(real), "device/report_descriptor"))
	if err != nil {
		return s.node, []Layout{Usual()}, nil
	}
	if !Weighing(d) {
		return "", nil, &rig.FileError{File: s.node, Byte: -1, Found: "a HID device that is no scale", Want: "one of usage page 0x8D (weighing devices)",
			Do: "leave scale.device.hidraw empty for the first scale, or name the node that quern devices shows"}
	}
	layouts, err := layoutsOf(s.node, d)
	return s.node, layouts, err
}

func layoutsOf(node string, descriptor []byte) ([]Layout, error) {
	l, err := Layouts(descriptor)
	if err != nil {
		return nil, &rig.FileError{File: node, Byte: -1, Found: "a report descriptor that cannot be used: " + err.Error(), Want: "a report with status, unit and weight",
			Do: "use another scale or its serial port: this one does not keep to the weighing usages", Err: err}
	}
	return l, nil
}

func number(node string) int {
	n, err := strconv.Atoi(strings.TrimPrefix(filepath.Base(node), "hidraw"))
	if err != nil {
		return 1 << 30
	}
	return n
}

// explain tells what went wrong at the node and what to do.
func (s *Scale) explain(node string, err error) error {
	e := &rig.FileError{File: node, Byte: -1, Found: err.Error(), Want: "a readable hidraw node", Do: "look at the plug and the cable", Err: err}
	switch {
	case errors.Is(err, fs.ErrPermission):
		e.Found, e.Do = "a node that may not be read", "quern devices prints the udev rule that allows it"
	case errors.Is(err, fs.ErrNotExist):
		e.Found, e.Do = "no such node", "plug the scale in and switch it on, or leave scale.device.hidraw empty for the first scale"
	case errors.Is(err, io.EOF), errors.Is(err, syscall.EIO), errors.Is(err, syscall.ENODEV):
		e.Found, e.Want = "a scale that has gone", "one that stays"
		e.Do = "look at the plug, the cable and its battery: many scales switch themselves off after some minutes, and have a key or setting against it"
	}
	return e
}
