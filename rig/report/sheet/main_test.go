package sheet

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/report/series/recorded"
	"quern/rig/score"
	"quern/rig/session"
	"quern/rig/session/index"
)

// secret is a public name that no page may show before its day; it is written into everything that people write.
const (
	secret    = "Invented Grand Mill"
	secretDay = "2026-12-01"
	dayBefore = "2026-11-30"
)

// hostile is what a text may hold that wants to be markup.
const hostile = `<script>alert(1)</script>"><img src=x onerror=alert(2)> & 'quoted' </style> {{.}} =1+1`

// bench is a folder with a lab and recorded sessions, made once: they take a while.
var bench = struct {
	once sync.Once
	dir  string
	err  error
}{}

func TestMain(m *testing.M) {
	status := m.Run()
	if bench.dir != "" {
		if err := os.RemoveAll(bench.dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
			status = 1
		}
	}
	os.Exit(status)
}

// The lab of the tests. Limits are such that runs pass, fail and are close.
var lab = map[string]string{
	"bench.toml": "name = \"invented-bench\"\n",
	"units.toml": fmt.Sprintf(`[[unit]]
id = "unit-a"
name = %q
release = %q
rated_current_a = 6.0
locked_rotor_a = 33.0
[[unit]]
id = "unit-b"
name = "Shown Mill"
release = "2026-01-01"
samples = 2
rated_current_a = 6.0
locked_rotor_a = 33.0
supplied_by_maker = true
`, secret, secretDay),
	"procedures/mixed.toml": `id = "mixed"
title = "Mixed load <b>in bold</b>"
repeats = 2
item = [{ name = "carrot", mass_g = 500.0 }, { name = "bread-crust", mass_g = 300.0 }]
[after]
coarse_sieve_mm = 12.5
fine_sieve_mm = 6.3
[checks]
sound = true
[[gate]]
measure = "left_share"
limit = 0.05
[[gate]]
measure = "trips"
limit = 0.0
rule = "simple"
`,
	"scorecard.toml": `title = "An invented <i>comparison</i>"
version = "1"
draws = 200
[[test]]
id = "mixed-load"
procedure = "mixed"
[[criterion]]
id = "left"
test = "mixed-load"
measure = "left_share"
curve = [{ at = 0.0, points = 10.0 }, { at = 0.1, points = 0.0 }]
[[criterion]]
id = "level"
test = "mixed-load"
measure = "laeq_db"
curve = [{ at = 60.0, points = 10.0 }, { at = 90.0, points = 0.0 }]
[[test]]
id = "by-hand"
[[criterion]]
id = "build"
test = "by-hand"
measure = "hand.build"
`,
}

// recorded sessions: name, scenario, unit, what was left in g.
var taken = []struct {
	name, scenario, unit string
	left                 float64
}{
	{"2026-03-02-0900-a-1", "stall-and-trip", "unit-a", 20},
	{"2026-03-02-1000-invented-grand-mill", "plain", "unit-a", 31.0},
	{"2026-03-02-1100-b-1", "plain", "unit-b", 50},
	{"2026-03-02-1200-b-2", "no-clamp", "unit-b", 40.0032},
	{"2026-03-02-1300-a-void", "plain", "unit-a", 10},
}

func makeBench(t testing.TB) string {
	t.Helper()
	bench.once.Do(func() {
		if bench.dir, bench.err = os.MkdirTemp("", "quern-sheet-"); bench.err != nil {
			return
		}
		for name, text := range lab {
			path := filepath.Join(bench.dir, "lab", name)
			must(t, os.MkdirAll(filepath.Dir(path), 0o755))
			must(t, os.WriteFile(path, []byte(text), 0o644))
		}
		must(t, os.Mkdir(filepath.Join(bench.dir, "sessions"), 0o755))
		for _, k := range taken {
			dir := filepath.Join(bench.dir, "sessions", k.name)
			sc := recorded.Small(t, k.scenario)
			sc.Unit.Unit.ID, sc.Procedure.ID = k.unit, "mixed"
			recorded.Record(t, dir, sc, k.name == taken[0].name)
			recorded.Keep(t, dir)
			amend(t, dir, k.left, strings.HasSuffix(k.name, "void"))
		}
	})
	must(t, bench.err)
	return bench.dir
}

