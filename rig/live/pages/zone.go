package pages

import (
	"fmt"
	"path/filepath"
	"time"

	"quern/rig/session/index"
)

// What is recorded is in UTC; the pages show days and times of day of the machine that serves them, which stands at the bench or
// is the reviewer's own.

// dayOf is the day on which something was, as 2026-03-02.
func (c *Catalogue) dayOf(t time.Time) string { return t.In(c.zone).Format(time.DateOnly) }

// clockOf is the time of day, as 10:04.
func (c *Catalogue) clockOf(t time.Time) string { return t.In(c.zone).Format("15:04") }

// zoneOf says in which zone that time is: "UTC", "UTC+01:00".
func (c *Catalogue) zoneOf(t time.Time) string {
	_, offset := t.In(c.zone).Zone()
	if offset == 0 {
		return "UTC"
	}
	sign := "+"
	if offset < 0 {
		sign, offset = "\u2212", -offset // a minus: no line ends there
	}
	return fmt.Sprintf("UTC%s%02d:%02d", sign, offset/3600, offset%3600/60)
}

// zoneWords says of which clock the times of a list are.
func (c *Catalogue) zoneWords() string {
	if z := c.zoneOf(c.now()); z != "UTC" {
		return "Times are those of the machine that serves this page, now " + z + "; what is kept and exported is in UTC."
	}
	return "Times are UTC, as on the machine that serves this page."
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
