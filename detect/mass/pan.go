// Package mass reads the indications of a scale: whether the pan is at rest, and what it then shows.
// Masses are in grams, times in seconds since the session began.
package mass

import "quern/rig"

// restS is the time over which a pan at rest stays within one division (common practice).
const restS = 1.0

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
	return Reading{AtS: r.AtS, MassG: r.Value, Shaky: hi-lo > p.divisionG*1.001 || r.Stable == rig.No}
}
