package serialport

import (
	"context"
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	"quern/acquire/pty"
	"quern/config"
)

// noMatterHow is how long a try may take that ends by what is heard: the machine may be as slow as it likes.
const noMatterHow = time.Hour

// speak plays a device that sends text at one rate, and garbage to whoever listens at another.
func speak(t *testing.T, baud uint32, text []byte) (device string) {
	far, device := pty.Open(t)
	ended := make(chan bool)
	t.Cleanup(func() { far.Close(); <-ended })
	go func() {
		defer close(ended)
		for {
			out := text
			if set, err := termios(far); err != nil {
				return
			} else if baud != 0 && set.Ospeed != baud {
				out = []byte{0x80, 0xf8, 0x00, 0xe6, 0x9e, 0x06, 0x98, 0xfe, 0x1e, 0x61}
			}
			if _, err := far.Write(out); errors.Is(err, os.ErrClosed) {
				return
			}
		}
	}()
	return device
}

func TestListenFindsTheRate(t *testing.T) {
	device := speak(t, 2400, []byte("ST,GS,+0012.345kg\r\nUS,GS,+0012.344kg\r\n"))
	h, err := Listen(t.Context(), device, noMatterHow)
	if err != nil {
		t.Fatal(err)
	}
	if h.Port.Baud != 2400 || h.Port.Parity != "none" || h.Frame.Shape != "mark-kind-number-unit" || h.Frame.Unit != "kg" || h.Score < sureScore {
		t.Errorf("got %+v %+v, score %v: %s", h.Port, h.Frame, h.Score, h.Explanation)
	}
	if n := len(h.Tries); n != 3 || h.Tries[0].Score >= poorScore || h.Tries[0].Printable > 0.5 || h.Tries[2].Printable < 0.5 { // garbage may have been on its way
		t.Errorf("tries %+v", h.Tries)
	}
	lab := h.TOML("scale.device")
	for _, want := range []string{"[scale.device]\nkind = \"serial\"\n", "[scale.device.port]\ndevice = \"" + device + "\"\nbaud = 2400\n", "shape = \"mark-kind-number-unit\"", "unit_word = \"kg\""} {
		if !strings.Contains(lab, want) {
			t.Errorf("%s\nlacks %s", lab, want)
		}
	}
	setup := "[unit]\nid = \"a\"\nrated_current_a = 1\n[procedure]\nid = \"p\"\n" + strings.ReplaceAll(lab, "[scale.", "[bench.scale.")
	s, err := config.ReadSetup("setup.toml", []byte(setup))
	if err != nil {
		t.Fatal(err)
	}
	if d := s.Bench.Scale.Device; d.Port != h.Port || d.Frame != h.Frame {
		t.Errorf("the proposed lines are read as %+v", d)
	}
}

func TestListenFindsSevenBits(t *testing.T) {
	device := speak(t, 0, evenBit("  12.5 g\r\n- 13.5 g\r\n"))
	h, err := Listen(t.Context(), device, noMatterHow)
	if err != nil {
		t.Fatal(err)
	}
	if h.Port.DataBits != 7 || h.Port.Parity != "even" || h.Port.Baud != 9600 || h.Frame.Shape != "number-unit" {
		t.Errorf("got %+v %+v, score %v: %s", h.Port, h.Frame, h.Score, h.Explanation)
	}
	rows := h.Dump()
	// 0x8d and 0x0a are CR and LF with even parity: 0x0d has three bits, 0x0a two.
	if len(rows) == 0 || len(rows) > dumpRows || !strings.Contains(strings.Join(rows, "\n"), "e7 8d 0a") || !strings.Contains(strings.Join(rows, "\n"), "12.5 g..|") {
		t.Errorf("rows\n%s", strings.Join(rows, "\n"))
	}
}

func TestListenToSilence(t *testing.T) {
	_, device := pty.Open(t)
	h, err := Listen(t.Context(), device, time.Millisecond)
	if err != nil {
		t.Fatal(err)
	}
	if h.Score != 0 || len(h.Tries) != len(bauds) || !strings.Contains(h.Explanation, "when asked") {
		t.Errorf("got %+v", h)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Listen(ctx, device, time.Hour); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	if _, err := Listen(t.Context(), device+"none", time.Hour); err == nil || !strings.Contains(err.Error(), "no such port") {
		t.Errorf("got %v", err)
	}
}

func TestJudge(t *testing.T) {
	odd := evenBit("64.1\r\n63.9\r\n64.0\r\n62.0\r\n")
	for i := range odd {
		odd[i] ^= 0x80
	}
	for want, raw := range map[string][]byte{
		"none": []byte("64.1\r\n63.9\r\n64.0\r\n62.0\r\n"), "even": evenBit("64.1\r\n63.9\r\n64.0\r\n62.0\r\n"), "odd": odd,
	} {
		if h := judge(usual("x"), raw); h.Port.Parity != want || h.Frame.Shape != "number" || h.Score < sureScore {
			t.Errorf("got %+v, score %v, want %s", h.Port, h.Score, want)
		}
	}
}
