package report

import (
	"strings"
	"testing"

	"quern/config"
	"quern/rig"
)

// What a check showed is told with what follows from it. The permissible errors are those of OIML R 76-1:2006, 3.5.1,
// Table 6, and twice them in service (3.5.2): up to 500 e of class III 1 e in service, up to 2000 e 2 e.
func TestCheckWords(t *testing.T) {
	var b config.Bench
	b.Microphone.FullScaleDB = 120
	b.Scale = config.Scale{DivisionG: 1, Class: "III", InService: true}
	for name, c := range map[string]struct {
		kind           rig.CheckKind
		nominal, found float64
		says, not      string
	}{
		"a calibrator that is shown right":    {rig.CheckSound, 94, 93.8, "check of the microphone, 93.8 dB where 94 dB should be", "full_scale_db"},
		"one that is shown too low":           {rig.CheckSound, 94, 91.3, "with microphone.full_scale_db at 122.7 instead of 120 it would be right", "slip"},
		"a point that was forgotten":          {rig.CheckSound, 94, 938, "if that was a slip", "full_scale_db"},
		"a weight within its class":           {rig.CheckScale, 1000, 1002, "1002 g where 1000 g should be", "OIML"},
		"a weight beyond it":                  {rig.CheckScale, 1000, 1003, "+3 g off, and a scale of class III may be 2 g off there (OIML R 76)", "slip"},
		"a weight beyond it, of a small load": {rig.CheckScale, 500, 498, "-2 g off, and a scale of class III may be 1 g off there", "slip"},
		"kilograms":                           {rig.CheckScale, 500, 0.5, "if that was a slip", "OIML"},
		"a load through the clamp":            {rig.CheckClamp, 8.3, 8.2, "check of the clamp, 8.2 A where 8.3 A should be", "slip"},
	} {
		got := CheckWords(rig.Check{Kind: c.kind, Nominal: rig.Fig(c.nominal), Found: rig.Fig(c.found)}, &b)
		if !strings.Contains(got, c.says) || strings.Contains(got, c.not) {
			t.Errorf("%s: got %q, want it to say %q and nothing of %q", name, got, c.says, c.not)
		}
	}
	if got := CheckWords(rig.Check{Kind: rig.CheckSupply, Found: rig.Fig(119.2)}, &b); got != "check of the supply, 119.2 V" {
		t.Errorf("without what should be: got %q", got)
	}
}

// A check's values keep what was read: a thousand grams and a half are not a thousand, nor is twenty kilograms 2e+04.
func TestCheckValues(t *testing.T) {
	for want, k := range map[string]rig.Check{
		"94.0 dB, 94.1 dB":     {Kind: rig.CheckSound, Nominal: rig.Fig(94), Found: rig.Fig(94.1)},
		"20000.0 g, 20000.5 g": {Kind: rig.CheckScale, Nominal: rig.Fig(20000), Found: rig.Fig(20000.5)},
		"1000 g, 1000 g":       {Kind: rig.CheckScale, Nominal: rig.Fig(1000), Found: rig.Fig(1000)},
		"-, 6.25 L/min":        {Kind: rig.CheckWater, Nominal: rig.Absent("not stated"), Found: rig.Fig(6.25)},
		"0.000 A, 0.333 A":     {Kind: rig.CheckClamp, Nominal: rig.Fig(0), Found: rig.Fig(1.0 / 3)},
	} {
		if nominal, found := CheckValues(k); nominal+", "+found != want {
			t.Errorf("got %s, %s, want %s", nominal, found, want)
		}
	}
}
