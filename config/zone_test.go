package config

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"quern/rig"
)

func TestTimeZoneKey(t *testing.T) {
	for _, c := range []struct{ value, want string }{
		{`"America/Chicago"`, ""},
		{`"UTC"`, ""},
		{`""`, `bench.toml:1:1: found time_zone = "", expected the IANA name of a time zone, such as "America/Chicago", or "UTC"`},
		{`"Local"`, `found time_zone = "Local", expected the IANA name`},
		{`"Chicago"`, `found time_zone = "Chicago", expected the IANA name`},
		{`-6`, `found time_zone = -6, expected the IANA name`},
	} {
		lab := contractLab()
		lab["bench.toml"] = file("time_zone = " + c.value + "\n")
		l, err := Read(lab)
		if c.want == "" {
			if err != nil || `"`+l.Bench.TimeZone+`"` != c.value {
				t.Errorf("%s: %v", c.value, err)
			}
		} else if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %s", c.value, err, c.want)
		}
	}
}

// The zone travels in the settings of a session, and no analysis goes by it.
func TestTimeZoneTravels(t *testing.T) {
	l := mustRead(t, contractLab())
	was, err := l.Setup("unit-a", "mixed")
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(was.TOML(), []byte("time_zone")) {
		t.Error("a zone that nobody named is written: settings of older sessions would read as others")
	}
	l.OwnZone("Pacific/Auckland")
	l.OwnZone("America/Chicago") // one is in force
	set, err := l.Setup("unit-a", "mixed")
	if err != nil {
		t.Fatal(err)
	}
	got, err := ReadSetup("settings.toml", set.TOML())
	if err != nil || got.Bench.TimeZone != "Pacific/Auckland" {
		t.Errorf("got %q, %v", got.Bench.TimeZone, err)
	}
	if !bytes.Equal(set.ForAnalysis().TOML(), was.ForAnalysis().TOML()) {
		t.Error("an analysis depends on the time zone")
	}
}

func TestExplainSaysWhoseDays(t *testing.T) {
	named := contractLab()
	named["bench.toml"] = file("time_zone = \"Asia/Kathmandu\"\n")
	for _, c := range []struct {
		lab  *Lab
		own  string
		want []string
	}{
		{mustRead(t, named), "America/Chicago", []string{"Days are those of Asia/Kathmandu:", `* time_zone "Asia/Kathmandu" bench.toml:1 `}},
		{mustRead(t, contractLab()), "America/Chicago", []string{"Days are those of America/Chicago, this machine's own zone:", ` time_zone "America/Chicago" this machine's `}},
		{mustRead(t, contractLab()), "", []string{"Days are those of UTC:", " time_zone absent not given "}},
	} {
		c.lab.OwnZone(c.own)
		text := strings.Join(strings.Fields(explained(t, c.lab)), " ")
		for _, want := range c.want {
			if !strings.Contains(text, want) {
				t.Errorf("no %q in:\n%s", want, text)
			}
		}
	}
}

// A day ends at midnight of the bench; in Brazil the clock used to be put forward at midnight (IANA time zone database).
func TestEndOfDay(t *testing.T) {
	for _, c := range []struct{ zone, day, want string }{
		{"", "2026-03-01", "2026-03-02T00:00:00Z"},
		{"America/Chicago", "2026-03-01", "2026-03-02T06:00:00Z"},
		{"Pacific/Auckland", "2026-03-01", "2026-03-01T11:00:00Z"},
		{"America/Chicago", "2026-11-01", "2026-11-02T06:00:00Z"},
		{"America/Chicago", "2026-10-31", "2026-11-01T05:00:00Z"},
		{"America/Sao_Paulo", "2018-11-03", "2018-11-04T03:00:00Z"}, // 4 November began at 1:00
	} {
		l := &Lab{Bench: Bench{TimeZone: c.zone}}
		end, ok := l.EndOf(c.day)
		if got := end.UTC().Format(time.RFC3339); !ok || got != c.want {
			t.Errorf("%s in %q: got %s, want %s", c.day, c.zone, got, c.want)
		}
		if before, after := l.Day(end.Add(-1)), l.Day(end); before != c.day || after == c.day {
			t.Errorf("%s in %q: the instant before the end is of %s, the end of %s", c.day, c.zone, before, after)
		}
	}
	for _, day := range []string{"", "2026-02-30", "yesterday"} {
		if _, ok := (&Lab{}).EndOf(day); ok {
			t.Errorf("%q is a day", day)
		}
	}
}

// The machine's own zone is found where systems keep it, and believed if the clock shows it.
func TestMachineZone(t *testing.T) {
	chicago, _ := rig.Zone("America/Chicago")
	fixed := time.FixedZone("", -6*3600)
	for _, c := range []struct {
		name, tz, link, text string
		local                *time.Location
		want                 string
	}{
		{"a link", "", "/usr/share/zoneinfo/America/Chicago", "Europe/Paris\n", chicago, "America/Chicago"},
		{"a link upwards", "", "../usr/share/zoneinfo/America/Chicago", "", chicago, "America/Chicago"},
		{"a text", "", "", "America/Chicago\n", chicago, "America/Chicago"},
		{"TZ", ":America/Chicago", "/usr/share/zoneinfo/Europe/Paris", "", chicago, "America/Chicago"},
		{"TZ as a path", "/usr/share/zoneinfo/America/Chicago", "", "", chicago, "America/Chicago"},
		{"a clock that shows another", "", "/usr/share/zoneinfo/Europe/Paris", "America/New_York", chicago, "UTC"},
		{"a rule without a name", "<-06>6", "/usr/share/zoneinfo/America/Chicago", "", fixed, "UTC"},
		{"half a year alike", "", "", "America/Chicago", fixed, "UTC"},
		{"nothing", "", "", "", time.UTC, "UTC"},
	} {
		root := t.TempDir()
		if err := os.Mkdir(filepath.Join(root, "etc"), 0o755); err != nil {
			t.Fatal(err)
		}
		if c.link != "" {
			if err := os.Symlink(c.link, filepath.Join(root, "etc", "localtime")); err != nil {
				t.Fatal(err)
			}
		}
		if c.text != "" {
			if err := os.WriteFile(filepath.Join(root, "etc", "timezone"), []byte(c.text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if got := machineZone(root, c.tz, c.local); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}
