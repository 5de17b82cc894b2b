package board

import (
	"context"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"quern/acquire/pty"
	"quern/config"
	"quern/rig"
)

// taken is a sink. After is called with everything that comes.
type taken struct {
	samples, readings []float64
	lost              []int64
	got               []time.Time // of each call
	xruns, rejects    int
	after             func()
}

func (k *taken) Samples(_ rig.Channel, got time.Time, lost int64, samples []float64) {
	k.samples, k.lost, k.got = append(k.samples, samples...), append(k.lost, lost), append(k.got, got)
	k.call()
}
func (k *taken) Reading(_ rig.Channel, got time.Time, v float64, _ rig.Mark) {
	k.readings, k.got = append(k.readings, v), append(k.got, got)
	k.call()
}
func (k *taken) Reject(rig.Channel, string) { k.rejects++; k.call() }
func (k *taken) Xrun(rig.Channel)           { k.xruns++ }
func (k *taken) Alive(rig.Channel, string)  {}
func (k *taken) call() {
	if k.after != nil {
		k.after()
	}
}

// A loss is believed as far as samples are missing: a board that was reset sets its counter back.
func TestLossesBelieved(t *testing.T) {
	const rate = 1000.0
	type step struct {
		afterS float64
		lost   int64
		n      int
	}
	for name, c := range map[string]struct {
		steps []step
		lost  []int64
		xruns int
	}{
		"none":                 {[]step{{0, 0, 100}, {0.1, 0, 100}, {0.1, 0, 100}}, []int64{0, 0, 0}, 0},
		"short":                {[]step{{0, 0, 100}, {0.1, 300, 100}}, []int64{0, 300}, 0},
		"as long as the pause": {[]step{{0, 0, 100}, {10, 9900, 100}, {0.1, 0, 100}}, []int64{0, 9900, 0}, 0},
		// The program stood still for 10 s: what the port kept of them comes at once, then what came after.
		"after the backlog": {[]step{{0, 0, 100}, {10, 0, 4000}, {0.001, 5900, 100}}, []int64{0, 0, 5900}, 0},
		"reset":             {[]step{{0, 0, 100}, {0.1, 25000, 100}, {0.1, 0, 100}}, []int64{0, 0, 0}, 1},
		"reset, later":      {[]step{{0, 0, 100}, {100, 99900, 100}, {0.1, 25000, 100}}, []int64{0, 99900, 0}, 1},
		"nobody knows":      {[]step{{0, 0, 100}, {0.1, unknown, 100}}, []int64{0, 0}, 1},
	} {
		t.Run(name, func(t *testing.T) {
			k := &taken{}
			g := &giver{to: k, form: rig.Waveform, rateHz: rate}
			now := at
			for _, s := range c.steps {
				now = now.Add(time.Duration(s.afterS * float64(time.Second)))
				g.Frame(now, s.lost, make([]float64, s.n))
				g.flush()
			}
			if !slices.Equal(k.lost, c.lost) || k.xruns != c.xruns {
				t.Errorf("lost %v and %d unknown, want %v and %d", k.lost, k.xruns, c.lost, c.xruns)
			}
		})
	}
}

// A board that is 1 % slow for hours makes no reset believable.
func TestSlowBoard(t *testing.T) {
	k := &taken{}
	g := &giver{to: k, form: rig.Waveform, rateHz: 1000}
	for i := range 20000 {
		g.Frame(at.Add(time.Duration(i)*101*time.Millisecond), 0, make([]float64, 100))
	}
	g.Frame(at.Add(20000*101*time.Millisecond), 25000, make([]float64, 100))
	g.flush()
	if k.xruns != 1 || slices.Max(k.lost) != 0 {
		t.Errorf("%d unknown losses, %d samples believed lost, want 1, 0", k.xruns, slices.Max(k.lost))
	}
}

func TestReadingsOfOneFrame(t *testing.T) {
	k := &taken{}
	g := &giver{to: k, form: rig.RMS, rateHz: 10}
	g.Frame(at, 0, []float64{1, 2, 3})
	g.Frame(at.Add(time.Second), 5, []float64{4})
	want := []time.Time{at.Add(-200 * time.Millisecond), at.Add(-100 * time.Millisecond), at, at.Add(time.Second)}
	if !slices.Equal(k.readings, []float64{1, 2, 3, 4}) || !slices.EqualFunc(k.got, want, time.Time.Equal) || k.xruns != 1 {
		t.Errorf("got %v at %v, %d losses", k.readings, k.got, k.xruns)
	}
}

