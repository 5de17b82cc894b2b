package report

import (
	"strings"
	"testing"

	"quern/rig"
)

func TestStrip(t *testing.T) {
	run := &rig.Run{StartS: rig.Fig(10), EndS: rig.Fig(70), ElapsedS: rig.Fig(60), RunTimeS: rig.Fig(60),
		Events: []rig.Event{{Kind: rig.MotorStart, AtS: rig.Fig(10)}, {Kind: rig.StallStart, AtS: rig.Fig(30)}, {Kind: rig.StallEnd, AtS: rig.Fig(34)}, {Kind: rig.Trip, AtS: rig.Fig(34)}},
		States: []rig.Span{{State: rig.Starting, FromS: rig.Fig(10), ToS: rig.Fig(10.3)}, {State: rig.NoLoad, FromS: rig.Fig(10.3), ToS: rig.Fig(15)},
			{State: rig.Loaded, FromS: rig.Fig(15), ToS: rig.Fig(30)}, {State: rig.Stalled, FromS: rig.Fig(30), ToS: rig.Fig(34)}, {State: rig.Tripped, FromS: rig.Fig(34), ToS: rig.Fig(70)}}}
	got := string(Strip(run, 240))
	for _, want := range []string{`aria-label="run time 1:00.0 of 4:00.0, 1 stall, 1 presumed trip, not clear at the end"`, `class="starting"`, `class="no-load"`, `class="loaded"`,
		`class="stalled" fill="url(#crossed)"`, `class="trip"`, `class="limit" d="M230.4 0V22"`} {
		if !strings.Contains(got, want) {
			t.Errorf("no %s in %s", want, got)
		}
	}
	// A run twice as long as the limit fills the width, with the limit in its middle.
	run.EndS, run.ElapsedS, run.RunTimeS = rig.Fig(490), rig.Fig(480), rig.Fig(480)
	if got := string(Strip(run, 240)); !strings.Contains(got, `class="limit" d="M120.0 0V22"`) {
		t.Errorf("the limit is not in the middle: %s", got)
	}
	for _, none := range []*rig.Run{nil, {}, {StartS: rig.Fig(3), EndS: rig.Fig(3)}} {
		if got := Strip(none, 240); got != "" {
			t.Errorf("a strip of nothing: %s", got)
		}
	}
}
