// Package mass reads the indications of a scale: whether the pan is at rest, what it then shows, when
// a load has been placed or removed and can be taken as a weighing, and how long leftovers drained.
// Masses are in grams, times in seconds since the session began, slopes in grams a minute.
//
// There is one idea of rest: indications that stay within one division, over a stretch of time. A
// [Pan] asks it of the last second, a [Taker] of as long as a weighing needs.
package mass

import "quern/rig"

// restS is the time over which a pan at rest stays within one division (common practice).
const restS = 1.0

// still says whether a spread is that of a pan at rest: no more than a division. The thousandth is
// for divisions such as 0.1 g that binary numbers do not hold.
func still(spreadG, divisionG float64) bool { return spreadG <= divisionG*1.001 }

// Reading is an indication and whether the pan moved round it.
type Reading struct {
	AtS   float64
	MassG float64
	// Shaky: the last second spread over more than a division, or the scale's own mark says so. A
	// stable mark alone is no evidence: it may hold while the bench shakes.
	Shaky bool
}

// Pan watches one scale.
type Pan struct {
	divisionG float64
	recent    []rig.Reading
	spreadG   float64 // of the last second
}

// New returns a pan for a scale with the given division.
func New(divisionG float64) *Pan { return &Pan{divisionG: divisionG} }

// Push takes the next indication.
func (p *Pan) Push(r rig.Reading) Reading {
	p.recent = append(p.recent, r)
	first := 0
	for first < len(p.recent)-1 && p.recent[first].AtS < r.AtS-restS {
		first++
	}
	p.recent = append(p.recent[:0], p.recent[first:]...)
	lo, hi := r.Value, r.Value
	for _, q := range p.recent {
		lo, hi = min(lo, q.Value), max(hi, q.Value)
	}
	p.spreadG = hi - lo
	return Reading{AtS: r.AtS, MassG: r.Value, Shaky: !still(p.spreadG, p.divisionG) || r.Stable == rig.No}
}
