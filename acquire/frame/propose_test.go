package frame

import (
	"math/rand/v2"
	"strings"
	"testing"
)

func TestPropose(t *testing.T) {
	lines := func(end string, l ...string) string { return strings.Join(l, end) + end }
	for _, c := range []struct {
		heard                 string
		shape, end, unit, sum string
		part                  int
		least                 float64
	}{
		{lines("\r\n", "9 g", "  12.5 g", "-  3.0 g", "  12.6 g"), "number-unit", "line", "g", "none", 0, 1},
		{lines("\r\n", "ST,", "ST,GS,+0012.345kg", "US,GS,+0012.345kg", "OL,GS,+        kg"), "mark-kind-number-unit", "line", "kg", "none", 0, 1},
		{lines("\r", "0", "ST 12.5 oz", "US 13.5 oz", "ST 13.4 oz"), "mark-number-unit", "line", "oz", "none", 0, 1},
		{lines("\n", "0", "12.5 lb ?", "13.5 lb S", "13.4 lb S"), "number-unit-mark", "line", "lb", "none", 0, 1},
		{lines("\r\n", "0", "63.5", "64.1", "63.9"), "number", "line", "g", "none", 0, 0.9},
		{lines("\r\n", "0", "63.5 dBA", "64.1 dBA", "63.9 dBA"), "number-unit", "line", "g", "none", 0, 1},
		{lines("\x03", "5", "\x02 12.5 g", "\x02 13.5 g", "\x02 14.5 g"), "number-unit", "etx", "g", "none", 0, 1},
		{lines("\n", "0", sealed("crc16-modbus", "12.5 g"), sealed("crc16-modbus", "13.5 g"), sealed("crc16-modbus", "14.5 g")), "number-unit", "line", "g", "crc16-modbus", 0, 1},
		{lines("\n", "0", sealed("xor", "12.5 g"), sealed("xor", "13.5 g"), sealed("xor", "14.5 g")), "number-unit", "line", "g", "xor", 0, 1},
		{lines("\n", "0", "N 7 ch1 21.5 ok", "N 8 ch1 21.6 ok", "N 9 ch1 21.7 ok"), "fields", "line", "g", "none", 4, 0.5},
	} {
		f, score, why := Propose([]byte(c.heard))
		if f.Shape != c.shape || f.End != c.end || f.Unit != c.unit || f.Checksum != c.sum || f.NumberPart != c.part || score < c.least {
			t.Errorf("%q: got %+v, score %v, want at least %v (%s)", c.heard, f, score, c.least, why)
		}
		if why == "" {
			t.Errorf("%q: nothing explained", c.heard)
		}
	}
}

func TestProposeNothing(t *testing.T) {
	if _, score, why := Propose(nil); score != 0 || !strings.Contains(why, "Nothing was heard") {
		t.Errorf("silence: score %v: %s", score, why)
	}
	// What a wrong rate delivers is bytes at random.
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 50 {
		b := make([]byte, 2000)
		for i := range b {
			b[i] = byte(rnd.Uint32())
		}
		if f, score, _ := Propose(b); score > 0.3 {
			t.Errorf("noise is taken for frames %+v, score %v", f, score)
		}
	}
}
