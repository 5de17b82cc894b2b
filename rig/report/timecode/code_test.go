package timecode

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"
)

// TestCode checks time code against worked values that were published with their numbering.
func TestCode(t *testing.T) {
	f, err := os.Open("../../../testdata/reference/timecode.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 40 {
		t.Fatalf("found %d rows, expected the whole table", len(rows))
	}
	for _, row := range rows[1:] {
		rate, err := ParseRate(row[0])
		if err != nil {
			t.Fatal(err)
		}
		frame, _ := strconv.ParseInt(row[1], 10, 64)
		if got := rate.Code(frame); got != row[2] {
			t.Errorf("frame %d at %s: %s, expected %s", frame, rate.Name, got, row[2])
		}
		if got, err := rate.ParseCode(row[2]); err != nil || got != frame {
			t.Errorf("%s at %s: frame %d (%v), expected %d", row[2], rate.Name, got, err, frame)
		}
	}
}

// TestCodeKeepsUp: drop-frame code is 86 ms off the clock after a day, the other is 86.4 s behind (both figures
// are in the trade's handbooks; from memory).
func TestCodeKeepsUp(t *testing.T) {
	for _, c := range []struct {
		name string
		day  int64 // frames numbered in 24 h of code
		offS float64
	}{{"29.97df", 2589408, -0.0864}, {"59.94df", 5178816, -0.0864}, {"29.97", 2592000, 86.4}, {"25", 2160000, 0}} {
		r, _ := ParseRate(c.name)
		if got := r.Code(c.day - 1); got[:8] != "23:59:59" {
			t.Errorf("%s: last frame of the day is %s", c.name, got)
		}
		if got := r.Code(c.day); got[:8] != "00:00:00" {
			t.Errorf("%s: first frame of the next day is %s", c.name, got)
		}
		if off := float64(c.day)/r.PerSecond() - 86400; off-c.offS > 0.001 || c.offS-off > 0.001 {
			t.Errorf("%s: a day of code lasts %+.4f s more than a day, expected %.4f s", c.name, off, c.offS)
		}
	}
}

func TestCodeRoundTrip(t *testing.T) {
	for _, r := range Rates {
		last := ""
		for n := int64(0); n < 24*3600*r.Count; n += 1 + n/5000 {
			c := r.Code(n)
			back, err := r.ParseCode(c)
			if err != nil {
				t.Fatal(err)
			}
			if n < 24*3600*r.Count-24*60*9*r.Drop && back != n {
				t.Fatalf("%s: frame %d is %s, which is frame %d", r.Name, n, c, back)
			}
			if c == last {
				t.Fatalf("%s: two frames are %s", r.Name, c)
			}
			last = c
		}
	}
}

func TestParseCodeRefuses(t *testing.T) {
	for _, c := range []struct{ rate, code string }{
		{"24", "01:00:13:24"}, {"25", "00:00:00:25"}, {"29.97df", "00:01:00;00"}, {"29.97df", "00:01:00;01"}, {"59.94df", "00:11:00;03"},
		{"25", "00:00:00;10"}, {"25", "24:00:00:00"}, {"25", "-1:00:00:00"}, {"25", "1:00:00:00"}, {"25", ""}, {"25", "00;00:00:00"}, {"25", "00:60:00:00"}, {"25", "aa:bb:cc:dd"}, {"25", "00:00:00:::"},
	} {
		r, _ := ParseRate(c.rate)
		if n, err := r.ParseCode(c.code); err == nil {
			t.Errorf("%s at %s: frame %d, expected a refusal", c.code, c.rate, n)
		}
	}
	if _, err := ParseRate("26"); err == nil {
		t.Error("a rate of 26 was taken")
	}
}

func FuzzParseCode(f *testing.F) {
	for _, s := range []string{"01:00:00:00", "00:10:00;00", "00:01:00;02", "xx", ";;;;;;;;;;;"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, r := range Rates {
			if n, err := r.ParseCode(s); err == nil {
				if c := r.Code(n); c[:8] != s[:8] || c[9:] != s[9:] {
					t.Fatalf("%q at %s is frame %d, which is %s", s, r.Name, n, c)
				}
			}
		}
	})
}
