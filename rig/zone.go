package rig

import (
	"fmt"
	"regexp"
	"sync"
	"time"
	_ "time/tzdata" // a small machine may have no zones of its own
)

// zoneForm is what the names of time zones look like; what else lies beside them on a disk begins small: posixrules.
var zoneForm = regexp.MustCompile(`^[A-Z][A-Za-z0-9_+-]*(/[A-Za-z0-9_+-]+)*$`)

// zones keeps what was read: a report asks for the same zone a thousand times.
var zones sync.Map // of *time.Location by name

// Zone returns the time zone of an IANA name such as America/Chicago; "" is UTC. False: there is none of that name.
func Zone(name string) (*time.Location, bool) {
	if name == "" || name == "UTC" {
		return time.UTC, true
	}
	if z, ok := zones.Load(name); ok {
		return z.(*time.Location), true
	}
	if name == "Local" || len(name) > 64 || !zoneForm.MatchString(name) {
		return time.UTC, false
	}
	z, err := time.LoadLocation(name)
	if err != nil {
		return time.UTC, false
	}
	zones.Store(name, z)
	return z, true
}

// Local returns an instant as the clock of the session's bench showed it; in UTC where the session names no zone.
func (r *Record) Local(t time.Time) time.Time {
	z, _ := Zone(r.TimeZone) // reading a session refuses a zone that is none
	return t.In(z)
}

// Day returns the day on which the session began, in the zone of its bench: "2026-03-01".
func (r *Record) Day() string { return r.Local(r.Started).Format(time.DateOnly) }

// Clock returns the time of day at which it began: "19:04".
func (r *Record) Clock() string { return r.Local(r.Started).Format("15:04") }

// Zone says how far that clock was from UTC when the session began: "UTC", "UTC+01:00".
func (r *Record) Zone() string { return offsetWords(r.Local(r.Started)) }

// InstantWords writes an instant with its day, time of day and zone: "2026-03-01 19:04 UTC+01:00".
func (r *Record) InstantWords(t time.Time) string {
	t = r.Local(t)
	return t.Format("2006-01-02 15:04 ") + offsetWords(t)
}

// offsetWords says how far the clock that shows t is from UTC. The minus is one at which no line
// ends.
func offsetWords(t time.Time) string {
	_, offset := t.Zone()
	if offset == 0 {
		return "UTC"
	}
	sign := "+"
	if offset < 0 {
		sign, offset = "\u2212", -offset
	}
	return fmt.Sprintf("UTC%s%02d:%02d", sign, offset/3600, offset%3600/60)
}
