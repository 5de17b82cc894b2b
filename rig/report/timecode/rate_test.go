package timecode

import (
	"math"
	"math/big"
	"strings"
	"testing"
)

// Frame times of all rates. 30000/1001 and its kin are SMPTE ST 12-1's (from memory): 30000 frames take
// 1001 s. Drop-frame counting names frames; it does not move them: the hour of its count, 107892 frames
// (EBU and SMPTE texts, from memory), is 3.6 ms short of an hour.
func TestFrameTimes(t *testing.T) {
	for _, c := range []struct {
		rate string
		n    int64
		want float64
	}{
		{"23.976", 0, 0}, {"23.976", 24000, 1001}, {"23.976", 1, 1001.0 / 24000}, {"24", 36, 1.5}, {"25", 1, 0.04}, {"25", 90000, 3600},
		{"29.97", 30000, 1001}, {"29.97", 107892, 3599.9964}, {"29.97", 1800, 60.06}, {"30", 30, 1}, {"50", 180001, 3600.02},
		{"59.94", 60000, 1001}, {"59.94", 215784, 3599.9964}, {"60", 7, 7.0 / 60},
	} {
		r, err := ParseRate(c.rate)
		if err != nil {
			t.Fatal(err)
		}
		if got := r.SecondsOf(c.n); !(math.Abs(got-c.want) <= 1e-9) {
			t.Errorf("%s, frame %d: %.12f s, want %.12f", c.rate, c.n, got, c.want)
		}
	}
	// Against exact fractions, up to a day; and the frame that stands at the instant is that frame.
	for _, r := range Rates {
		last := r.FrameAt(86400)
		for n := int64(0); n <= last; n += 1 + last/2003 {
			exact, _ := new(big.Rat).SetFrac64(n*r.Den, r.Num).Float64()
			if got := r.SecondsOf(n); !(math.Abs(got-exact) <= 2e-11) {
				t.Fatalf("%s, frame %d: %.15g s, exactly %.15g", r.Name, n, got, exact)
			}
			if got := r.FrameAt(r.SecondsOf(n)); got != n {
				t.Fatalf("%s: frame %d stands where %d begins", r.Name, got, n)
			}
		}
	}
	for _, s := range []string{"", "0", "-25", "23.98", "1/0", "30000/1000", "25.0", "25df", "23.976df"} {
		if r, err := ParseRate(s); err == nil || !strings.Contains(err.Error(), "expected") {
			t.Errorf("%q was read as %s: %v", s, r, err)
		}
	}
	if r, err := ParseRate("59.94df"); err != nil || r.Num != 60000 || r.Den != 1001 || r.Drop != 4 {
		t.Errorf("a rate whose frames are numbered by drop-frame: %v, %v", r, err)
	}
	if r, err := ParseRate("24000/1001"); err != nil || r.String() != "24000/1001" {
		t.Errorf("the exact form of a rate: %v, %v", r, err)
	}
}

func TestParseTime(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64 // negative: none
	}{
		{"0", 0}, {"75", 75}, {"75.5", 75.5}, {"1:15.5", 75.5}, {"0:10", 10}, {"1:01:15", 3675}, {"90:00", 5400}, {".5", 0.5}, {"24:00:00", 86400},
		{"", -1}, {":", -1}, {"1:", -1}, {"1:60", -1}, {"-1", -1}, {"1e3", -1}, {"1.5:00", -1}, {"1:2:3:4", -1}, {"inf", -1}, {"0x10", -1}, {"1..2", -1}, {"24:00:01", -1}, {"1_0", -1},
	} {
		got, err := ParseTime(c.text)
		if (err != nil) != (c.want < 0) || err == nil && got != c.want {
			t.Errorf("%q: %g, %v", c.text, got, err)
		}
	}
}

func FuzzTime(f *testing.F) {
	for _, s := range []string{"1:15.5", "0", "::", "1:60", "9999999999999999999999"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if v, err := ParseTime(s); err == nil && !(v >= 0 && v <= 86400) {
			t.Fatalf("%q was read as %g", s, v)
		}
	})
}
