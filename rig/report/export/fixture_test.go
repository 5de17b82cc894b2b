package export

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/report/series/recorded"
	"quern/rig/score"
	"quern/rig/session"
)

// nasty are texts that people may put on record, and what opens a table may misread. None has control characters, for
// a session takes none.
var nasty = []string{
	"=1+1", "+49 30 1234", "-2+3", "@SUM(A1)", `=HYPERLINK("http://example.org";"look")`, "'quoted'", " =1+1", "\u00a0=1", "\uff1d1+1", "a,b;\"c\"", "µ ü ß 漢字", "-", "-5", "12.5 g", "it's fine", `"`, "trailing ", "",
}

// campaign is a small invented season: two recorded sessions, one with gaps, an extra channel, facts and corrections,
// and one by hand.
func campaign(t testing.TB) Options {
	t.Helper()
	folder := t.TempDir()
	shared.Do(func() { record(t) })
	check(t, os.CopyFS(folder, os.DirFS(sharedDir)))
	lab, err := config.Read(os.DirFS("../../../testdata/lab"))
	check(t, err)
	dirs := map[string]string{}
	for _, name := range []string{"a", "b", "c"} {
		dirs[name] = filepath.Join(folder, name)
	}
	o := Options{Dirs: dirs, Day: "2026-01-01", Sums: []string{"rules SHA-256 0", "quern test"}, Forms: Forms, Mass: "oz",
		Hand: []rig.HandValue{{Unit: "unit-a", Name: "build", Value: 7.5, U: 0.5, Note: "=cmd", Who: "ann", At: recorded.Started}}}
	var records []rig.Record
	for _, name := range []string{"a", "b", "c"} {
		records = append(records, recordOf(t, dirs[name]))
	}
	o.Records = records
	o.Campaign, err = score.Score(lab, records, o.Hand)
	check(t, err)
	return o
}

// The sessions are made once and copied.
var (
	shared    sync.Once
	sharedDir string
)

func TestMain(m *testing.M) {
	var err error
	if sharedDir, err = os.MkdirTemp("", "export"); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	code := m.Run()
	_ = os.RemoveAll(sharedDir) // of no use to anybody
	os.Exit(code)
}

// record records the sessions of the season.
func record(t testing.TB) {
	t.Helper()
	for i, name := range []string{"a", "b"} {
		dir := filepath.Join(sharedDir, name)
		var holes []recorded.Hole
		if i == 1 {
			holes = []recorded.Hole{{Channel: rig.Microphone, FromS: 6.013, ToS: 8.4}, {Channel: rig.Clamp, FromS: 9, ToS: 9.5}}
		}
		recorded.Record(t, dir, recorded.Small(t, []string{"stall-and-trip", "plain"}[i]), true, holes...)
		recorded.Keep(t, dir)
	}
	lab, err := config.Read(os.DirFS("../../../testdata/lab"))
	check(t, err)
	set, err := lab.Setup("unit-a", "mixed")
	check(t, err)
	w, err := session.Create(filepath.Join(sharedDir, "c"), session.Head{Setup: set, Started: recorded.Started.Add(time.Hour), Tool: "quern test", Origin: rig.ByHand})
	check(t, err)
	_, err = w.AppendCorrection(rig.Correction{At: recorded.Started, Target: "measure.run_time_s", New: "121", Who: "ann", Why: "a stopwatch"})
	check(t, err)
	check(t, w.Seal())
	amend(t, filepath.Join(sharedDir, "a"))
}

// amend puts facts on record in a sealed session.
func amend(t testing.TB, dir string) {
	t.Helper()
	am, err := session.Amend(dir, "quern test", recorded.Later)
	check(t, err)
	for i, text := range nasty {
		_, err := am.AppendRemark(rig.Remark{AtS: float64(i) + 0.25, Run: i % 2, Text: "x" + text, Who: "ann"})
		check(t, err)
		if text != "" {
			_, err = am.AppendRemark(rig.Remark{AtS: float64(i) + 0.5, Text: text, Who: text})
			check(t, err)
		}
	}
	for _, x := range []rig.Weighing{
		{Role: rig.Charge, Vessel: "bowl-1", GrossG: rig.Fig(2912.4), TareG: rig.Fig(412.4), NetG: rig.Fig(2500), Typed: true, Who: "ann", Note: "-by eye"},
		{Role: rig.Chamber, NetG: rig.Fig(44.5), DrainedS: rig.Fig(120), Stable: rig.Yes, Shown: "oz", Who: "ann"},
		{Role: rig.Chamber, NetG: rig.Fig(-1.25), Stable: rig.No, Who: "ann", Note: "=\"1\""},
	} {
		x.AtS, x.Run = 60, 1
		_, err := am.AppendWeighing(x)
		check(t, err)
	}
	_, err = am.AppendCheck(rig.Check{AtS: 70, Kind: rig.CheckSound, Nominal: rig.Fig(94), Found: rig.Fig(93.9), Who: "ann"})
	check(t, err)
	for _, k := range []rig.Correction{
		{At: recorded.Later, Run: 1, Target: "measure.trips", Old: "1", New: "2", U: rig.Fig(0), Who: "ann", Why: "I saw two"},
		{At: recorded.Later, Target: "weighing.999", New: "withdrawn", Who: "ann", Why: "+"},
	} {
		_, err := am.AppendCorrection(k)
		check(t, err)
	}
	check(t, am.Close())
}

// recordOf is what scoring needs of a session, as rig/session/index makes it.
func recordOf(t testing.TB, dir string) rig.Record {
	t.Helper()
	b, err := session.OpenFacts(dir)
	check(t, err)
	r := b.Record()
	set, err := session.ReadSetup(dir)
	check(t, err)
	a, err := b.Analysis(session.AnalysisKey(set.ForAnalysis()))
	if !errors.Is(err, fs.ErrNotExist) {
		check(t, err)
	}
	r.Result, r.Settings = a.Result, a.SettingsSHA256
	return r
}

// written exports tables and returns the folder.
func written(t testing.TB, o Options, words ...string) string {
	t.Helper()
	var err error
	o.Tables, err = Select(words)
	check(t, err)
	out := filepath.Join(t.TempDir(), "out")
	check(t, Write(context.Background(), out, o))
	return out
}

func check(t testing.TB, all ...error) {
	t.Helper()
	for _, err := range all {
		if err != nil {
			t.Fatal(err)
		}
	}
}
