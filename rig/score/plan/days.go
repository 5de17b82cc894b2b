package plan

import "fmt"

// Days reads days of work such as 2026-03-02, with the hours such as 09:00 from and to which runs are done on each, at
// one bench.
func Days(days []string, from, to, bench string) ([]Day, error) {
	opens, ok := parseClock(from)
	if !ok || opens >= dayMin {
		return nil, fmt.Errorf("found --from %q, expected a time such as 09:00", from)
	}
	closes, ok := parseClock(to)
	if !ok || closes <= opens || closes > dayMin {
		return nil, fmt.Errorf("found --to %q, expected a time of the same day after %s", to, from)
	}
	if len(days) == 0 {
		return nil, fmt.Errorf("--day is missing: at least one day of work, such as 2026-03-02")
	}
	var out []Day
	for _, d := range days {
		if _, ok := dateNumber(d); !ok {
			return nil, fmt.Errorf("found --day %q, expected a day such as 2026-03-02", d)
		}
		out = append(out, Day{Label: d, OpenMin: opens, Minutes: closes - opens, Benches: []string{bench}})
	}
	return out, nil
}
