package simulated

import (
	"slices"
	"testing"

	"quern/acquire/sim"
)

// Every play of the day is a scenario, and all deliver the same streams: a device does not change them.
func TestDayIsOneDevice(t *testing.T) {
	draw, ok := Playing(DayName)
	if !ok {
		t.Fatal("there is no day")
	}
	streams := func(sc sim.Scenario) any {
		b, err := sim.New(sc)
		if err != nil {
			t.Fatalf("%s: %v", sc.Name, err)
		}
		return b.Streams()
	}
	first := draw(1)
	want := first.Sound.RateHz
	for i, name := range dayPlays {
		sc := draw(uint64(i + 1))
		if sc.Name != name || sc.Sound.RateHz != want || sc.Current.RateHz != first.Current.RateHz || sc.Mass.RateHz != first.Mass.RateHz {
			t.Errorf("play %d is %q at %g and %g Hz, want %q like the first", i+1, sc.Name, sc.Sound.RateHz, sc.Current.RateHz, name)
		}
	}
	if again := draw(uint64(len(dayPlays) + 1)); again.Name != first.Name || again.Seed == first.Seed {
		t.Errorf("after the last comes %q from seed %d", again.Name, again.Seed)
	}
	if streams(first) == nil {
		t.Error("no streams")
	}
	if _, ok := Playing("night"); ok {
		t.Error("there is a night")
	}
	if one, ok := Playing("plain"); !ok || one(2).Name != "plain" || !slices.Contains(Names(), "plain") || Names()[0] != DayName {
		t.Error("plain cannot be played, or is not listed")
	}
}
