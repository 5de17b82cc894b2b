package config

import (
	"os"
	"path/filepath"
	"strings"
	"time"

	"quern/rig"
)

// Day returns the day of an instant in the bench's time zone, such as 2026-12-01; in UTC where none is in force.
func (l *Lab) Day(t time.Time) string {
	z, _ := rig.Zone(l.Bench.TimeZone) // a Lab is checked
	return t.In(z).Format(time.DateOnly)
}

// EndOf returns the instant at which a day such as 2026-12-01 ends in the bench's time zone. False: it is no day.
func (l *Lab) EndOf(day string) (time.Time, bool) {
	d, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return time.Time{}, false
	}
	z, _ := rig.Zone(l.Bench.TimeZone)
	return startOf(d.AddDate(0, 0, 1), z), true
}

// startOf returns the first instant of a day; where the clock is put forward at midnight there is no midnight.
func startOf(d time.Time, z *time.Location) time.Time {
	t := time.Date(d.Year(), d.Month(), d.Day(), 0, 0, 0, 0, z)
	if t.Day() == d.Day() {
		return t
	}
	_, t = t.ZoneBounds() // it was taken in the time before
	return t
}

// OwnZone puts the machine's own time zone in force where the lab names none; "" is none. Whoever records or ranks by
// days asks for it; reading a lab does not depend on the machine.
func (l *Lab) OwnZone(name string) {
	if l.Bench.TimeZone == "" {
		l.Bench.TimeZone = name
	}
}

// MachineZone returns the IANA name of this machine's time zone; "UTC" where the machine does not tell it.
func MachineZone() string { return machineZone("/", os.Getenv("TZ"), time.Local) }

// machineZone looks where a system keeps the name: TZ, the link /etc/localtime, /etc/timezone. A name that does not
// show what local shows is not believed.
func machineZone(root, tz string, local *time.Location) string {
	names := []string{strings.TrimPrefix(tz, ":")}
	if names[0] == "" {
		if to, err := os.Readlink(filepath.Join(root, "etc/localtime")); err == nil {
			if _, name, ok := strings.Cut(to, "zoneinfo/"); ok {
				names = append(names, name)
			}
		}
		if b, err := os.ReadFile(filepath.Join(root, "etc/timezone")); err == nil && len(b) < 1000 {
			names = append(names, strings.TrimSpace(string(b)))
		}
	}
	for _, n := range names {
		if _, name, ok := strings.Cut(n, "zoneinfo/"); ok { // TZ may hold a path
			n = name
		}
		if z, ok := rig.Zone(n); ok && n != "" && alike(z, local) {
			return n
		}
	}
	return "UTC"
}

// alike tells whether two zones show the same times through a year.
func alike(a, b *time.Location) bool {
	for month := range 12 {
		t := time.Date(2026, time.Month(month+1), 15, 12, 0, 0, 0, time.UTC)
		_, x := t.In(a).Zone()
		_, y := t.In(b).Zone()
		if x != y {
			return false
		}
	}
	return true
}
