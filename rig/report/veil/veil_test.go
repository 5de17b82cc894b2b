package veil

import (
	"regexp"
	"strings"
	"testing"

	"quern/config"
)

// spelled finds the secret name however its words are joined.
var spelled = regexp.MustCompile(`(?i)invented[\s_.\-]*grand[\s_.\-]*mill`)

func veiled(day, id string, masked bool) Veil {
	return New(&config.Lab{Units: []config.Unit{
		{ID: "unit-a", Name: "Invented Grand Mill", Release: "2026-12-01"}, {ID: "unit-a2", Name: "Mill"}, {ID: "b", Name: "Öko <Grind>", Release: "2026-01-01"}, {ID: "c7", Name: "X"},
	}}, day, id, masked)
}

func TestVeil(t *testing.T) {
	open, masked := veiled("2026-11-30", "", false), veiled("2026-11-30", "unit-a2", true)
	for _, c := range []struct {
		name     string
		v        Veil
		in, want string
	}{
		{"a name", open, "the Invented Grand Mill hums", "the unit-a hums"},
		{"joined otherwise", open, "INVENTED-grand_mill, inventedgrandmill", "unit-a, unit-a"},
		{"twice, at the ends", open, "invented grand mill invented grand mill", "unit-a unit-a"},
		{"part of a word", open, "Milliamps, a windmill, Mill 7", "Milliamps, a windmill, unit-a2 7"},
		{"a released name stays", open, "Öko <Grind>", "Öko <Grind>"},
		{"one letter is no name", open, "5 X 3", "5 X 3"},
		{"codes stay", open, "unit-a, unit-a2, c7", "unit-a, unit-a2, c7"},
		{"from the day on", veiled("2026-12-01", "", false), "Invented Grand Mill", "Invented Grand Mill"},
		{"masked: codes of others", masked, "unit-a and c7 beside unit-a2", "another unit and another unit beside unit-a2"},
		{"masked: names of others", masked, "öko <grind>, Invented Grand Mill", "another unit, another unit"},
		{"masked: its own name, not released", masked, "the Mill", "the unit-a2"},
		{"masked: names of sessions", masked, "2026-03-02-0900-unit-a-mixed", "2026-03-02-0900-another unit-mixed"},
		{"masked: a letter is in every text", masked, "a b c", "a b c"},
	} {
		if got := c.v.Text(c.in); got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}

func TestVeilGoesOverEverything(t *testing.T) {
	type inner struct{ Text string }
	x := &struct {
		A     string
		B     []string
		C     *inner
		D     []inner
		E     any
		inner string
	}{"Invented Grand Mill", []string{"Mill"}, &inner{"Mill"}, []inner{{"Mill"}}, inner{"Mill"}, "Mill"}
	veiled("2026-11-30", "", false).Over(x)
	if x.A != "unit-a" || x.B[0] != "unit-a2" || x.C.Text != "unit-a2" || x.D[0].Text != "unit-a2" || x.E.(inner).Text != "unit-a2" {
		t.Errorf("got %+v", x)
	}
}

func FuzzVeil(f *testing.F) {
	for _, s := range []string{"Invented Grand Mill", "Mill", "mill-mill", "\xffMill\xff", "Mi\u0307ll", "ſtraße Mill", ""} {
		f.Add(s)
	}
	v := veiled("2026-11-30", "", false)
	f.Fuzz(func(t *testing.T, s string) {
		got := v.Text(s)
		if again := v.Text(got); again != got {
			t.Errorf("%q became %q, and then %q", s, got, again)
		}
		if spelled.MatchString(got) && !strings.ContainsFunc(s, func(r rune) bool { return r != ' ' && r != '-' && r != '_' && r != '.' }) {
			t.Errorf("%q is still in %q", spelled.FindString(got), got)
		}
	})
}
