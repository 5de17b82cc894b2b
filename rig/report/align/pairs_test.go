package align

import (
	"math"
	"strings"
	"testing"

	"quern/rig/report/timecode"
)

var slatesAt = []float64{20.5, 61}

func TestReadPairs(t *testing.T) {
	rate := timecode.Rates[0]
	for _, r := range timecode.Rates {
		if r.Name == "25" {
			rate = r
		}
	}
	start, err := rate.ParseCode("01:00:00:00")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		text     string
		want     Pair
		mustFail string
	}{
		{text: "12.5=0:20.5", want: Pair{12.5, 20.5}},
		{text: "0:12.5=slate", want: Pair{12.5, 20.5}},
		{text: "1:00:00.25=slate.2", want: Pair{3600.25, 61}},
		{text: "01:00:12:10=84.2", want: Pair{12.4, 84.2}},
		{text: "12.5", mustFail: "CAMERA=SESSION"},
		{text: "1=slate.3", mustFail: "has 2 slate(s)"},
		{text: "1=slate.0", mustFail: "has 2 slate(s)"},
		{text: "1=slates", mustFail: "slate.2"},
		{text: "one=1", mustFail: "one"},
		{text: "1=two", mustFail: "two"},
		{text: "00:00:00:25=1", mustFail: "frames to 24"},
	} {
		got, err := ReadPairs([]string{"3=4", c.text}, rate, start, slatesAt)
		switch {
		case c.mustFail != "":
			if err == nil || !strings.Contains(err.Error(), c.mustFail) || got != nil {
				t.Errorf("%q: %v and %v, expected an error with %q", c.text, got, err, c.mustFail)
			}
		case err != nil:
			t.Errorf("%q: %v", c.text, err)
		case len(got) != 2 || got[0] != (Pair{3, 4}) || math.Abs(got[1].CameraS-c.want.CameraS) > 1e-9 || got[1].SessionS != c.want.SessionS:
			t.Errorf("%q: found %v, expected %v", c.text, got, c.want)
		}
	}
}

func FuzzReadPairs(f *testing.F) {
	for _, s := range []string{"12.5=0:20.5", "0:12.40=slate", "1=slate.2", "01:00:12;10=84.2", "=", "a=slate."} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, rate := range timecode.Rates {
			pairs, err := ReadPairs([]string{s}, rate, 0, slatesAt)
			if err == nil && (len(pairs) != 1 || math.IsNaN(pairs[0].CameraS+pairs[0].SessionS)) {
				t.Fatalf("%q: %v", s, pairs)
			}
		}
	})
}

// A session without a slate is told what a slate is, and what to give instead.
func TestNoSlate(t *testing.T) {
	if _, err := ReadPairs([]string{"1=slate"}, timecode.Rates[2], 0, nil); err == nil || !strings.Contains(err.Error(), "the session has no slate: give the session's time instead") {
		t.Error(err)
	}
}
