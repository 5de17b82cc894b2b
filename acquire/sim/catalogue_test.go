package sim

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"quern/config"
	"quern/rig"
)

func demoLab(t testing.TB) *config.Lab {
	t.Helper()
	lab, err := config.Read(os.DirFS("../../testdata/lab"))
	if err != nil {
		t.Fatal(err)
	}
	return lab
}

func season(t testing.TB, seed uint64, o CatalogueOptions) *Season {
	t.Helper()
	s, err := Catalogue(seed, demoLab(t), o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// text is all of a season that the world sees.
func text(t testing.TB, s *Season) string {
	t.Helper()
	b, err := json.Marshal([]any{s.Units, s.Traits, s.Runs, s.Hand, s.Told, string(s.UnitsTOML())})
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestCatalogueSameSeed(t *testing.T) {
	for _, o := range []CatalogueOptions{{Light: true}, {Units: 20, Repeats: 2}} {
		a, b, c := text(t, season(t, 3, o)), text(t, season(t, 3, o)), text(t, season(t, 4, o))
		if a != b {
			t.Error("the same seed gives two seasons")
		}
		if a == c {
			t.Error("another seed gives the same season")
		}
	}
}

// Sizes: every unit under every procedure as often as asked, but for the one that is not tested, and one
// repeat more.
func TestCatalogueSizes(t *testing.T) {
	for _, c := range []struct {
		o    CatalogueOptions
		want int
	}{
		{CatalogueOptions{}, 6*9 - 3 + 1},
		{CatalogueOptions{Units: 20}, 20*9 - 3 + 1},
		{CatalogueOptions{Units: 4, Repeats: 1}, 4*3 - 1 + 1},
		{CatalogueOptions{Units: 30, Procedures: []string{"mixed"}}, 30*3 + 1},
		{CatalogueOptions{Units: 5, Procedures: []string{"poultry-bones", "mixed"}, Repeats: 2}, 5*4 - 2 + 1},
	} {
		s := season(t, 1, c.o)
		if len(s.Runs) != c.want {
			t.Errorf("%+v: %d runs, want %d", c.o, len(s.Runs), c.want)
		}
		seen := map[string]int{}
		for i := range s.Runs {
			x := &s.Runs[i]
			seen[x.Scenario.Unit.ID+" "+x.Scenario.Procedure.ID]++
		}
		for key, n := range seen {
			p := s.lab.Procedure(strings.Fields(key)[1])
			if extra := strings.Contains(s.Told.Repeat, strings.ReplaceAll(key, " ", "-")+"-"); n != s.repeats(p) && !(extra && n == s.repeats(p)+1) {
				t.Errorf("%+v: %d runs of %s", c.o, n, key)
			}
		}
	}
}

func TestCatalogueRefuses(t *testing.T) {
	for _, c := range []struct {
		o    CatalogueOptions
		want string
	}{
		{CatalogueOptions{Units: 3}, "units: found 3"},
		{CatalogueOptions{Units: 201}, "units: found 201"},
		{CatalogueOptions{Repeats: -1}, "repeats: found -1"},
		{CatalogueOptions{Procedures: []string{"mixed", "none"}}, "procedure: found none"},
		{CatalogueOptions{Procedures: []string{"mixed", "mixed"}}, "mixed twice"},
		{CatalogueOptions{Start: time.Date(1, 1, 1, 1, 0, 0, 0, time.UTC)}, "start: found 0001"},
	} {
		if s, err := Catalogue(1, demoLab(t), c.o); s != nil || err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: got %v, want %q", c.o, err, c.want)
		}
	}
	if _, err := Catalogue(1, &config.Lab{Bench: config.DefaultBench()}, CatalogueOptions{}); err == nil {
		t.Error("a lab without procedures has a season")
	}
}

// withUnits is the example lab with other units, and more in bench.toml.
func withUnits(t *testing.T, units []byte, more string) (*config.Lab, error) {
	t.Helper()
	fs := fstest.MapFS{"units.toml": {Data: units}}
	for _, name := range []string{"bench.toml", "scorecard.toml", "procedures/mixed.toml", "procedures/fish-frames.toml", "procedures/poultry-bones.toml"} {
		b, err := os.ReadFile("../../testdata/lab/" + name)
		if err != nil {
			t.Fatal(err)
		}
		if name == "bench.toml" {
			b = append(b, more...)
		}
		fs[name] = &fstest.MapFile{Data: b}
	}
	return config.Read(fs)
}

// The lab with the invented units is a right lab, reads the same units back, and says that they are
// invented; some names may be shown and some not.
func TestCatalogueUnitsTOML(t *testing.T) {
	s := season(t, 2, CatalogueOptions{Units: 30})
	lab, err := withUnits(t, s.UnitsTOML(), "")
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(lab.Units, s.Units) {
		t.Errorf("read back %+v, wrote %+v", lab.Units, s.Units)
	}
	shown, day := 0, s.o.Start.Format(time.DateOnly)
	for i, u := range lab.Units {
		if !strings.HasPrefix(u.Name, "invented unit ") {
			t.Errorf("%s is called %q", u.ID, u.Name)
		}
		if u.ID != code(i) {
			t.Errorf("unit %d is %s, want %s", i, u.ID, code(i))
		}
		if u.Release != "" && u.Release < day {
			shown++
		}
	}
	if shown < 10 || shown > 20 || code(27) != "unit-ab" {
		t.Errorf("%d of 30 names may be shown, want about half; %s, want unit-ab", shown, code(27))
	}
	if !bytes.HasPrefix(s.UnitsTOML(), []byte("# 30 units invented")) {
		t.Error("the file does not say that its units are invented")
	}
}

// A control unit is run every morning before all else, and its code is nobody else's.
func TestCatalogueControl(t *testing.T) {
	lab, err := withUnits(t, season(t, 1, CatalogueOptions{}).UnitsTOML(), "\n[control]\nunit = \"unit-b\"\nprocedure = \"mixed\"\n")
	if err != nil {
		t.Fatal(err)
	}
	s, err := Catalogue(1, lab, CatalogueOptions{Light: true})
	if err != nil {
		t.Fatal(err)
	}
	days, last := 0, ""
	for i := range s.Runs {
		x := &s.Runs[i]
		day := x.Started.Format(time.DateOnly)
		first := day != last
		if x.Control != first || x.Control != (x.Scenario.Unit.ID == "unit-b") {
			t.Errorf("%s: control %v, first of its day %v", x.Name, x.Control, first)
		}
		if first {
			days++
		}
		last = day
	}
	if days < 3 || len(s.Units) != 7 || len(s.Hand) != 18 {
		t.Errorf("%d days, %d units, %d values by hand; want several, 7, 18", days, len(s.Units), len(s.Hand))
	}
	if _, err := withUnits(t, s.UnitsTOML(), "\n[control]\nunit = \"unit-b\"\nprocedure = \"mixed\"\n"); err != nil {
		t.Error(err)
	}
}

var nameForm = regexp.MustCompile(`^20\d\d-\d\d-\d\d-\d{4}-unit-[a-z]+-[a-z-]+-\d+$`)

// Few units that have to rest long make the bench wait.
func TestCatalogueWaits(t *testing.T) {
	lab := demoLab(t)
	for i := range lab.Procedures {
		lab.Procedures[i].CooldownS = 7200
	}
	s, err := Catalogue(1, lab, CatalogueOptions{Units: 4})
	if err != nil {
		t.Fatal(err)
	}
	ends := map[int]time.Time{}
	for i := range s.Runs {
		x := &s.Runs[i]
		if rest := x.Started.Sub(ends[x.unit]); rest < 2*time.Hour {
			t.Errorf("%s: after %v of rest", x.Name, rest)
		}
		ends[x.unit] = x.Started.Add(16 * time.Minute) // a start may be up to 4 minutes late
	}
}

// The days: in order, several runs a day, rested units, checks with the first run.
func TestCatalogueDays(t *testing.T) {
	s := season(t, 5, CatalogueOptions{Units: 20})
	names, ends, days := map[string]bool{}, map[string]time.Time{}, map[string]int{}
	for i := range s.Runs {
		x := &s.Runs[i]
		p, u := &x.Scenario.Procedure, x.Scenario.Unit.ID
		if !nameForm.MatchString(x.Name) || names[x.Name] || i > 0 && (x.Name <= s.Runs[i-1].Name || !x.Started.After(s.Runs[i-1].Started)) {
			t.Errorf("%s: not a name of its own, in order", x.Name)
		}
		names[x.Name] = true
		if rest := x.Started.Sub(ends[u]).Seconds(); rest < p.CooldownS-240 {
			t.Errorf("%s: after %.0f s of rest, want %g", x.Name, rest, p.CooldownS)
		}
		ends[u] = x.Started.Add(minutes(p.RunMinutes))
		day := x.Started.Format(time.DateOnly)
		if days[day]++; (days[day] == 1) != (len(x.Checks) == 2) {
			t.Errorf("%s: run %d of the day has %d checks", x.Name, days[day], len(x.Checks))
		}
		if x.Started.Hour() < 9 || x.Started.Hour() > 19 || x.Started.Weekday() == time.Sunday {
			t.Errorf("%s is at night or on a Sunday", x.Name)
		}
	}
	if n := len(days); n < 12 || n > 30 {
		t.Errorf("178 runs on %d days", n)
	}
	inOrder := 0
	for i := 1; i < len(s.Runs); i++ {
		if s.Runs[i].unit >= s.Runs[i-1].unit {
			inOrder++
		}
	}
	if inOrder < 60 || inOrder > 120 {
		t.Errorf("%d of 177 runs are of a unit not before the one before: not random", inOrder)
	}
}

// counting is what a run's weighings come to, as a reader of the record would add them up.
func counting(x *CatalogueRun) (input float64, left map[rig.Role]float64) {
	withdrawn := map[string]bool{}
	for _, c := range x.Corrections {
		withdrawn[c.Target] = c.New == "withdrawn"
	}
	items := map[string]float64{}
	left = map[rig.Role]float64{}
	for _, w := range x.Weighings {
		switch {
		case withdrawn[fmt.Sprintf("weighing.%d", w.Fact)]:
		case w.Role == rig.Charge:
			items[w.Item] = w.NetG.V
		default:
			left[w.Role] = w.NetG.V
		}
	}
	for _, it := range x.Scenario.Procedure.Items {
		input += items[it.Name]
	}
	return input, left
}

// Facts are numbered without gaps, whole, consistent and within tolerance; leftovers come after the run.
func TestCatalogueFacts(t *testing.T) {
	s := season(t, 1, CatalogueOptions{Units: 20, Light: true})
	var typed, again, early, remarks int
	for i := range s.Runs {
		x := &s.Runs[i]
		var facts []int
		for _, c := range x.Checks {
			facts = append(facts, c.Fact)
			if d := math.Abs(c.Found.V - c.Nominal.V); d > 3 || c.AtS < 0 {
				t.Errorf("%s: %+v is not sound", x.Name, c)
			}
		}
		for _, c := range x.Corrections {
			facts = append(facts, c.Fact)
			if !c.At.After(x.Started) || c.Why == "" || c.Who == "" {
				t.Errorf("%s: %+v", x.Name, c)
			}
		}
		for _, c := range x.Remarks {
			facts = append(facts, c.Fact)
			remarks++
		}
		charges := map[string]float64{}
		for _, w := range x.Weighings {
			facts = append(facts, w.Fact)
			if g := w.GrossG.V - w.TareG.V; !w.GrossG.OK || !(math.Abs(g-w.NetG.V) <= 1e-6) || w.NetG.V < 0 || w.GrossG.V != math.Round(w.GrossG.V) {
				t.Errorf("%s: %+v: gross less tare is %g g, in steps of 1 g", x.Name, w, g)
			}
			if w.Typed {
				typed++
			} else if w.Stable != rig.Yes || !w.SpreadG.OK {
				t.Errorf("%s: no evidence for %+v", x.Name, w)
			}
			if w.Role == rig.Charge {
				if w.AtS > 4 {
					t.Errorf("%s: %s weighed in at %g s, after the start", x.Name, w.Item, w.AtS)
				}
				if charges[w.Item] != 0 {
					again++
				}
				charges[w.Item] = w.NetG.V
				continue
			}
			if !w.DrainedS.OK || w.AtS < x.Scenario.MaxS+w.DrainedS.V {
				t.Errorf("%s: %s read at %g s, drained %v", x.Name, w.Role, w.AtS, w.DrainedS)
			}
			if w.DrainedS.V < 100 {
				early++
			}
			if sieve := w.Role != rig.Chamber; sieve != strings.HasPrefix(w.Vessel, "sieve-") || sieve && w.TareG.V != map[string]float64{"sieve-coarse": 351, "sieve-fine": 367}[w.Vessel] {
				t.Errorf("%s: %s in %q, tare %g", x.Name, w.Role, w.Vessel, w.TareG.V)
			}
		}
		for _, it := range x.Scenario.Procedure.Items {
			if d := math.Abs(charges[it.Name] - it.MassG); d > it.ToleranceG {
				t.Errorf("%s: %s off by %g g", x.Name, it.Name, d)
			}
		}
		slices.Sort(facts)
		for k, f := range facts {
			if f != k+1 {
				t.Errorf("%s: facts %v", x.Name, facts)
				break
			}
		}
	}
	if typed < 3 || typed > 150 || again < 2 || early < 1 || remarks < 2 {
		t.Errorf("%d typed, %d weighed again, %d early, %d remarks; want a few of each", typed, again, early, remarks)
	}
}

func BenchmarkCatalogue(b *testing.B) {
	lab := demoLab(b)
	for range b.N {
		if _, err := Catalogue(1, lab, CatalogueOptions{Units: 20, Light: true}); err != nil {
			b.Fatal(err)
		}
	}
}
