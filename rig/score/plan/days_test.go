package plan

import (
	"strings"
	"testing"
)

// Days of work are read as a person writes them, and what is none is told.
func TestDays(t *testing.T) {
	got, err := Days([]string{"2026-03-02", "2026-03-04"}, "09:30", "17:00", "kitchen")
	if err != nil || len(got) != 2 || got[1].Label != "2026-03-04" || got[0].OpenMin != 570 || got[0].Minutes != 450 || got[0].Benches[0] != "kitchen" {
		t.Errorf("got %+v, %v", got, err)
	}
	for _, c := range []struct {
		days           []string
		from, to, says string
	}{
		{[]string{"02.03.2026"}, "09:00", "17:00", `found --day "02.03.2026"`},
		{[]string{"2026-02-30"}, "09:00", "17:00", `found --day "2026-02-30"`},
		{[]string{"2026-03-02"}, "nine", "17:00", `found --from "nine"`},
		{[]string{"2026-03-02"}, "09:00", "08:00", `found --to "08:00", expected a time of the same day after 09:00`},
		{[]string{"2026-03-02"}, "09:00", "25:00", `found --to "25:00"`},
		{[]string{"2026-03-02"}, "24:00", "25:00", `found --from "24:00"`},
		{nil, "09:00", "17:00", "--day is missing"},
	} {
		if _, err := Days(c.days, c.from, c.to, "kitchen"); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v from %s to %s: got %v, want %q", c.days, c.from, c.to, err, c.says)
		}
	}
}
