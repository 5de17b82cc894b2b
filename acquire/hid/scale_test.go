package hid

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
)

// said is one call of the sink.
type said struct {
	kind   string
	value  float64
	stable rig.Mark
	got    time.Time
	why    string
}

type sink chan said

func (s sink) Samples(rig.Channel, time.Time, int64, []float64) { s <- said{kind: "samples"} }
func (s sink) Reading(c rig.Channel, got time.Time, v float64, m rig.Mark) {
	s <- said{kind: "reading " + string(c), value: v, stable: m, got: got}
}
func (s sink) Reject(c rig.Channel, why string) { s <- said{kind: "reject " + string(c), why: why} }
func (s sink) Xrun(rig.Channel)                 { s <- said{kind: "xrun"} }
func (s sink) Alive(c rig.Channel, why string)  { s <- said{kind: "alive " + string(c), why: why} }

// plug makes the node and its descriptor in a tree and returns the far end of the node.
func plug(t *testing.T, root, node, descriptor string) *os.File {
	t.Helper()
	dev, sys := filepath.Join(root, "dev"), filepath.Join(root, "sys/class/hidraw", node, "device")
	for _, dir := range []string{dev, sys} {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if descriptor != "" {
		if err := os.WriteFile(filepath.Join(sys, "report_descriptor"), hexBytes(t, descriptor), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	path := filepath.Join(dev, node)
	if err := syscall.Mkfifo(path, 0o600); err != nil {
		t.Fatal(err)
	}
	far, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { far.Close() })
	return far
}

// start runs the scale; stop ends it and returns what it returned.
func start(t *testing.T, s *Scale) (from sink, result <-chan error, cancel func()) {
	ctx, cancel := context.WithCancel(t.Context())
	t.Cleanup(cancel)
	from = make(sink, 100)
	end := make(chan error, 1)
	go func() { end <- s.Run(ctx, from) }()
	return from, end, cancel
}

func send(t *testing.T, far *os.File, report string) {
	t.Helper()
	if _, err := far.Write(hexBytes(t, report)); err != nil {
		t.Fatal(err)
	}
}

func TestScaleReads(t *testing.T) {
	root := t.TempDir()
	plug(t, root, "hidraw2", mouseDescriptor)
	plug(t, root, "hidraw11", usualDescriptor)
	// The first scale by number, not by spelling; a descriptor that differs from the usual.
	far := plug(t, root, "hidraw10", strings.Replace(usualDescriptor, "85 03", "85 09", 1))
	s, err := New(config.ScaleDevice{Kind: "hid"})
	if err != nil {
		t.Fatal(err)
	}
	s.root = root
	for range 2 { // it may be run again
		from, end, cancel := start(t, s)
		for _, tc := range []struct {
			report string
			want   said
		}{
			{"09 04 02 00 C4 09", said{kind: "reading scale", value: 2500, stable: rig.Yes}},
			{"09 03 02 00 C5 09", said{kind: "reading scale", value: 2501, stable: rig.No}},
			{"09 05 02 00 0A 00", said{kind: "reading scale", value: -10}},
			{"09 06 02 00 0A 00", said{kind: "alive scale", why: "limit"}},
			{"09 04 02", said{kind: "reject scale", why: "09 04 02: a report of 2 bytes, expected 5"}},
			{"03 04 02 00 C4 09", said{kind: "alive scale", why: "reports without a weight (report 3)"}},
			{"09 04 0C FE E5 04", said{kind: "reading scale", value: 12.53 * 453.59237, stable: rig.Yes}},
		} {
			before := time.Now()
			send(t, far, tc.report)
			got := <-from
			if got.kind != tc.want.kind || got.value-tc.want.value > 1e-9 || tc.want.value-got.value > 1e-9 || got.stable != tc.want.stable || !strings.Contains(got.why, tc.want.why) {
				t.Errorf("%s: %+v, expected %+v", tc.report, got, tc.want)
			}
			if strings.HasPrefix(got.kind, "reading") && (got.got.Before(before) || got.got.After(time.Now())) {
				t.Errorf("%s: stamped %v, sent %v", tc.report, got.got, before)
			}
		}
		cancel()
		if err := <-end; err != nil {
			t.Errorf("after its end: %v", err)
		}
	}
}

func TestScaleByName(t *testing.T) {
	root := t.TempDir()
	far := plug(t, root, "hidraw3", strings.Replace(usualDescriptor, "85 03", "85 09", 1))
	plain := plug(t, root, "hidraw4", "")
	plug(t, root, "hidraw5", mouseDescriptor)
	plug(t, root, "hidraw6", "05 8D 09 20 A1 01 C0")
	link := filepath.Join(root, "dev/scale")
	if err := os.Symlink("hidraw3", link); err != nil {
		t.Fatal(err)
	}
	dev := func(node string) *Scale {
		return &Scale{node: filepath.Join(root, "dev", node), root: root}
	}
	from, end, cancel := start(t, dev("scale"))
	send(t, far, "09 04 02 00 C4 09")
	if got := <-from; got.value != 2500 {
		t.Errorf("by a link: %+v", got)
	}
	cancel()
	<-end
	from, end, cancel = start(t, dev("hidraw4"))
	send(t, plain, "03 04 02 00 C4 09")
	if got := <-from; got.value != 2500 {
		t.Errorf("without a descriptor: %+v", got)
	}
	cancel()
	<-end
	for node, want := range map[string]string{
		"hidraw5": "found a HID device that is no scale, expected one of usage page 0x8D (weighing devices): leave",
		"hidraw6": "no report with status, unit and weight",
		"hidraw7": "found no such node, expected a readable hidraw node: plug",
	} {
		if err := dev(node).Run(t.Context(), make(sink, 1)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, expected %s", node, err, want)
		}
	}
	empty := &Scale{root: t.TempDir()}
	if err := empty.Run(t.Context(), make(sink, 1)); err == nil || !strings.Contains(err.Error(), "no weighing device among 0 hidraw nodes") {
		t.Errorf("no node at all: %v", err)
	}
}

func TestScaleGone(t *testing.T) {
	root := t.TempDir()
	far := plug(t, root, "hidraw0", usualDescriptor)
	s := &Scale{root: root}
	from, end, _ := start(t, s)
	send(t, far, "03 04 02 00 C4 09")
	<-from
	far.Close()
	if err := <-end; err == nil || !strings.Contains(err.Error(), "found a scale that has gone") {
		t.Errorf("got %v", err)
	}
}

func TestScaleLeavesNothing(t *testing.T) {
	root := t.TempDir()
	plug(t, root, "hidraw0", usualDescriptor)
	s := &Scale{root: root}
	descriptors := func() int {
		d, err := os.ReadDir("/proc/self/fd")
		if err != nil {
			t.Skip(err)
		}
		return len(d)
	}
	files, routines := descriptors(), runtime.NumGoroutine()
	for range 50 {
		ctx, cancel := context.WithCancel(t.Context())
		end := make(chan error)
		go func() { end <- s.Run(ctx, make(sink, 1)) }()
		cancel() // before, while or after it is opened
		if err := <-end; err != nil {
			t.Fatal(err)
		}
	}
	if n := descriptors(); n > files+1 {
		t.Errorf("%d descriptors, %d before", n, files)
	}
	// The last goroutine above has sent its result but may not have ended.
	for late := time.Now().Add(5 * time.Second); runtime.NumGoroutine() > routines && time.Now().Before(late); {
		runtime.Gosched()
	}
	if n := runtime.NumGoroutine(); n > routines {
		t.Errorf("%d goroutines, %d before", n, routines)
	}
}

func TestNew(t *testing.T) {
	if _, err := New(config.ScaleDevice{Kind: "serial"}); err == nil || !strings.Contains(err.Error(), `scale.device.kind is "serial", expected "hid"`) {
		t.Errorf("got %v", err)
	}
	s, err := New(config.ScaleDevice{Kind: "hid", Hidraw: "/dev/hidraw7"})
	if err != nil {
		t.Fatal(err)
	}
	if s.Name() != "USB scale on /dev/hidraw7" || len(s.Streams()) != 1 || s.Streams()[0] != (rig.Stream{Channel: rig.Scale, Form: rig.Mass, Unit: rig.Gram}) {
		t.Errorf("%s delivers %v", s.Name(), s.Streams())
	}
}
