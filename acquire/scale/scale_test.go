package scale

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"runtime"
	"strings"
	"testing"
	"time"

	"quern/acquire/frame"
	"quern/acquire/pty"
	"quern/config"
	"quern/rig"
)

// log is a sink that writes down what it is told.
type log struct {
	t     *testing.T
	lines chan string
}

func newLog(t *testing.T) *log { return &log{t, make(chan string, 1000)} }

func (l *log) Samples(rig.Channel, time.Time, int64, []float64) { l.lines <- "samples" }
func (l *log) Xrun(rig.Channel)                                 { l.lines <- "xrun" }
func (l *log) Reject(c rig.Channel, why string)                 { l.lines <- fmt.Sprintf("%s reject %s", c, why) }
func (l *log) Alive(c rig.Channel, why string)                  { l.lines <- fmt.Sprintf("%s alive %s", c, why) }
func (l *log) Reading(c rig.Channel, got time.Time, v float64, m rig.Mark) {
	if age := time.Since(got); age < 0 || age > time.Minute {
		l.t.Errorf("a reading %v old", age)
	}
	l.lines <- fmt.Sprintf("%s %v %d", c, v, m)
}

// next waits for the next line and holds it to its beginning.
func (l *log) next(want string) {
	l.t.Helper()
	if got := <-l.lines; !strings.HasPrefix(got, want) {
		l.t.Errorf("got %q, want %q", got, want)
	}
}

func described(device string) config.ScaleDevice {
	return config.ScaleDevice{Kind: "serial", Mode: "continuous", IntervalS: 0.02, SilentS: 2, Frame: frame.Usual(),
		Port: config.Port{Device: device, Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1, Flow: "none"}}
}

// start runs a scale and returns what ends it and waits for its error.
func start(t *testing.T, s *Scale, to *log) (end func() error, ended <-chan error) {
	ctx, cancel := context.WithCancel(t.Context())
	out := make(chan error, 1)
	go func() { out <- s.Run(ctx, to) }()
	return func() error { cancel(); return <-out }, out
}

func write(t *testing.T, far *os.File, text string) {
	t.Helper()
	if _, err := far.Write([]byte(text)); err != nil {
		t.Error(err)
	}
}

func TestContinuous(t *testing.T) {
	far, device := pty.Open(t)
	cfg := described(device)
	cfg.Frame.Shape = "mark-number-unit"
	cfg.Tare, cfg.Zero = `T\r\n`, `Z\r\n`
	s, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	if st := s.Streams(); len(st) != 1 || st[0] != (rig.Stream{Channel: rig.Scale, Form: rig.Mass, Unit: rig.Gram}) || s.Name() != "scale on "+device {
		t.Errorf("%s delivers %+v", s.Name(), st)
	}
	if err := s.Tare(); err == nil || !strings.Contains(err.Error(), "not connected") {
		t.Errorf("a tare without a run gives %v", err)
	}
	said := bufio.NewReader(far)
	routines, open := runtime.NumGoroutine(), descriptors(t)
	for range 3 { // it runs as often as it is told to
		to := newLog(t)
		end, _ := start(t, s, to)
		// The answer to a command shows that the port is open: what is written before is thrown away.
		for s.Tare() != nil {
			runtime.Gosched()
		}
		if got, err := said.ReadString('\n'); got != "T\r\n" {
			t.Errorf("the scale got %q, %v", got, err)
		}
		write(t, far, "4.5 g\r\nST 12.5 g\r\n")
		to.next("scale 12.5 1")
		write(t, far, "US,-  0.5")
		write(t, far, "00 kg\r\n")
		to.next("scale -500 2")
		write(t, far, "ST 2 lb 3.5 oz\r\nOL 0.0 g\r\nST 12 pcs\r\n\xff\xfe\x00\r\nST 1")
		to.next("scale 1006.4080") // 35.5 oz of 28.349523125 g
		to.next("scale alive out of range: says \"OL\"")
		to.next("scale reject unit \"pcs\"")
		to.next("scale reject \"\\xff\\xfe\\x00\" holds a byte 0xff")
		write(t, far, "\r\nST 1 g\r\n")
		to.next("scale reject \"ST 1\" names no unit")
		to.next("scale 1 1")
		if err := s.Zero(); err != nil {
			t.Error(err)
		}
		if got, err := said.ReadString('\n'); got != "Z\r\n" {
			t.Errorf("the scale got %q, %v", got, err)
		}
		if err := end(); err != nil {
			t.Errorf("the end gives %v", err)
		}
		if err := s.Tare(); err == nil {
			t.Error("a tare after the end is taken")
		}
	}
	if n := descriptors(t); n != open {
		t.Errorf("%d descriptors are open, %d were", n, open)
	}
	// A goroutine that has said its last word may still be about to end.
	for begun := time.Now(); runtime.NumGoroutine() > routines; runtime.Gosched() {
		if time.Since(begun) > 10*time.Second {
			t.Fatalf("%d goroutines run, %d did", runtime.NumGoroutine(), routines)
		}
	}
}

