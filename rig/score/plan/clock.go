package plan

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

const dayMin = 24 * 60 // min

// starts returns the instants, in minutes from one origin, at which the days' midnights are. Dates
// lie as far apart as they are; a label that is no date means the day after the one before it.
func starts(days []Day) []int {
	out := make([]int, len(days))
	for i, d := range days {
		n, ok := dateNumber(d.Label)
		switch {
		case ok:
			out[i] = n * dayMin
		case i > 0:
			out[i] = out[i-1] + dayMin
		}
	}
	return out
}

// dateNumber counts the days of the Gregorian calendar up to a date such as 2026-11-03.
func dateNumber(label string) (int, bool) {
	if len(label) != 10 || label[4] != '-' || label[7] != '-' {
		return 0, false
	}
	y, errY := strconv.Atoi(label[:4])
	m, errM := strconv.Atoi(label[5:7])
	d, errD := strconv.Atoi(label[8:])
	if errY != nil || errM != nil || errD != nil || y < 1 || m < 1 || m > 12 || d < 1 || d > monthDays(y, m) {
		return 0, false
	}
	n := d
	for i := 1; i < m; i++ {
		n += monthDays(y, i)
	}
	y--
	return 365*y + y/4 - y/100 + y/400 + n, true
}

func monthDays(y, m int) int {
	switch {
	case m == 2 && (y%4 == 0 && y%100 != 0 || y%400 == 0):
		return 29
	case m == 2:
		return 28
	case m == 4 || m == 6 || m == 9 || m == 11:
		return 30
	}
	return 31
}

// clock writes a minute of the day as 09:05.
func clock(minute int) string { return fmt.Sprintf("%02d:%02d", minute/60, minute%60) }

// parseClock reads what clock writes; spreadsheets like to drop the leading 0 or to add seconds.
func parseClock(s string) (int, bool) {
	h, m, ok := strings.Cut(s, ":")
	m, seconds, more := strings.Cut(m, ":")
	hours, errH := strconv.ParseUint(h, 10, 8)
	minutes, errM := strconv.ParseUint(m, 10, 8)
	if !ok || more && seconds != "00" || errH != nil || errM != nil || hours > 47 || minutes > 59 {
		return 0, false
	}
	return int(hours)*60 + int(minutes), true
}

// run is a stretch of a unit's time, in minutes from the origin of starts.
type run struct{ start, end, rest int }

// earliest returns the first instant from which a unit with these runs (sorted by start) can do one
// more with its rest before the next.
func earliest(runs []run, from, minutes, rest int) int {
	for _, r := range runs {
		if from+minutes+rest <= r.start {
			break
		}
		from = max(from, r.end+r.rest)
	}
	return from
}

// place is one bench on one day.
type place struct{ day, bench string }

// timed is when a slot runs, in minutes from the origin of starts.
type timed struct {
	start, end int
	ready      int // when its unit has rested after it; only of planned
	wait       int // bench idle for that
	over       int // by how much it outlasts its day
}

// times works out when the slots run if each starts as soon as its bench is free and its unit has
// rested. Slots that were run stay where they were planned, and those before them that are still open
// run around them: what was run ahead of its turn holds up nothing but its own unit. What is left over
// from a past day has no time.
func (p Plan) times() []timed {
	midnights := starts(p.Days)
	midnight, closes, free := map[string]int{}, map[string]int{}, map[place]int{}
	for i, d := range p.Days {
		midnight[d.Label], closes[d.Label] = midnights[i], midnights[i]+d.OpenMin+d.Minutes
		for _, b := range d.Benches {
			free[place{d.Label, b}] = midnights[i] + d.OpenMin
		}
	}
	out := make([]timed, len(p.Slots))
	taken, units := map[place][]run{}, map[string][]run{}
	for i, s := range p.Slots {
		if s.tried() {
			minutes, rest := p.takes(s)
			start, at := midnight[s.Day]+s.StartMin, place{s.Day, s.Bench}
			out[i] = timed{start: start, end: start + minutes, over: max(0, start+minutes-closes[s.Day])}
			taken[at] = inserted(taken[at], run{start, start + minutes, 0})
			units[s.Unit] = inserted(units[s.Unit], run{start, start + minutes, rest})
		}
	}
	last := p.lastRunDay()
	for i, s := range p.Slots {
		at := place{s.Day, s.Bench}
		if s.What == Open && !p.leftOver(s, last) {
			minutes, rest := p.takes(s)
			from := free[at]
			if of := p.find(s.Replaces()); of >= 0 {
				from = max(from, out[of].end) // a replacement comes after what it replaces
			}
			start := fitting(taken[at], units[s.Unit], from, minutes, rest)
			end := start + minutes
			out[i] = timed{start: start, end: end, wait: start - freeBefore(taken[at], free[at], start), over: max(0, end-closes[s.Day])}
			units[s.Unit] = inserted(units[s.Unit], run{start, end, rest})
		}
		free[at] = max(free[at], out[i].end)
	}
	return out
}

// fitting returns the first instant from which a run fits among those of its bench and of its unit.
func fitting(bench, unit []run, from, minutes, rest int) int {
	for {
		at := earliest(unit, earliest(bench, from, minutes, 0), minutes, rest)
		if at == from {
			return at
		}
		from = at
	}
}

// freeBefore returns since when a bench that is free from an instant, but for its runs, is idle at another.
func freeBefore(bench []run, from, at int) int {
	for _, r := range bench {
		if r.end <= at {
			from = max(from, r.end)
		}
	}
	return from
}

// retime writes the planned starts and waits of what is open into the slots.
func (p *Plan) retime() {
	midnights := starts(p.Days)
	for i, t := range p.times() {
		s := &p.Slots[i]
		if s.What != Open || t.end == 0 {
			continue
		}
		d := slices.IndexFunc(p.Days, func(d Day) bool { return d.Label == s.Day })
		s.StartMin, s.WaitMin = t.start-midnights[d], t.wait
	}
}

// leftOver tells whether s is open although something was run on a later day; last is the last on
// which anything was.
func (p Plan) leftOver(s Slot, last int) bool { return s.What == Open && p.dayOf(s.Day) < last }
