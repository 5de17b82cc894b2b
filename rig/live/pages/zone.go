package pages

import (
	"cmp"
	"path/filepath"
	"slices"
	"strings"

	"quern/rig/session/index"
)

// zoneWords says of which clock the days and times of a list are.
func (r *reading) zoneWords() string {
	var zones []string
	for i := range r.records {
		if z := cmp.Or(r.records[i].TimeZone, "UTC"); !slices.Contains(zones, z) {
			zones = append(zones, z)
		}
	}
	slices.Sort(zones)
	switch {
	case len(zones) == 0 || len(zones) == 1 && zones[0] == "UTC":
		return "Times are UTC."
	case len(zones) == 1:
		return "Times are those of the bench, " + zones[0] + "; what is exported is in UTC."
	}
	return "Times are those of the zone that each session keeps: " + strings.Join(zones, ", ") + ". What is exported is in UTC."
}

// whySkipped says why a session is not in the list, and of one that is not sealed what to do.
func (c *Catalogue) whySkipped(s index.Skipped) string {
	if !s.Open {
		return s.Why
	}
	if c.site != nil && c.site.opts.Engine != nil && c.site.opts.Engine.Now().Session == s.Session {
		return "it is being recorded now; it comes into the list when it is ended on the bench"
	}
	return "it is not sealed: it is still being recorded elsewhere, or was cut off. If nothing records it any more, this seals it, and keeps all of it: quern recover " + filepath.Join(c.dir, s.Session)
}