// amend puts weighings, remarks and corrections beside a session.
func amend(t testing.TB, dir string, left float64, void bool) {
	t.Helper()
	a, err := session.Amend(dir, "quern test", recorded.Later)
	must(t, err)
	defer func() { must(t, a.Close()) }()
	add := func(_ int, err error) { t.Helper(); must(t, err) }
	who := "ann of " + secret
	weigh := func(role rig.Role, item string, g float64) {
		add(a.AppendWeighing(rig.Weighing{AtS: 300, Run: 1, Role: role, Item: item, NetG: rig.Fig(g), Who: who, Typed: role == rig.Fine, DrainedS: rig.Fig(120), Stable: rig.Yes, Note: hostile}))
	}
	weigh(rig.Charge, "carrot", 500)
	weigh(rig.Charge, "bread-crust", 300)
	weigh(rig.Chamber, "", left)
	weigh(rig.Coarse, "", 6)
	weigh(rig.Fine, "", 60)
	add(a.AppendRemark(rig.Remark{AtS: 12.3, Run: 1, Text: "the invented-grand_mill hummed; INVENTED  GRAND MILL. " + hostile, Who: who}))
	add(a.AppendCheck(rig.Check{AtS: 1, Kind: rig.CheckSound, Nominal: rig.Fig(94), Found: rig.Fig(93.9), Who: who, Note: "with " + secret + " beside it"}))
	add(a.AppendCorrection(rig.Correction{At: recorded.Later, Run: 1, Target: "measure.la10_db", Old: "70", New: "71.5", Who: who, Why: secret + " rang " + hostile}))
	if void {
		add(a.AppendCorrection(rig.Correction{At: recorded.Later, Run: 1, Target: "void", New: "rig", Who: who, Why: "the tap of the " + secret + " was shut"}))
	}
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// scored scores the sessions of the bench.
func scored(t testing.TB) (*score.Standings, Options) {
	t.Helper()
	dir := makeBench(t)
	l, err := config.Read(os.DirFS(filepath.Join(dir, "lab")))
	must(t, err)
	sessions := filepath.Join(dir, "sessions")
	found, err := index.Read(sessions, index.Options{Lab: l, Without: true})
	must(t, err)
	if len(found.Records) != len(taken) {
		t.Fatalf("%d records: %+v", len(found.Records), found.Skipped)
	}
	hand := []rig.HandValue{{Unit: "unit-a", Name: "build", Value: 7, Who: "ann", At: recorded.Later, Note: "like " + secret}}
	c, err := score.Score(l, found.Records, hand)
	must(t, err)
	s, err := c.Standings()
	must(t, err)
	dirs, err := Folders([]string{sessions})
	must(t, err)
	return s, Options{Out: t.TempDir(), Day: dayBefore, Dirs: dirs, Rules: "the settings stored in each session", Tool: "quern test",
		Result: func(rec *rig.Record) (rig.Result, error) {
			a, err := session.LoadAnalysis(dirs[rec.Session], session.KeyOf(rec.Settings))
			return a.Result, err
		}}
}

// makers make every kind of page.
var makers = map[string]func(context.Context, Options, *score.Standings) (Made, error){
	"unit": func(ctx context.Context, o Options, s *score.Standings) (Made, error) {
		return Unit(ctx, o, s, "unit-a")
	},
	"unit, masked": func(ctx context.Context, o Options, s *score.Standings) (Made, error) {
		o.Masked = true
		return Unit(ctx, o, s, "unit-a")
	},
	"other unit": func(ctx context.Context, o Options, s *score.Standings) (Made, error) {
		return Unit(ctx, o, s, "unit-b")
	},
	"standings": func(ctx context.Context, o Options, s *score.Standings) (Made, error) {
		moves, err := score.Against(s, s)
		if err != nil {
			return Made{}, err
		}
		return Standings(ctx, o, s, s, moves, "LAB of "+secret)
	},
	"session": func(ctx context.Context, o Options, s *score.Standings) (Made, error) {
		return Session(ctx, o, s.Campaign, sessionName(s, 1))
	},
	"session without a clamp": func(ctx context.Context, o Options, s *score.Standings) (Made, error) {
		return Session(ctx, o, s.Campaign, sessionName(s, 3))
	},
}

// sessionName is the name that session i has in its records.
func sessionName(s *score.Standings, i int) string {
	for _, r := range s.Campaign.Runs {
		if strings.HasSuffix(r.Record.Session, taken[i].name) || r.Record.Session == taken[i].name {
			return r.Record.Session
		}
	}
	return s.Campaign.Runs[i].Record.Session
}

// made makes a page of a kind and returns its text.
func made(t testing.TB, kind string, change func(*Options)) (string, Made) {
	t.Helper()
	s, o := scored(t)
	if change != nil {
		change(&o)
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	m, err := makers[kind](ctx, o, s)
	must(t, err)
	b, err := os.ReadFile(m.Page)
	must(t, err)
	return apart(string(b)), m
}

// apart takes out of a page what only keeps its lines from breaking in the wrong place.
func apart(page string) string {
	page = regexp.MustCompile(`<span class="together">([^<]*)</span>`).ReplaceAllString(page, "$1")
	return strings.ReplaceAll(page, "\u00a0", " ")
}
