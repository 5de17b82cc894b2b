package score

import (
	"strings"
	"testing"

	"quern/config"
	"quern/rig"
)

// Who types a mass is told of a slip while it can be weighed again.
func TestTyped(t *testing.T) {
	set := config.Setup{Bench: config.DefaultBench(), Procedure: config.DefaultProcedure("mixed")}
	set.Bench.Vessels = []config.Vessel{{ID: "bowl-1", DryG: 412}}
	set.Procedure.Items = []config.Item{{Name: "carrot", MassG: 500, ToleranceG: 10}}
	set.Procedure.After.OutputHigh = 1.3
	fed := []rig.Weighing{{Role: rig.Empty, Vessel: "pot", GrossG: rig.Fig(100)}, {Role: rig.Charge, Item: "carrot", NetG: rig.Fig(500)}}
	for name, c := range map[string]struct {
		w    rig.Weighing
		says string // "": nothing
	}{
		"leftovers in a vessel":             {rig.Weighing{Role: rig.Chamber, Vessel: "bowl-1", GrossG: rig.Fig(453)}, ""},
		"a digit too many":                  {rig.Weighing{Role: rig.Chamber, Vessel: "bowl-1", GrossG: rig.Fig(4530)}, "4118 g net is more than 130 % of the 500 g that were fed"},
		"no tare and no vessel":             {rig.Weighing{Role: rig.Chamber, GrossG: rig.Fig(453)}, "453 g count as they are"},
		"a display that was set to zero":    {rig.Weighing{Role: rig.Chamber, GrossG: rig.Fig(41), TareG: rig.Fig(0)}, ""},
		"a vessel that nobody knows":        {rig.Weighing{Role: rig.Chamber, Vessel: "bowl-9", GrossG: rig.Fig(453)}, "bowl-9 stands in no register"},
		"one that was weighed empty":        {rig.Weighing{Role: rig.Chamber, Vessel: "pot", GrossG: rig.Fig(140)}, ""},
		"another vessel than the one it is": {rig.Weighing{Role: rig.Chamber, Vessel: "bowl-1", GrossG: rig.Fig(140)}, "-272 g net is less than nothing"},
		"kilograms taken for grams":         {rig.Weighing{Role: rig.Charge, Item: "carrot", NetG: rig.Fig(0.5)}, "0.5 g net of carrot, where 500 ±10 g are wanted"},
		"a charge that is a little off":     {rig.Weighing{Role: rig.Charge, Item: "carrot", NetG: rig.Fig(515)}, ""},
	} {
		got := strings.Join(Typed(set, fed, c.w), "; ")
		if c.says == "" && got != "" || !strings.Contains(got, c.says) {
			t.Errorf("%s: got %q, want %q", name, got, c.says)
		}
	}
}
