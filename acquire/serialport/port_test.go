package serialport

import (
	"context"
	"errors"
	"math/bits"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"go.bug.st/serial"
	"golang.org/x/sys/unix"

	"quern/acquire/pty"
	"quern/config"
	"quern/rig"
)

func usual(device string) config.Port {
	return config.Port{Device: device, Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1, Flow: "none"}
}

// descriptors counts what this process has open.
func descriptors(t *testing.T) int {
	t.Helper()
	e, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Skip(err)
	}
	return len(e)
}

func TestReadAndEnd(t *testing.T) {
	far, device := pty.Open(t)
	before, routines := descriptors(t), runtime.NumGoroutine()
	for range 3 { // a port may be opened again
		p, err := Open(usual(device))
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		heard := make(chan string, 100)
		ended := make(chan error, 1)
		started := time.Now()
		go func() {
			ended <- p.Read(ctx, func(got time.Time, b []byte) {
				if got.Before(started) || got.After(time.Now()) {
					t.Errorf("time stamp %v", got)
				}
				heard <- string(b)
			})
		}()
		// Bytes that terminals treat specially come through as they are.
		const text = "12.5 g\r\n\x03\x04\x11\x13\x1a\x7f\xff"
		if _, err := far.Write([]byte(text)); err != nil {
			t.Fatal(err)
		}
		got := ""
		for len(got) < len(text) {
			got += <-heard
		}
		if got != text {
			t.Errorf("got %q, want %q", got, text)
		}
		if err := p.Write(ctx, []byte("P\r\n")); err != nil {
			t.Fatal(err)
		}
		b := make([]byte, 10)
		if n, err := far.Read(b); err != nil || string(b[:n]) != "P\r\n" {
			t.Errorf("the device got %q, %v", b[:n], err)
		}
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("the end of the context gives %v", err)
		}
		if err := p.Write(ctx, []byte("P")); !errors.Is(err, context.Canceled) {
			t.Errorf("a write after the end gives %v", err)
		}
		p.Close()
		p.Close()
	}
	if n := descriptors(t); n != before {
		t.Errorf("%d descriptors are open, %d were", n, before)
	}
	// A goroutine that has said its last word may still be about to end.
	for begun := time.Now(); runtime.NumGoroutine() > routines; runtime.Gosched() {
		if time.Since(begun) > 10*time.Second {
			t.Fatalf("%d goroutines run, %d did", runtime.NumGoroutine(), routines)
		}
	}
}

