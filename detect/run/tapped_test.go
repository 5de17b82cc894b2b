package run_test

import "testing"

// TestTapJustBefore opens a tap, which drums a little, a second and a half before a motor that lifts the low octaves far more:
// the motor's start is its own, also where it coasts through the tap's level.
func TestTapJustBefore(t *testing.T) {
	drums := spectrum{20, 20, 40, 48, 50, 54, 56, 56}
	deep := aMotor.plus(16)
	scene := []sounding{{3.4, 24, drums, nil}, {5, 20, deep, nil}, {20, 23, deep, coasts}}
	if _, got := hear(t, 30, 0.01, true, scene, nil); !alike(got, "start@5.0 stop@20.0") {
		t.Error(got)
	}
}
