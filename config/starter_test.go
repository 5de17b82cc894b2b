package config

import (
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
)

func starterFS(units int, change func(string) string) fstest.MapFS {
	out := fstest.MapFS{}
	for _, f := range Starter(units) {
		out[f.Name] = &fstest.MapFile{Data: []byte(change(f.Text))}
	}
	return out
}

// wholeLab is all that is in force in a lab.
func wholeLab(t *testing.T, l *Lab) string {
	t.Helper()
	var b strings.Builder
	for _, u := range l.Units {
		for _, p := range l.Procedures {
			s, err := l.Setup(u.ID, p.ID)
			if err != nil {
				t.Fatal(err)
			}
			b.Write(s.TOML())
		}
	}
	return b.String() + l.RulesSum()
}

// A starter lab is right as it is written, and what stands in it behind a # is what is in force anyway.
func TestStarter(t *testing.T) {
	behind := regexp.MustCompile(`(?m)^#([a-z_]+ = )`)
	without := regexp.MustCompile(`(?m)^#.*\n`)
	for _, units := range []int{1, 2, 26} {
		lab, err := Read(starterFS(units, func(s string) string { return s }))
		if err != nil {
			t.Fatalf("%d units: %v", units, err)
		}
		if len(lab.Units) != units {
			t.Errorf("%d units, want %d", len(lab.Units), units)
		}
		want := wholeLab(t, lab)
		n := 0
		for name, change := range map[string]func(string) string{
			"taken away the #": func(s string) string { n += len(behind.FindAllString(s, -1)); return behind.ReplaceAllString(s, "$1") },
			"no comments":      func(s string) string { return without.ReplaceAllString(s, "") },
		} {
			lab, err := Read(starterFS(units, change))
			if err != nil {
				t.Errorf("%d units, %s: %v", units, name, err)
			} else if got := wholeLab(t, lab); got != want {
				t.Errorf("%d units, %s: it means something else:\n%s\nwant\n%s", units, name, got, want)
			}
		}
		if n < 20 {
			t.Errorf("%d keys behind a #: the test sees nothing", n)
		}
	}
	for _, f := range Starter(2) {
		for i, line := range strings.Split(f.Text, "\n") {
			if len(line) > 120 && strings.HasPrefix(line, "#") {
				t.Errorf("%s:%d has %d columns", f.Name, i+1, len(line))
			}
		}
		if f.Name == "units.toml" && !strings.Contains(f.Text, "invented") {
			t.Errorf("%s does not say that its units are invented", f.Name)
		}
	}
	if len(Starter(0)) != len(Starter(1)) || Starter(99)[1].Text != Starter(StarterUnitsMax)[1].Text {
		t.Error("a number of units out of range is not brought back into it")
	}
}
