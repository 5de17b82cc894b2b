package iio

import (
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"quern/acquire"
	"quern/config"
	"quern/rig"
)

// said is one call of the sink.
type said struct {
	kind    string
	samples []float64
	value   float64
	got     time.Time
	why     string
}

type sink chan said

func (s sink) Samples(c rig.Channel, got time.Time, lost int64, x []float64) {
	s <- said{kind: fmt.Sprintf("samples %s %d", c, lost), samples: append([]float64(nil), x...), got: got}
}
func (s sink) Reading(c rig.Channel, got time.Time, v float64, m rig.Mark) {
	s <- said{kind: fmt.Sprintf("reading %s %d", c, m), value: v, got: got}
}
func (s sink) Reject(c rig.Channel, why string) { s <- said{kind: "reject " + string(c), why: why} }
func (s sink) Xrun(rig.Channel)                 { s <- said{kind: "xrun"} }
func (s sink) Alive(c rig.Channel, why string)  { s <- said{kind: "alive " + string(c), why: why} }

// put makes files of a tree.
func put(t testing.TB, root string, files map[string]string) {
	t.Helper()
	for name, text := range files {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

const dev0 = "sys/bus/iio/devices/iio:device0/"

// plug makes a converter of two channels and time stamps, and returns the far end of its node.
func plug(t testing.TB, root string) *os.File {
	t.Helper()
	put(t, root, map[string]string{
		dev0 + "name":                               "adc-a\n",
		dev0 + "sampling_frequency":                 "1000\n",
		dev0 + "in_voltage0_raw":                    "1\n",
		dev0 + "scan_elements/in_voltage0_en":       "0\n",
		dev0 + "scan_elements/in_voltage0_type":     "le:u12/16>>0\n",
		dev0 + "scan_elements/in_voltage0_index":    "0\n",
		dev0 + "scan_elements/in_voltage1_en":       "1\n", // left on by another program
		dev0 + "scan_elements/in_voltage1_type":     "be:s12/16>>4\n",
		dev0 + "scan_elements/in_voltage1_index":    "1\n",
		dev0 + "scan_elements/in_timestamp_en":      "1\n",
		dev0 + "scan_elements/in_timestamp_type":    "le:s64/64>>0\n",
		dev0 + "scan_elements/in_timestamp_index":   "2\n",
		dev0 + "buffer/enable":                      "1\n",
		dev0 + "buffer/length":                      "2\n",
		dev0 + "buffer/watermark":                   "1\n",
		dev0 + "trigger/current_trigger":            "\n",
		"sys/bus/iio/devices/trigger0/name":         "timer-a\n",
		"sys/bus/iio/devices/iio_sysfs_trigger/nil": "",
	})
	path := filepath.Join(root, "dev/iio:device0")
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
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

func clamp() config.ClampDevice {
	return config.ClampDevice{Kind: "iio", Form: "waveform", RateHz: 8000,
		IIO: config.IIO{Channel: "voltage0", Buffer: 64, CountsFull: 2048, ZeroCounts: 2048}}
}

func converter(t testing.TB, root string, cfg config.ClampDevice) *Converter {
	t.Helper()
	c, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	c.root = root
	return c
}

func start(t testing.TB, d acquire.Device) (from sink, result <-chan error, cancel func()) {
	ctx, cancel := context.WithCancel(t.Context())
	t.Cleanup(cancel)
	from = make(sink, 100)
	end := make(chan error, 1)
	go func() { end <- d.Run(ctx, from) }()
	return from, end, cancel
}

// holds checks attributes of the tree.
func holds(t testing.TB, root string, want map[string]string) {
	t.Helper()
	for name, text := range want {
		if got, err := read(filepath.Join(root, dev0, name)); err != nil || got != text {
			t.Errorf("%s holds %q, %v, expected %q", name, got, err, text)
		}
	}
}

func TestConverterDelivers(t *testing.T) {
	root := t.TempDir()
	far := plug(t, root)
	cfg := clamp()
	cfg.IIO.Trigger = "timer-a"
	c := converter(t, root, cfg)
	if st := c.Streams(); len(st) != 1 || st[0] != (rig.Stream{Channel: rig.Clamp, Form: rig.Waveform, Unit: rig.FullScale, RateHz: 8000}) {
		t.Errorf("it delivers %v", st)
	}
	for range 2 { // it may be run again
		from, end, cancel := start(t, c)
		var b []byte
		for _, v := range []uint16{2048, 4095, 0, 1024, 0xF800} { // the four high bits of the last do not count
			b = binary.LittleEndian.AppendUint16(b, v)
		}
		before := time.Now()
		if _, err := far.Write(b[:5]); err != nil { // cut within a sample
			t.Fatal(err)
		}
		got := <-from
		holds(t, root, map[string]string{"buffer/enable": "1", "buffer/length": "256", "buffer/watermark": "64",
			"scan_elements/in_voltage0_en": "1", "scan_elements/in_voltage1_en": "0", "scan_elements/in_timestamp_en": "0",
			"sampling_frequency": "8000", "trigger/current_trigger": "timer-a"})
		if got.got.Before(before) || got.got.After(time.Now()) {
			t.Errorf("stamped %v, sent %v", got.got, before)
		}
		if _, err := far.Write(b[5:]); err != nil {
			t.Fatal(err)
		}
		got.samples = append(got.samples, (<-from).samples...)
		if want := []float64{0, 2047.0 / 2048, -1, -0.5, 0}; got.kind != "samples clamp 0" || fmt.Sprint(got.samples) != fmt.Sprint(want) {
			t.Errorf("%+v, expected %v", got, want)
		}
		cancel()
		if err := <-end; err != nil {
			t.Errorf("after its end: %v", err)
		}
		holds(t, root, map[string]string{"buffer/enable": "0", "scan_elements/in_voltage0_en": "0"})
	}
}

// fixedRate is a file of the kernel that always holds 65536 and that nobody may write: a rate that is fixed.
const fixedRate = "/proc/sys/kernel/ngroups_max"

func TestConverterRate(t *testing.T) {
	if s, err := read(fixedRate); err != nil || s != "65536" {
		t.Skipf("%s holds %q, %v", fixedRate, s, err)
	}
	for _, tc := range []struct {
		file   string // of the rate; "" for none
		rate   float64
		fails  string
		thinks string
	}{
		{dev0 + "sampling_frequency", 65536, "", ""},
		{dev0 + "sampling_frequency", 65500, "", "the converter gives 65536 samples a second, clamp.device.rate_hz is 65500"},
		{dev0 + "sampling_frequency", 8000, "found 65536 samples a second, expected 8000, which is clamp.device.rate_hz: set clamp.device.rate_hz to it", ""},
		{dev0 + "in_voltage_sampling_frequency", 8000, "found 65536 samples a second", ""},
		{"sys/bus/iio/devices/trigger0/sampling_frequency", 8000, "found 65536 samples a second", ""},
		{"", 8000, "", "the converter does not tell its rate: clamp.device.rate_hz = 8000 is believed"},
	} {
		root := t.TempDir()
		far := plug(t, root)
		os.Remove(filepath.Join(root, dev0, "sampling_frequency"))
		if tc.file != "" {
			if err := os.Symlink(fixedRate, filepath.Join(root, tc.file)); err != nil {
				t.Fatal(err)
			}
		}
		cfg := clamp()
		cfg.RateHz, cfg.IIO.Trigger = tc.rate, "timer-a"
		from, end, cancel := start(t, converter(t, root, cfg))
		if tc.fails != "" {
			if err := <-end; err == nil || !strings.Contains(err.Error(), tc.fails) {
				t.Errorf("%s, %v: %v, expected %s", tc.file, tc.rate, err, tc.fails)
			}
			holds(t, root, map[string]string{"buffer/enable": "0", "scan_elements/in_voltage0_en": "0"})
			continue
		}
		if _, err := far.Write(make([]byte, 4)); err != nil {
			t.Fatal(err)
		}
		if got := <-from; len(got.samples) != 2 {
			t.Errorf("%s, %v: %+v", tc.file, tc.rate, got)
		}
		if tc.thinks != "" {
			if got := <-from; got.kind != "alive clamp" || got.why != tc.thinks {
				t.Errorf("%s, %v: %+v, expected %s", tc.file, tc.rate, got, tc.thinks)
			}
		}
		cancel()
		if err := <-end; err != nil || len(from) != 0 {
			t.Errorf("%s, %v: %v, %d more", tc.file, tc.rate, err, len(from))
		}
	}
}

func TestConverterRefuses(t *testing.T) {
	for _, tc := range []struct {
		name   string
		change func(root string, cfg *config.ClampDevice)
		want   string
	}{
		{"no device", func(root string, _ *config.ClampDevice) { os.RemoveAll(filepath.Join(root, "sys")) }, "found no converter under /sys/bus/iio/devices"},
		{"another name", func(_ string, cfg *config.ClampDevice) { cfg.IIO.Device = "adc-b" }, `found "adc-b", expected one of "adc-a" (iio:device0): set it`},
		{"two of them", func(root string, _ *config.ClampDevice) {
			put(t, root, map[string]string{"sys/bus/iio/devices/iio:device1/name": "adc-a", "sys/bus/iio/devices/iio:device1/label": "other"})
		}, `found no name, but 2 converters, expected one of "adc-a" (iio:device0), "adc-a" (iio:device1, label "other")`},
		{"two of one name", func(root string, cfg *config.ClampDevice) {
			put(t, root, map[string]string{"sys/bus/iio/devices/iio:device1/name": "adc-a"})
			cfg.IIO.Device = "adc-a"
		}, `found "adc-a", which is 2 converters`},
		{"no node", func(root string, _ *config.ClampDevice) { os.Remove(filepath.Join(root, "dev/iio:device0")) }, "dev/iio:device0: found no such file"},
		{"another channel", func(_ string, cfg *config.ClampDevice) { cfg.IIO.Channel = "voltage7" }, `clamp.device.iio.channel: found "voltage7", expected a channel of "adc-a" (iio:device0): voltage0, voltage1`},
		{"no buffer", func(root string, _ *config.ClampDevice) { os.RemoveAll(filepath.Join(root, dev0, "scan_elements")) }, "without a buffer"},
		{"a float type", func(root string, _ *config.ClampDevice) {
			put(t, root, map[string]string{dev0 + "scan_elements/in_voltage0_type": "le:f32/32>>0"})
		}, `sample type "le:f32/32>>0"`},
		{"no index", func(root string, _ *config.ClampDevice) {
			put(t, root, map[string]string{dev0 + "scan_elements/in_voltage0_index": "first"})
		}, `found "first", expected a number`},
		{"zero outside", func(_ string, cfg *config.ClampDevice) { cfg.IIO.ZeroCounts = 32768 }, "clamp.device.iio.zero_counts: found 32768, expected 0 to 4095"},
		{"no trigger", func(_ string, cfg *config.ClampDevice) { cfg.IIO.Trigger = "timer-b" }, `clamp.device.iio.trigger: found "timer-b", expected one that is there, such as "timer-a"`},
	} {
		root := t.TempDir()
		plug(t, root)
		cfg := clamp()
		tc.change(root, &cfg)
		err := converter(t, root, cfg).Run(t.Context(), make(sink, 1))
		if err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v, expected %s", tc.name, err, tc.want)
		}
		if s, err := read(filepath.Join(root, dev0, "buffer/enable")); err == nil && s == "1" && !strings.Contains("no node, another name, two of them, two of one name, another channel, no buffer", tc.name) {
			t.Errorf("%s: the buffer was left on", tc.name)
		}
	}
	for want, change := range map[string]func(cfg *config.ClampDevice){
		`clamp.device.kind is "board"`:                  func(cfg *config.ClampDevice) { cfg.Kind = "board" },
		`clamp.device.form is "rms"`:                    func(cfg *config.ClampDevice) { cfg.Form = "rms" },
		"clamp.device.rate_hz is 0":                     func(cfg *config.ClampDevice) { cfg.RateHz = 0 },
		"clamp.device.iio.full_scale_counts is NaN":     func(cfg *config.ClampDevice) { cfg.IIO.CountsFull = math.NaN() },
		"clamp.device.iio.buffer_samples is 0":          func(cfg *config.ClampDevice) { cfg.IIO.Buffer = 0 },
		`clamp.device.iio.channel: found "../voltage0"`: func(cfg *config.ClampDevice) { cfg.IIO.Channel = "../voltage0" },
	} {
		cfg := clamp()
		change(&cfg)
		if c, err := New(cfg); err == nil || !strings.Contains(err.Error(), want) || c != nil {
			t.Errorf("%v, expected %s", err, want)
		}
	}
}

func TestFindByLabel(t *testing.T) {
	root := t.TempDir()
	put(t, root, map[string]string{
		"sys/bus/iio/devices/iio:device10/name": "adc-a",
		"sys/bus/iio/devices/iio:device2/name":  "adc-a",
		"sys/bus/iio/devices/iio:device2/label": "clamp",
		"sys/bus/iio/devices/iio:device3/name":  "clamp",
	})
	for called, want := range map[string]string{"clamp": "iio:device2", "iio:device10": "iio:device10"} {
		if u, err := find(root, "key", called); err != nil || u.ID != want {
			t.Errorf("%s: %+v, %v, expected %s", called, u, err, want)
		}
	}
	if u := Units(root); len(u) != 3 || u[2].ID != "iio:device10" {
		t.Errorf("listed as %v", u)
	}
}

func TestConverterGone(t *testing.T) {
	root := t.TempDir()
	far := plug(t, root)
	from, end, _ := start(t, converter(t, root, clamp()))
	if _, err := far.Write(make([]byte, 2)); err != nil {
		t.Fatal(err)
	}
	<-from
	far.Close()
	if err := <-end; err == nil || !strings.Contains(err.Error(), "found a converter that has gone") {
		t.Errorf("got %v", err)
	}
}

func TestConverterLeavesNothing(t *testing.T) {
	root := t.TempDir()
	plug(t, root)
	c := converter(t, root, clamp())
	files := func() int {
		d, err := os.ReadDir("/proc/self/fd")
		if err != nil {
			t.Skip(err)
		}
		return len(d)
	}
	open, routines := files(), runtime.NumGoroutine()
	for range 50 {
		ctx, cancel := context.WithCancel(t.Context())
		end := make(chan error)
		go func() { end <- c.Run(ctx, make(sink, 1)) }()
		cancel() // before, while or after it is opened
		if err := <-end; err != nil {
			t.Fatal(err)
		}
	}
	if n := files(); n > open+1 {
		t.Errorf("%d descriptors, %d before", n, open)
	}
	// The last goroutine above has sent its result but may not have ended.
	for late := time.Now().Add(5 * time.Second); runtime.NumGoroutine() > routines && time.Now().Before(late); {
		runtime.Gosched()
	}
	if n := runtime.NumGoroutine(); n > routines {
		t.Errorf("%d goroutines, %d before", n, routines)
	}
}
