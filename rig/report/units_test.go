package report

import (
	"strings"
	"testing"

	"quern/config"
	"quern/rig/score"
)

// Of a few sessions only their units are printed; the others are named once.
func TestUnitsWithoutARun(t *testing.T) {
	unit := func(id string) *score.Unit { return &score.Unit{Unit: &config.Unit{ID: id}} }
	units := []*score.Unit{unit("unit-a"), unit("unit-b"), unit("unit-c")}
	print := func(c *score.Campaign, units []*score.Unit) string {
		var b strings.Builder
		if err := Units(&b, c, units, "2026-03-01"); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	some := &score.Campaign{Runs: []*score.Run{{Unit: "unit-b"}}}
	if got := print(some, units); strings.Count(got, "points") != 1 || !strings.HasPrefix(got, "unit-b: ") || !strings.HasSuffix(got, "\nno run of unit-a, unit-c\n") {
		t.Errorf("got %q", got)
	}
	if got := print(some, units[:1]); !strings.HasPrefix(got, "unit-a: ") {
		t.Errorf("one that was asked for: got %q", got)
	}
	if got := print(&score.Campaign{}, units); strings.Count(got, "points") != 3 {
		t.Errorf("no run at all: got %q", got)
	}
}
