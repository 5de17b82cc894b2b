package report

import (
	"testing"

	"quern/rig"
)

// How a weighing was taken says all that speaks against it.
func TestTakenWords(t *testing.T) {
	for want, w := range map[string]rig.Weighing{
		"typed in":         {Typed: true},
		"taken by itself":  {Auto: true, Stable: rig.Yes},
		"taken on request": {},
		"taken on request, not stable, while the motor ran, moving -2.5 g/min": {Stable: rig.No, Shaken: true, SlopeGPerMin: rig.Fig(-2.5)},
		"taken by itself, while the motor ran":                                 {Auto: true, Shaken: true, SlopeGPerMin: rig.Fig(0)},
	} {
		if got := TakenWords(w); got != want {
			t.Errorf("%+v: got %q, want %q", w, got, want)
		}
	}
}