// device returns a board on a pseudo-terminal and the far end of the line.
func device(t *testing.T, cfg config.Board, form rig.Form) (*Board, *os.File) {
	t.Helper()
	far, name := pty.Open(t)
	b, err := New(config.ClampDevice{Kind: "board", Form: string(form), RateHz: 8000, Board: cfg,
		Port: config.Port{Device: name, Baud: 115200, DataBits: 8, Parity: "none", StopBits: 1, Flow: "none"}}, 50)
	if err != nil {
		t.Fatal(err)
	}
	return b, far
}

// opened lets a test know when the port is open: what comes before is thrown away.
func opened(b *Board) <-chan struct{} {
	open, is := b.open, make(chan struct{})
	b.open = func() (port, error) {
		p, err := open()
		close(is)
		return p, err
	}
	return is
}

func TestPort(t *testing.T) {
	frames := bin(func(b *config.Board) { b.Counter, b.Checksum, b.PerFrame = "uint8", "crc16-modbus", 16 })
	data, _, values := send(frames, 200)
	var all []float64
	for _, v := range values {
		all = append(all, v...)
	}
	for name, c := range map[string]struct {
		cfg               config.Board
		form              rig.Form
		send              string
		samples, readings []float64
	}{
		"binary":   {frames, rig.Waveform, string(data), all, nil},
		"text":     {text(nil), rig.Waveform, "9\r\n500\r\n-250\r\n", []float64{0.5, -0.25}, nil},
		"text rms": {text(nil), rig.RMS, "9\r\n5.5\r\n4.5\r\n", nil, []float64{5.5, 4.5}},
	} {
		t.Run(name, func(t *testing.T) {
			b, far := device(t, c.cfg, c.form)
			is := opened(b)
			ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
			defer cancel()
			k := &taken{}
			k.after = func() {
				if len(k.samples) >= len(c.samples) && len(k.readings) >= len(c.readings) {
					cancel()
				}
			}
			done := make(chan error)
			go func() { done <- b.Run(ctx, k) }()
			<-is
			if _, err := far.WriteString(c.send); err != nil {
				t.Error(err)
			}
			if err := <-done; err != nil {
				t.Error(err)
			}
			if !slices.Equal(k.samples, c.samples) || !slices.Equal(k.readings, c.readings) || k.rejects != 0 || k.xruns != 0 {
				t.Errorf("got %d samples, readings %v, %d rejects, %d losses; want %d, %v", len(k.samples), k.readings, k.rejects, k.xruns, len(c.samples), c.readings)
			}
		})
	}
}

// A board that goes ends Run with a reason; one that is silent does not keep it from ending.
func TestPortEnds(t *testing.T) {
	b, far := device(t, text(nil), rig.Waveform)
	is := opened(b)
	done := make(chan error)
	go func() { done <- b.Run(t.Context(), &taken{}) }()
	<-is
	far.Close()
	if err := <-done; err == nil || !strings.Contains(err.Error(), b.cfg.Port.Device) {
		t.Errorf("after a hang-up: %v", err)
	}

	b, _ = device(t, text(nil), rig.Waveform)
	is = opened(b)
	ctx, cancel := context.WithCancel(t.Context())
	go func() { done <- b.Run(ctx, &taken{}) }()
	<-is
	cancel()
	if err := <-done; err != nil {
		t.Errorf("after the end: %v", err)
	}

	b, _ = device(t, text(nil), rig.Waveform)
	b.cfg.Port.Device = "/dev/no-such-port"
	b, err := New(b.cfg, 50)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Run(t.Context(), &taken{}); err == nil || !strings.Contains(err.Error(), "/dev/no-such-port") {
		t.Errorf("without a port: %v", err)
	}
}

func TestNew(t *testing.T) {
	cfg := config.ClampDevice{Form: "rms", RateHz: 8000, Board: text(nil), Port: config.Port{Device: "/dev/x", Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1, Flow: "none"}}
	b, err := New(cfg, 50)
	if err != nil {
		t.Fatal(err)
	}
	if s := fmt.Sprint(b.Name(), b.Streams()); s != "converter board on /dev/x[{clamp rms A 0}]" {
		t.Error(s)
	}
	for want, change := range map[string]func(*config.ClampDevice){
		"clamp.device.rate_hz":    func(c *config.ClampDevice) { c.RateHz = 0 },
		"port.device":             func(c *config.ClampDevice) { c.Port.Device = "" },
		"clamp.device.board.sync": func(c *config.ClampDevice) { c.Board = bin(func(b *config.Board) { b.Sync = "xy" }) },
	} {
		bad := cfg
		change(&bad)
		if _, err := New(bad, 50); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
	if _, err := New(cfg, math.NaN()); err == nil {
		t.Error("a full scale of NaN is taken")
	}
}
