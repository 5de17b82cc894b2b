package board

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"quern/acquire/frame"
	"quern/config"
)

// spoken is what a board sends in a second: lines, each of so many numbers, that swing about a zero.
func spoken(lines, numbers, zero int, line func(i int, numbers string) string, separator string) []byte {
	var b strings.Builder
	b.WriteString("17 -3\r\n") // the rest of a line
	for i := range lines {
		var parts []string
		for k := range numbers {
			parts = append(parts, fmt.Sprint(zero+int(100*math.Sin(float64(i*numbers+k)))))
		}
		b.WriteString(line(i, strings.Join(parts, separator)) + "\r\n")
	}
	return []byte(b.String())
}

func TestPropose(t *testing.T) {
	plain := func(_ int, s string) string { return s }
	counted := func(wrap int) func(int, string) string {
		return func(i int, s string) string { return fmt.Sprint((i+200)%wrap, " ", s) }
	}
	summed := func(i int, s string) string {
		is, _ := frame.Sum("crc8", []byte(s))
		return fmt.Sprintf("%s*%02X", s, is)
	}
	for name, c := range map[string]struct {
		heard  []byte
		want   config.Board
		hz     float64
		form   string
		says   string
		hidden string // what it must not say
	}{
		"one number a line":     {spoken(1000, 1, 2048, plain, " "), config.Board{PerFrame: 1, Counter: "none", Checksum: "none", CountsFull: 2048, ZeroCounts: 2048}, 1000, "waveform", "1000 lines of 1 number, some", "counter"},
		"twenty, and a counter": {spoken(300, 20, 0, counted(1<<16), " "), config.Board{PerFrame: 20, Counter: "uint16", Checksum: "none", CountsFull: 32768}, 6000, "waveform", "20 numbers after a counter", ""},
		"a counter that wraps":  {spoken(300, 4, 0, counted(256), ","), config.Board{PerFrame: 4, Counter: "uint8", Checksum: "none", CountsFull: 32768}, 1200, "waveform", "after a counter, some", "begin anew"},
		"a check value":         {spoken(250, 8, 512, summed, ","), config.Board{PerFrame: 8, Counter: "none", Checksum: "crc8", CountsFull: 512, ZeroCounts: 512}, 2000, "waveform", "with the check value crc8", ""},
		"semicolons":            {spoken(250, 8, 0, plain, ";"), config.Board{PerFrame: 8, Counter: "none", Checksum: "none", Separator: ";", CountsFull: 32768}, 2000, "waveform", "8 numbers", ""},
		"RMS":                   {[]byte(strings.Repeat("4.02\r\n", 60)), config.Board{PerFrame: 1, Counter: "none", Checksum: "none", CountsFull: 32768}, 60, "rms", "1 number", ""},
	} {
		p, ok := Propose(c.heard, time.Second)
		c.want.Frames, c.want.Number = "text", "int16"
		if !ok || p.Device.Board != c.want || p.Device.RateHz != c.hz || p.Device.Form != c.form || !strings.Contains(p.String(), c.says) || c.hidden != "" && strings.Contains(p.String(), c.hidden) {
			t.Errorf("%s: got %+v (%s), want %+v at %g Hz", name, p, p, c.want, c.hz)
		}
		setup := "[unit]\nid = \"a\"\nrated_current_a = 1\n[procedure]\nid = \"p\"\n" + strings.ReplaceAll(p.TOML(config.Port{Device: "/dev/x", Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1}), "[clamp.", "[bench.clamp.")
		s, err := config.ReadSetup("setup.toml", []byte(setup))
		if err != nil || s.Bench.Clamp.Device.Board != c.want || s.Bench.Clamp.Device.RateHz != c.hz {
			t.Errorf("%s: its lines say %+v, %v, want the same\n%s", name, s.Bench.Clamp.Device, err, setup)
		}
	}
	for _, heard := range []string{"", "ST,GS,+0012.345kg\r\nUS,GS,+0012.344kg\r\nUS,GS,+0012.344kg\r\nUS,GS,+0012.344kg\r\n", "\xaa\x55\x01\x02\xaa\x55\x01\x02", "1\r\n2\r\n"} {
		if p, ok := Propose([]byte(heard), time.Second); ok {
			t.Errorf("%q: got %s, want nothing", heard, p)
		}
	}
}

func FuzzPropose(f *testing.F) {
	f.Add([]byte("1 2 3\r\n2 3 4\r\n3 4 5\r\n4 5 6\r\n"), int64(time.Second))
	f.Add([]byte("1;2*1F\n1;2*1F\n1;2*1F\n"), int64(0))
	f.Fuzz(func(t *testing.T, heard []byte, within int64) {
		p, ok := Propose(heard, time.Duration(within))
		if !ok {
			return
		}
		if _, err := New(config.ClampDevice{Kind: "board", Form: p.Device.Form, RateHz: p.Device.RateHz, Board: p.Device.Board,
			Port: config.Port{Device: "/dev/x", Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1, Flow: "none"}}, 1); err != nil {
			t.Errorf("%q: %+v: %v", heard, p, err)
		}
	})
}
