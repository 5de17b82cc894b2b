package align

import (
	"bytes"
	"math"
	"reflect"
	"strings"
	"testing"
)

func TestByPairs(t *testing.T) {
	for _, c := range []struct {
		name     string
		pairs    []Pair
		offset   float64
		drift    float64
		withinS  [2]float64
		driftOK  bool
		mustFail string
	}{
		{"one instant", []Pair{{12.5, 20.5}}, 8, 0, [2]float64{0.03, 0.05}, false, ""},
		{"two, too near each other for a drift", []Pair{{10, 18}, {40, 48.01}}, 8.005, 0, [2]float64{0.02, 0.04}, false, ""},
		// 0.18 s in an hour are 50 millionths.
		{"two, an hour apart", []Pair{{0, 8}, {3600, 3608.18}}, 8, 50, [2]float64{0.02, 0.07}, true, ""},
		{"in any order", []Pair{{3600, 3608.18}, {0, 8}}, 8, 50, [2]float64{0.02, 0.07}, true, ""},
		{"one of three misread", []Pair{{0, 8}, {1800, 1809}, {3600, 3608}}, 0, 0, [2]float64{}, false, NoMatch},
		{"footage at another speed", []Pair{{0, 8}, {3600, 3611.6}}, 0, 0, [2]float64{}, false, NoMatch},
		{"none", nil, 0, 0, [2]float64{}, false, TooShort},
		{"no number", []Pair{{math.NaN(), 8}}, 0, 0, [2]float64{}, false, Imprecise},
	} {
		a, err := ByPairs(c.pairs)
		if code(err) != c.mustFail {
			t.Errorf("%s: %v, expected %q; %+v", c.name, err, c.mustFail, a)
			continue
		}
		if err != nil {
			continue
		}
		if !(math.Abs(a.OffsetS-c.offset) <= 0.003) || !(math.Abs(a.DriftPPM-c.drift) <= 1) || a.DriftKnown != c.driftOK || a.WithinS < c.withinS[0] || a.WithinS > c.withinS[1] || a.Method != ByHand {
			t.Errorf("%s: %+v", c.name, a)
		}
	}
}

func TestClocks(t *testing.T) {
	a := Alignment{OffsetS: -12.5, DriftPPM: 80}
	// 1000 s of the camera last 1000.08 s: -12.5 + 1000.08 = 987.58.
	if got := a.SessionS(1000); !(math.Abs(got-987.58) <= 1e-9) {
		t.Errorf("1000 s of the camera are %g s of the session, expected 987.58", got)
	}
	for _, s := range []float64{-100, 0, 0.04, 3600} {
		if got := a.CameraAtS(a.SessionS(s)); !(math.Abs(got-s) <= 1e-9) {
			t.Errorf("%g s come back as %g s", s, got)
		}
	}
}

func TestJSON(t *testing.T) {
	sure := 0.99987
	a := Alignment{Session: "2026-03-02-a", Camera: "clip <1>.wav", Method: BySound, OffsetS: 12.34567, DriftPPM: -45.678, DriftKnown: true, WithinS: 0.00123,
		Confidence: &sure, Overlap: [2]float64{12.3456, 60}, CameraS: 48.5, Windows: 20, Agreeing: 18}
	var b bytes.Buffer
	if err := JSON(&b, a); err != nil {
		t.Fatal(err)
	}
	// What is stated is never better than what was found.
	for _, want := range []string{`"offset_s": 12.3457`, `"drift_ppm": -45.68`, `"within_s": 0.0013`, `"confidence": 0.9998`, `"camera": "clip <1>.wav"`} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("found no %s in %s", want, b.String())
		}
	}
	back, err := Read(b.Bytes(), "a.json")
	if err != nil {
		t.Fatal(err)
	}
	var c bytes.Buffer
	if err := JSON(&c, back); err != nil || c.String() != b.String() {
		t.Errorf("comes back as %s", c.String())
	}
	a.OffsetS, a.DriftPPM = -0.00001, -0.001
	b.Reset()
	if err := JSON(&b, a); err != nil || strings.Contains(b.String(), `"offset_s": -0`) || strings.Contains(b.String(), `"drift_ppm": -0`) {
		t.Errorf("%v: a negative zero in %s", err, b.String())
	}
	if back, err = Read([]byte(`{"method":"hand","offset_s":-0,"drift_ppm":-0.0}`), "a.json"); err != nil || math.Signbit(back.OffsetS) || math.Signbit(back.DriftPPM) {
		t.Errorf("%v: a negative zero is read: %+v", err, back)
	}
	if back, err = Typed(math.Copysign(0, -1), math.Copysign(0, -1)); err != nil || math.Signbit(back.OffsetS) || math.Signbit(back.DriftPPM) {
		t.Errorf("%v: a negative zero is typed: %+v", err, back)
	}
	for _, text := range []string{"", "{}", "[]", "null", `{"method":"sound","offset_s":1e99}`, `{"method":"sound","drift_ppm":400}`, `{"method":"sound","camera_s":-1}`, b.String() + "{}", b.String()[:40]} {
		if got, err := Read([]byte(text), "bad.json"); err == nil || !strings.HasPrefix(err.Error(), "bad.json: found ") || !reflect.DeepEqual(got, Alignment{}) {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(`{"session":"s","method":"sound","offset_s":12.3,"drift_ppm":40,"camera_s":10}`))
	f.Add([]byte(`{"method":"hand","confidence":null}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		a, err := Read(b, "x")
		if err != nil {
			if !reflect.DeepEqual(a, Alignment{}) {
				t.Fatal("something comes back with an error")
			}
			return
		}
		var one, two bytes.Buffer
		if err := JSON(&one, a); err != nil {
			t.Fatal(err)
		}
		again, err := Read(one.Bytes(), "x")
		if err != nil {
			t.Fatal(err)
		}
		if err := JSON(&two, again); err != nil || one.String() != two.String() {
			t.Fatalf("%s comes back as %s", one.String(), two.String())
		}
	})
}
