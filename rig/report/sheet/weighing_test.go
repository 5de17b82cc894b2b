package sheet

import (
	"testing"

	"quern/config"
	"quern/rig"
	"quern/rig/score"
)

// A weighing whose vessel stands in the register is listed with the net mass that counts, and what was taken off.
func TestWeighingByTheRegister(t *testing.T) {
	rec := &rig.Record{Facts: rig.Facts{Weighings: []rig.Weighing{
		{Role: rig.Chamber, Vessel: "bowl", GrossG: rig.Fig(312.4)}, {Role: rig.Chamber, Vessel: "jar", GrossG: rig.Fig(312.4)},
		{Role: rig.Chamber, NetG: rig.Fig(7)},
	}}}
	b := &book{}
	list := b.weighings(rec, score.Nets(&config.Bench{Vessels: []config.Vessel{{ID: "bowl", DryG: 205}}}, rec))
	for i, want := range [][3]string{{"107.4 g", "205.0 g", "by the register, dry"}, {"-", "-", ""}, {"7.0 g", "-", ""}} {
		if got := [3]string{list[i].Net, list[i].Tare, list[i].From}; got != want {
			t.Errorf("weighing %d: got %q, want %q", i, got, want)
		}
	}
}
