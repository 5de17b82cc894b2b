package rig

import (
	"testing"
	"time"
)

// Days and times of day west and east of Greenwich, and in nights in which the clock is changed. Offsets and changes of
// the clock are those of the IANA time zone database.
func TestDays(t *testing.T) {
	for _, c := range []struct{ zone, at, day, clock, off string }{
		{"", "2026-03-02T01:30:00Z", "2026-03-02", "01:30", "UTC"},
		{"UTC", "2026-03-02T01:30:00Z", "2026-03-02", "01:30", "UTC"},
		{"America/Chicago", "2026-03-02T01:30:00Z", "2026-03-01", "19:30", "UTC\u221206:00"}, // an evening
		{"America/Chicago", "2026-03-02T15:00:00Z", "2026-03-02", "09:00", "UTC\u221206:00"},
		{"Pacific/Auckland", "2026-03-01T20:00:00Z", "2026-03-02", "09:00", "UTC+13:00"}, // a morning
		{"Asia/Kathmandu", "2026-03-01T18:14:59Z", "2026-03-01", "23:59", "UTC+05:45"},
		{"Asia/Kathmandu", "2026-03-01T18:15:00Z", "2026-03-02", "00:00", "UTC+05:45"},
		// Put back at 2:00 to 1:00: half past one comes twice.
		{"America/Chicago", "2026-11-01T06:30:00Z", "2026-11-01", "01:30", "UTC\u221205:00"},
		{"America/Chicago", "2026-11-01T07:30:00Z", "2026-11-01", "01:30", "UTC\u221206:00"},
		// That day has 25 hours, and the one on which it is put forward 23.
		{"America/Chicago", "2026-11-01T04:59:59Z", "2026-10-31", "23:59", "UTC\u221205:00"},
		{"America/Chicago", "2026-11-02T05:59:59Z", "2026-11-01", "23:59", "UTC\u221206:00"},
		{"Europe/Paris", "2026-03-28T22:59:59Z", "2026-03-28", "23:59", "UTC+01:00"},
		{"Europe/Paris", "2026-03-29T21:59:59Z", "2026-03-29", "23:59", "UTC+02:00"},
		{"Europe/Paris", "2026-03-29T22:00:00Z", "2026-03-30", "00:00", "UTC+02:00"},
	} {
		at, err := time.Parse(time.RFC3339, c.at)
		if err != nil {
			t.Fatal(err)
		}
		r := Record{Started: at, TimeZone: c.zone}
		if r.Day() != c.day || r.Clock() != c.clock || r.Zone() != c.off {
			t.Errorf("%s in %q: got %s %s %s, want %s %s %s", c.at, c.zone, r.Day(), r.Clock(), r.Zone(), c.day, c.clock, c.off)
		}
		if got, want := r.InstantWords(at), c.day+" "+c.clock+" "+c.off; got != want {
			t.Errorf("%s in %q: got %q, want %q", c.at, c.zone, got, want)
		}
	}
}

// What lies beside the zones on a disk is none, and neither is what another machine would not have.
func TestZones(t *testing.T) {
	for _, name := range []string{"Local", "localtime", "posixrules", "tzdata.zi", "right/UTC", "posix/UTC", "/etc/localtime", "../UTC", "America/", "America", "America/Nowhere", "CST", " UTC", "Etc/../UTC"} {
		if z, ok := Zone(name); ok || z != time.UTC {
			t.Errorf("%q: got %v, %t", name, z, ok)
		}
	}
	for _, name := range []string{"", "UTC", "Etc/GMT+5", "America/Argentina/Buenos_Aires", "America/Port-au-Prince", "EST5EDT"} {
		for range 2 { // from the disk, then as it was kept
			if z, ok := Zone(name); !ok || name != "" && z.String() != name {
				t.Errorf("%q: got %v, %t", name, z, ok)
			}
		}
	}
}