func descriptors(t *testing.T) int {
	t.Helper()
	e, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Skip(err)
	}
	return len(e)
}

// The first answer shows where frames begin and is passed over; every later one is delivered.
func TestRequest(t *testing.T) {
	far, device := pty.Open(t)
	cfg := described(device)
	cfg.Mode, cfg.Request, cfg.Tare = "request", `S\x50\r\n`, "T\r\n"
	s, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	to := newLog(t)
	end, _ := start(t, s, to)
	said := bufio.NewReader(far)
	answer := func(text string) {
		t.Helper()
		if got, err := said.ReadString('\n'); got != "SP\r\n" {
			t.Fatalf("the scale got %q, %v", got, err)
		}
		write(t, far, text)
	}
	answer("1.5 g\r\n")
	answer("- 2.5 g\r\n")
	to.next("scale -2.5 0")
	answer("3.5")
	write(t, far, " g\r\n") // in two halves: one reading
	to.next("scale 3.5 0")
	answer("what?\r\n")
	to.next("scale reject \"what?\" has no number")
	answer("") // a request that is not answered is asked again
	answer("+\r\n")
	to.next("scale alive")
	told := make(chan error)
	go func() { told <- s.Tare() }()
	for {
		got, err := said.ReadString('\n')
		if err != nil {
			t.Fatal(err)
		}
		if got == "T\r\n" {
			break
		}
	}
	if err := <-told; err != nil {
		t.Errorf("tare: %v", err)
	}
	if err := end(); err != nil {
		t.Errorf("the end gives %v", err)
	}
}

func TestUnplug(t *testing.T) {
	for _, mode := range []string{"continuous", "request"} {
		far, device := pty.Open(t)
		cfg := described(device)
		cfg.Mode, cfg.Request, cfg.Tare = mode, "P", "T"
		s, err := New(cfg)
		if err != nil {
			t.Fatal(err)
		}
		_, ended := start(t, s, newLog(t))
		for s.Tare() != nil {
			runtime.Gosched()
		}
		far.Close()
		if err := <-ended; err == nil || !strings.Contains(err.Error(), device+": found a line that has hung up") {
			t.Errorf("%s: got %v", mode, err)
		}
		if err := s.Run(t.Context(), newLog(t)); err == nil {
			t.Errorf("%s: a port that is gone was opened", mode)
		}
		if err := s.Tare(); err == nil || !strings.Contains(err.Error(), "not connected") {
			t.Errorf("%s: tare gives %v", mode, err)
		}
	}
}

// Commands that come while the run ends are answered, one way or the other.
func TestCommandsAtTheEnd(t *testing.T) {
	far, device := pty.Open(t)
	cfg := described(device)
	cfg.Tare = "T"
	s, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	go func() {
		b := make([]byte, 100)
		for {
			if _, err := far.Read(b); err != nil && strings.Contains(err.Error(), "closed") {
				return
			}
		}
	}()
	for range 20 {
		end, _ := start(t, s, newLog(t))
		answered := make(chan bool)
		for range 4 {
			go func() { _ = s.Tare(); answered <- true }()
		}
		<-answered
		if err := end(); err != nil {
			t.Error(err)
		}
		for range 3 {
			<-answered
		}
	}
}

func TestNewRefuses(t *testing.T) {
	for want, change := range map[string]func(*config.ScaleDevice){
		"scale.device.kind is":         func(c *config.ScaleDevice) { c.Kind = "hid" },
		"scale.device.port.device":     func(c *config.ScaleDevice) { c.Port.Device = "" },
		"scale.device.frame.shape is":  func(c *config.ScaleDevice) { c.Frame.Shape = "" },
		"scale.device.request is":      func(c *config.ScaleDevice) { c.Mode = "request" },
		"scale.device.interval_s is 0": func(c *config.ScaleDevice) { c.Mode, c.Request, c.IntervalS = "request", "P", 0 },
		"scale.device.mode is":         func(c *config.ScaleDevice) { c.Mode = "now and then" },
		"scale.device.tare: ":          func(c *config.ScaleDevice) { c.Tare = `T\q` },
	} {
		cfg := described("/dev/ttyUSB0")
		change(&cfg)
		if _, err := New(cfg); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
	s, err := New(described("/dev/ttyUSB0"))
	if err != nil {
		t.Fatal(err)
	}
	for key, do := range map[string]func() error{"tare": s.Tare, "zero": s.Zero} {
		if err := do(); err == nil || !strings.Contains(err.Error(), "scale.device."+key+" is empty") {
			t.Errorf("%s gives %v", key, err)
		}
	}
}