func TestOldBytesAreThrownAway(t *testing.T) {
	far, device := pty.Open(t)
	// Someone must hold the port open for the kernel to keep bytes.
	keep, err := os.OpenFile(device, os.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer keep.Close()
	if _, err := far.Write([]byte("old\n")); err != nil {
		t.Fatal(err)
	}
	raw, err := keep.SyscallConn()
	if err != nil {
		t.Fatal(err)
	}
	if err := raw.Read(func(fd uintptr) bool { // waits until the bytes have crossed over
		n, err := unix.IoctlGetInt(int(fd), unix.TIOCINQ)
		return err != nil || n == 4
	}); err != nil {
		t.Fatal(err)
	}
	p, err := Open(usual(device))
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	if _, err := far.Write([]byte("new\n")); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	got := ""
	if err := p.Read(ctx, func(_ time.Time, b []byte) {
		if got += string(b); strings.HasSuffix(got, "new\n") {
			cancel()
		}
	}); err != nil {
		t.Fatal(err)
	}
	if got != "new\n" {
		t.Errorf("got %q", got)
	}
}

func TestSettings(t *testing.T) {
	far, device := pty.Open(t)
	for _, c := range []struct {
		change         func(*config.Port)
		cflag, iflag   uint32
		speed          uint32
		without, never uint32
	}{
		{func(*config.Port) {}, unix.CS8, 0, 9600, unix.CSTOPB | unix.CRTSCTS, unix.IXON | unix.IXOFF},
		{func(p *config.Port) { p.Baud, p.StopBits, p.Flow = 4800, 2, "rts-cts" }, unix.CSTOPB | unix.CRTSCTS, 0, 4800, 0, unix.IXON | unix.IXOFF},
		{func(p *config.Port) { p.Baud, p.Flow = 115200, "xon-xoff" }, 0, unix.IXON | unix.IXOFF, 115200, unix.CRTSCTS, 0},
		{func(p *config.Port) { p.Baud = 12345 }, 0, 0, 12345, unix.CRTSCTS, unix.IXON | unix.IXOFF},
	} {
		cfg := usual(device)
		c.change(&cfg)
		p, err := Open(cfg)
		if err != nil {
			t.Fatal(err)
		}
		s, err := termios(far)
		if err != nil {
			t.Fatal(err)
		}
		if s.Cflag&c.cflag != c.cflag || s.Iflag&c.iflag != c.iflag || s.Cflag&c.without != 0 || s.Iflag&c.never != 0 || s.Ospeed != c.speed {
			t.Errorf("%+v: got %+v", cfg, s)
		}
		p.Close()
	}
}

// A pseudo-terminal has no parity; that the library sets it is seen in what it would be asked for.
func TestModes(t *testing.T) {
	cfg := usual("/dev/null")
	cfg.DataBits, cfg.Parity, cfg.StopBits = 7, "even", 2
	m, err := modeOf(cfg)
	if err != nil || m.DataBits != 7 || m.Parity != serial.EvenParity || m.StopBits != serial.TwoStopBits || m.BaudRate != 9600 {
		t.Errorf("got %+v, %v", m, err)
	}
	for key, change := range map[string]func(*config.Port){
		"port.device":    func(p *config.Port) { p.Device = "" },
		"port.baud":      func(p *config.Port) { p.Baud = 110 },
		"port.data_bits": func(p *config.Port) { p.DataBits = 9 },
		"port.parity":    func(p *config.Port) { p.Parity = "mark" },
		"port.stop_bits": func(p *config.Port) { p.StopBits = 3 },
		"port.flow":      func(p *config.Port) { p.Flow = "none|rts-cts" },
	} {
		cfg := usual("/dev/null")
		change(&cfg)
		if err := Check(cfg); err == nil || !strings.HasPrefix(err.Error(), key+": found ") {
			t.Errorf("got %v, want a word on %s", err, key)
		}
		if _, err := Open(cfg); err == nil {
			t.Errorf("opened with a wrong %s", key)
		}
	}
}

func TestOpenErrors(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, []byte("12.5 g\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, device := pty.Open(t)
	first, err := Open(usual(device))
	if err != nil {
		t.Fatal(err)
	}
	defer first.Close()
	before := descriptors(t)
	for _, c := range []struct{ device, found, do string }{
		{filepath.Join(dir, "none"), "found no such port", byID},
		{file, "no serial port", byID},
		{"/dev/null", "no serial port", byID},
		{dir, "a folder", byID},
		{device, "another program holds", "fuser"},
	} {
		_, err := Open(usual(c.device))
		var fe *rig.FileError
		if !errors.As(err, &fe) || fe.File != c.device || !strings.Contains(err.Error(), c.found) || !strings.Contains(fe.Do, c.do) {
			t.Errorf("%s: got %v, want %q and %q", c.device, err, c.found, c.do)
		}
	}
	if n := descriptors(t); n != before {
		t.Errorf("%d descriptors are open, %d were", n, before)
	}
	// Tests run as root, whom nothing is denied.
	if err := explain("/dev/ttyS0", &os.PathError{Op: "open", Path: "/dev/ttyS0", Err: unix.EACCES}); !strings.Contains(err.Error(), "dialout") {
		t.Errorf("got %v", err)
	}
}

func TestUnplug(t *testing.T) {
	far, device := pty.Open(t)
	p, err := Open(usual(device))
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	ended := make(chan error, 1)
	heard := make(chan bool, 10)
	go func() { ended <- p.Read(t.Context(), func(time.Time, []byte) { heard <- true }) }()
	if _, err := far.Write([]byte("x")); err != nil {
		t.Fatal(err)
	}
	<-heard
	far.Close()
	if err := <-ended; err == nil || !strings.Contains(err.Error(), "hung up") {
		t.Errorf("got %v", err)
	}
}

// A device that holds the line does not hold the program.
func TestWriteIsHeld(t *testing.T) {
	far, device := pty.Open(t)
	cfg := usual(device)
	cfg.Flow = "xon-xoff"
	p, err := Open(cfg)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	filling := make(chan bool, 1)
	go func() {
		for {
			select {
			case filling <- true:
			default:
			}
			if err := p.Write(ctx, make([]byte, 1<<16)); err != nil {
				ended <- err
				return
			}
		}
	}()
	<-filling
	cancel() // nobody reads the far end: only the context ends the write
	if err := <-ended; !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	_ = far
	if err := explain(device, os.ErrDeadlineExceeded); !strings.Contains(err.Error(), "flow") {
		t.Errorf("got %v", err)
	}
}

func TestUnescape(t *testing.T) {
	for in, want := range map[string]string{
		"": "", `P\r\n`: "P\r\n", "P\r\n": "P\r\n", `\x1bP\x05`: "\x1bP\x05", `\e\0\t\\r`: "\x1b\x00\t\\r",
	} {
		if got, err := Unescape(in); err != nil || string(got) != want {
			t.Errorf("%q: got %q, %v", in, got, err)
		}
	}
	for _, in := range []string{`\`, `P\q`, `\x1`, `\xzz`, `\x`} {
		if got, err := Unescape(in); err == nil || got != nil {
			t.Errorf("%q: got %q, %v", in, got, err)
		}
	}
}

func FuzzUnescape(f *testing.F) {
	f.Add("P\\r\\n")
	f.Add("\\x")
	f.Fuzz(func(t *testing.T, s string) {
		got, err := Unescape(s)
		if err == nil && len(got) > len(s) {
			t.Errorf("%q grows to %q", s, got)
		}
		if again, err := Unescape(strings.ReplaceAll(s, `\`, `\\`)); err != nil || string(again) != s {
			t.Errorf("%q escaped comes back as %q, %v", s, again, err)
		}
	})
}

// evenBit sets the eighth bit of each character to its even parity.
func evenBit(s string) []byte {
	b := []byte(s)
	for i, c := range b {
		if bits.OnesCount8(c)%2 == 1 {
			b[i] = c | 0x80
		}
	}
	return b
}
