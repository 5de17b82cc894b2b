package gauge

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"quern/acquire"
	"quern/acquire/frame"
	"quern/acquire/pty"
	"quern/config"
	"quern/rig"
)

// log is a sink that writes down what it is told.
type log chan string

func (l log) Samples(rig.Channel, time.Time, int64, []float64) { l <- "samples" }
func (l log) Xrun(rig.Channel)                                 { l <- "xrun" }
func (l log) Reject(c rig.Channel, why string)                 { l <- fmt.Sprintf("%s reject %s", c, why) }
func (l log) Alive(c rig.Channel, why string)                  { l <- fmt.Sprintf("%s alive %s", c, why) }
func (l log) Reading(c rig.Channel, got time.Time, v float64, m rig.Mark) {
	l <- fmt.Sprintf("%s %v %d", c, v, m)
}

func port(device string) config.Port {
	return config.Port{Device: device, Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1, Flow: "none"}
}

func meter(device string) config.MicrophoneDevice {
	f := frame.Usual()
	f.Shape = "number"
	return config.MicrophoneDevice{Kind: "meter", Port: port(device), Frame: f}
}

func thermometer(device string) config.Extra {
	return config.Extra{ID: "water-temperature", Unit: "degC", Kind: "line", Factor: 0.1, Offset: -5, Port: port(device), Frame: frame.Usual()}
}

// run starts g, lets the instrument send lines once the port is open, and then ends it.
func run(t *testing.T, far *os.File, g *Gauge, unit string, lines []string, want ...string) {
	t.Helper()
	to := make(log, 1000)
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- g.Run(ctx, to) }()
	awaitOpen(t, far, to, "77"+unit+"\n", "88"+unit+"\n", string(g.stream.Channel)+" "+fmt.Sprint(88*g.factor+g.offset))
	for _, l := range lines {
		write(t, far, l)
	}
	for _, w := range want {
		if got := <-to; !strings.HasPrefix(got, w) {
			t.Errorf("got %q, want %q", got, w)
		}
	}
	cancel()
	if err := <-ended; err != nil {
		t.Errorf("the end gives %v", err)
	}
	if len(to) > 0 {
		t.Errorf("got %q besides", <-to)
	}
}

func TestMeter(t *testing.T) {
	far, device := pty.Open(t)
	g, err := NewMeter(meter(device))
	if err != nil {
		t.Fatal(err)
	}
	if st := g.Streams(); len(st) != 1 || st[0] != (rig.Stream{Channel: rig.Microphone, Form: rig.Level, Unit: rig.Decibel}) || g.Name() != "sound level meter on "+device {
		t.Errorf("%s delivers %+v", g.Name(), st)
	}
	for range 2 {
		run(t, far, g, "", []string{"063.5\r\n64", ",1\r\n", "OL\r\n9999.9\r\n\x00\x80garbage\r\n-1.5\r\n"},
			"microphone 63.5 0", "microphone 64.1 0", "microphone alive out of range", "microphone reject 9999.9 dB",
			"microphone reject \"\\x00\\x80garbage\"", "microphone -1.5 0")
	}
}

func TestExtra(t *testing.T) {
	far, device := pty.Open(t)
	g, err := NewExtra(thermometer(device))
	if err != nil {
		t.Fatal(err)
	}
	if st := g.Streams(); len(st) != 1 || st[0] != (rig.Stream{Channel: "water-temperature", Form: rig.Value, Unit: "degC"}) || g.Name() != "water-temperature on "+device {
		t.Errorf("%s delivers %+v", g.Name(), st)
	}
	run(t, far, g, " C", []string{"\n200 C\n", "-10 C\n", "12\n"}, "water-temperature 15 0", "water-temperature -6 0", "water-temperature reject \"12\" names no unit")
}

func TestUnplug(t *testing.T) {
	far, device := pty.Open(t)
	g, err := NewExtra(thermometer(device))
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	to := make(log, 1000)
	go func() { ended <- g.Run(t.Context(), to) }()
	awaitOpen(t, far, to, "77 C\n", "88 C\n", "water-temperature 3.8")
	far.Close()
	if err := <-ended; err == nil || !strings.Contains(err.Error(), device+": found ") {
		t.Errorf("got %v", err)
	}
	var _ acquire.Device = g
	if err := g.Run(t.Context(), make(log, 100)); err == nil || !strings.Contains(err.Error(), device+": found ") {
		t.Errorf("a port that is gone gives %v", err)
	}
}

// awaitOpen writes a line again and again until it is delivered, for what comes before the port is open is
// thrown away. Both lines must be readings of the instrument.
func awaitOpen(t *testing.T, far *os.File, to log, line, last, lastRead string) {
	t.Helper()
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	for heard := false; !heard; {
		select {
		case <-to:
			heard = true
		case <-tick.C:
			write(t, far, line)
		}
	}
	write(t, far, last)
	for got := range to {
		if strings.HasPrefix(got, lastRead) {
			return
		}
	}
}

func write(t *testing.T, far *os.File, text string) {
	t.Helper()
	if _, err := far.Write([]byte(text)); err != nil {
		t.Fatal(err)
	}
}

func TestNewRefuses(t *testing.T) {
	for want, change := range map[string]func(*config.MicrophoneDevice){
		"microphone.device.kind is":             func(c *config.MicrophoneDevice) { c.Kind = "alsa" },
		"microphone.device.port.baud: found 1,": func(c *config.MicrophoneDevice) { c.Port.Baud = 1 },
		"microphone.device.frame.end is":        func(c *config.MicrophoneDevice) { c.Frame.End = "" },
		"microphone.device.frame.unit_word is":  func(c *config.MicrophoneDevice) { c.Frame.Unit = "lb-oz" },
	} {
		cfg := meter("/dev/ttyUSB0")
		change(&cfg)
		if _, err := NewMeter(cfg); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
	for want, change := range map[string]func(*config.Extra){
		"extra water-temperature: kind is":              func(c *config.Extra) { c.Kind = "iio" },
		"extra water-temperature: factor is 0":          func(c *config.Extra) { c.Factor = 0 },
		"extra water-temperature: port.device: found n": func(c *config.Extra) { c.Port.Device = "" },
		"extra water-temperature: frame.shape is":       func(c *config.Extra) { c.Frame.Shape = "words" },
	} {
		cfg := thermometer("/dev/ttyUSB0")
		change(&cfg)
		if _, err := NewExtra(cfg); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}
