package run_test

import (
	"strings"
	"testing"

	"quern/rig"
)

// TestMovedSaysWhatMoved: the evidence of a start or a stop that is heard never says that a level rose which fell.
func TestMovedSaysWhatMoved(t *testing.T) {
	plain := []sounding{{10, 22, aMotor, nil}}
	for _, c := range []struct {
		name        string
		scene       []sounding
		start, stop string
	}{
		{"nothing else", plain, "the sound rose from ", "the sound fell from "},
		{"somebody talks until the start", append(plain, sounding{4, 10, aVoice.plus(15), words}), "the floor of the sound rose by ", "the sound fell from "},
		{"somebody talks from the stop on", append(plain, sounding{22, 27, aVoice.plus(15), words}), "the sound rose from ", "the floor of the sound fell by "},
	} {
		l, _ := hear(t, 34, 0.01, true, c.scene, nil)
		want := map[rig.Kind]string{rig.MotorStart: c.start, rig.MotorStop: c.stop}
		for _, r := range l.Finish(34) {
			for _, e := range r.Events {
				if w := want[e.Kind]; !strings.HasPrefix(e.Evidence, w) {
					t.Errorf("%s: %s at %.1f s on the evidence %q, expected one that begins %q", c.name, e.Kind, e.AtS.V, e.Evidence, w)
				}
				delete(want, e.Kind)
			}
		}
		if len(want) > 0 {
			t.Errorf("%s: not found: %v", c.name, want)
		}
	}
}
