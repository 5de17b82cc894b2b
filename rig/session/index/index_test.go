package index

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
)

// bench is a folder with sessions of all kinds: a and b recorded, with analyses under the stored and the
// present settings, c by hand, d open, e damaged.
func bench(t testing.TB) (folder string, lab *config.Lab) {
	t.Helper()
	folder = filepath.Join(t.TempDir(), "Küche #1?%3f")
	check(t, os.Mkdir(folder, 0o755))
	was := inventedLab(t, 240)
	lab = inventedLab(t, 120)
	for n, name := range []string{"a", "b", "c", "d", "e"} {
		set := setupOf(t, was, []string{"unit-a", "unit-b"}[n%2], "mixed")
		add(t, filepath.Join(folder, name), set, []int{recorded, recorded, hand, open, recorded}[n], n)
		if n < 2 {
			keepAnalysis(t, filepath.Join(folder, name), set.ForAnalysis(), n+1)
			keepAnalysis(t, filepath.Join(folder, name), setupOf(t, lab, set.Unit.ID, "mixed").ForAnalysis(), n+3)
		}
	}
	edit(t, filepath.Join(folder, "e", "manifest.json"), func(b []byte) []byte { return b[:len(b)/2] })
	check(t, os.Mkdir(filepath.Join(folder, "notes"), 0o755), os.WriteFile(filepath.Join(folder, "f"), nil, 0o644))
	return folder, lab
}

// edit changes a file in its place.
func edit(t testing.TB, name string, how func([]byte) []byte) {
	t.Helper()
	text, err := os.ReadFile(name)
	check(t, err)
	check(t, os.WriteFile(name, how(text), 0o644))
}

// The records have what lies in the folder, and not what no score looks at.
func TestWhatIsFound(t *testing.T) {
	folder, lab := bench(t)
	var an analyst
	o := Options{Lab: lab, Analyse: an.analyse, now: later}
	var steps []int
	o.Step = func(done, of int) { steps = append(steps, done, of) }
	for _, present := range []bool{false, true} {
		for range 2 {
			o.Present, steps = present, nil
			found, err := Read(folder, o)
			check(t, err)
			if len(found.Records) != 3 || len(found.Skipped) != 2 || !slices.Equal(steps, []int{1, 5, 2, 5, 3, 5, 4, 5, 5, 5}) {
				t.Fatalf("got %d records, %v, steps %v", len(found.Records), found.Skipped, steps)
			}
			for i, r := range found.Records {
				if found.Dirs[i] != filepath.Join(folder, r.Session) {
					t.Errorf("session %s lies in %s", r.Session, found.Dirs[i])
				}
			}
			a, c := found.Records[0], found.Records[2]
			warned, limit := 1, 240.0
			if present {
				warned, limit = 3, 120
			}
			run := a.Result.Runs[0]
			if a.Session != "a" || a.Origin != rig.Recorded || !a.Started.Equal(started) || len(a.Result.Warnings[0].Text) != 2*warned ||
				run.RunTimeS != rig.Fig(limit) || run.EndS != rig.Absent("no-clamp") || len(a.Settings) != 64 || a.Facts.Weighings[0].NetG.Why != "no-tare" {
				t.Errorf("present %v: got %+v", present, a)
			}
			if run.States != nil || run.Sound.ThirdOctaves != nil || run.Motor.HarmonicsA != nil || len(run.Events) != 1 {
				t.Errorf("got %+v, want it slim", run)
			}
			if c.Session != "c" || c.Origin != rig.ByHand || c.Settings != "" || len(c.Result.Runs) > 0 || len(c.Facts.Weighings) != 1 || c.Chain == "" {
				t.Errorf("by hand: got %+v", c)
			}
			if d, e := found.Skipped[0], found.Skipped[1]; d.Session != "d" || !strings.Contains(d.Why, "not sealed") || e.Session != "e" || !strings.Contains(e.Why, "manifest.json") {
				t.Errorf("got %+v", found.Skipped)
			}
		}
	}
	if len(an.asked) > 0 {
		t.Errorf("asked for %q, which are stored", an.asked)
	}
	if got := kept(t, folder); len(got) != 6 {
		t.Errorf("kept %q, want three records under each kind of settings", got)
	}
}

// The lists have columns of their own.
func TestColumns(t *testing.T) {
	folder, lab := bench(t)
	correct(t, filepath.Join(folder, "c"), "unit", "unit-b", 0)
	same(t, folder, Options{Lab: lab})
	db, err := sql.Open("sqlite", "file:"+escaped(filepath.Join(folder, Name)))
	check(t, err)
	defer db.Close()
	var got string
	check(t, db.QueryRow("SELECT group_concat(name || ' ' || unit || ' ' || procedure || ' ' || started, ', ') FROM session ORDER BY name").Scan(&got))
	ns := started.UnixNano()
	if want := fmt.Sprintf("a unit-a mixed %d, b unit-b mixed %d, c unit-b mixed %d", ns, ns+int64(time.Hour), ns+int64(2*time.Hour)); got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// What comes to a folder after the index was made shows, under either kind of settings first.
func TestChangesShow(t *testing.T) {
	model, lab := bench(t)
	for _, c := range []struct {
		name  string
		how   func(t *testing.T, dir string, lab *config.Lab)
		has   string // in what is then said under the stored settings
		asked int    // analyses under both kinds of settings
	}{
		{"nothing", func(*testing.T, string, *config.Lab) {}, `"run_time_s":240,`, 0},
		{"a fact", func(t *testing.T, dir string, _ *config.Lab) { correct(t, dir, "void", "rig", 1) }, `"New":"rig"`, 0},
		{"another unit", func(t *testing.T, dir string, _ *config.Lab) { correct(t, dir, "unit", "unit-b", 0) }, `"mean_a":4,`, 2},
		// The unit is the lab's, the procedure as stored; and the other way round.
		{"unit of the lab only", func(t *testing.T, dir string, _ *config.Lab) { correct(t, dir, "unit", "unit-b", 0) }, `"run_time_s":240,`, 2},
		{"another procedure", func(t *testing.T, dir string, _ *config.Lab) { correct(t, dir, "procedure", "bones", 0) }, `"run_time_s":90,`, 2},
		{"there and back", func(t *testing.T, dir string, _ *config.Lab) {
			correct(t, dir, "unit", "unit-b", 0)
			correct(t, dir, "unit", "unit-a", 0)
		}, `"run_time_s":240,`, 0},
		{"another unit in one run", func(t *testing.T, dir string, _ *config.Lab) { correct(t, dir, "unit", "unit-b", 1) }, `"mean_a":6,`, 0},
		{"a unit that is none", func(t *testing.T, dir string, _ *config.Lab) { correct(t, dir, "unit", "unit-x", 0) }, "a: units.toml: found no unit \"unit-x\"", 0},
		{"corrected and analysed", func(t *testing.T, dir string, lab *config.Lab) {
			correct(t, dir, "unit", "unit-b", 0)
			set := setupOf(t, inventedLab(t, 240), "unit-b", "mixed")
			keepAnalysis(t, dir, set.ForAnalysis(), 9)
		}, strings.Repeat("µ", 9), 1},
		{"another analysis", func(t *testing.T, dir string, lab *config.Lab) {
			keepAnalysis(t, dir, setupOf(t, inventedLab(t, 240), "unit-a", "mixed").ForAnalysis(), 7)
		}, strings.Repeat("µ", 7), 0},
		{"no analyses", func(t *testing.T, dir string, _ *config.Lab) { check(t, os.RemoveAll(filepath.Join(dir, "analyses"))) }, `"elapsed_s":0,`, 2},
		{"an analysis that does not read", func(t *testing.T, dir string, _ *config.Lab) {
			all, err := filepath.Glob(filepath.Join(dir, "analyses", "*"))
			check(t, err)
			for _, name := range all {
				edit(t, name, func(b []byte) []byte { return bytes.Replace(b, []byte("0.333"), []byte("0.433"), 1) })
			}
		}, `"elapsed_s":0,`, 2},
		{"another session in its place", func(t *testing.T, dir string, _ *config.Lab) {
			check(t, os.Rename(dir, dir+"-old"))
			add(t, dir, setupOf(t, inventedLab(t, 240), "unit-a", "mixed"), recorded, 40)
			check(t, os.Rename(filepath.Join(dir+"-old", "analyses"), filepath.Join(dir, "analyses")), os.RemoveAll(dir+"-old")) // stale
		}, `"elapsed_s":0,`, 2},
		{"gone", func(t *testing.T, dir string, _ *config.Lab) { check(t, os.RemoveAll(dir)) }, `{"Session":"b"`, 0},
		{"a longer journal", func(t *testing.T, dir string, _ *config.Lab) {
			edit(t, filepath.Join(dir, "journal.lp"), func(b []byte) []byte { return append(b, "# \n"...) })
		}, "session-changed", 0},
		{"a changed journal", func(t *testing.T, dir string, _ *config.Lab) {
			edit(t, filepath.Join(dir, "journal.lp"), func(b []byte) []byte { return bytes.Replace(b, []byte("item=bone"), []byte("item=bane"), 1) })
		}, "journal-damaged", 0},
		{"a longer recording", func(t *testing.T, dir string, _ *config.Lab) {
			edit(t, filepath.Join(dir, "recordings", "microphone.wav"), func(b []byte) []byte { return append(b, 0, 0) })
		}, "session-changed", 0},
		{"no recording", func(t *testing.T, dir string, _ *config.Lab) {
			check(t, os.Remove(filepath.Join(dir, "recordings", "microphone.wav")))
		}, "session-changed", 0},
		{"no settings", func(t *testing.T, dir string, _ *config.Lab) {
			check(t, os.Remove(filepath.Join(dir, "settings.toml")))
		}, "a: ", 0},
		{"settings that do not read", func(t *testing.T, dir string, _ *config.Lab) {
			edit(t, filepath.Join(dir, "settings.toml"), func(b []byte) []byte { return append([]byte{'!'}, b[1:]...) })
		}, "a: ", 0},
		{"addenda torn", func(t *testing.T, dir string, _ *config.Lab) {
			correct(t, dir, "void", "rig", 1)
			edit(t, filepath.Join(dir, "addenda.lp"), func(b []byte) []byte { return b[:len(b)-9] })
		}, "addenda-torn", 0},
		{"addenda gone again", func(t *testing.T, dir string, lab *config.Lab) {
			correct(t, dir, "void", "rig", 1)
			same(t, filepath.Dir(dir), Options{Lab: lab})
			check(t, os.Remove(filepath.Join(dir, "addenda.lp")))
		}, `"Corrections":null`, 0},
		{"touched", func(t *testing.T, dir string, _ *config.Lab) {
			check(t, os.Chtimes(filepath.Join(dir, "manifest.json"), started, started))
		}, `"run_time_s":240,`, 0},
	} {
		for _, first := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, present first %v", c.name, first), func(t *testing.T) {
				folder := copied(t, model)
				var an analyst
				o := Options{Lab: lab, Present: first, Analyse: an.analyse}
				same(t, folder, o)
				c.how(t, filepath.Join(folder, "a"), lab)
				an.asked = nil
				said := map[bool]string{}
				for _, o.Present = range []bool{first, !first} {
					said[o.Present] = same(t, folder, o)
				}
				if len(an.asked) != 3*c.asked { // without, with, and from the index: what is not kept is asked for each time
					t.Errorf("asked for %q, want %d in all", an.asked, 3*c.asked)
				}
				if !strings.Contains(said[false], c.has) {
					t.Errorf("got %s, want %s", said[false], c.has)
				}
				if _, err := os.Stat(filepath.Join(folder, "a")); err != nil && strings.HasPrefix(kept(t, folder)[0], "a ") {
					t.Errorf("kept %q, of which one is gone", kept(t, folder))
				}
			})
		}
	}
}

// The present settings change with the lab.
func TestLabChanges(t *testing.T) {
	folder, _ := bench(t)
	an := analyst{keep: true}
	stored := Options{Lab: inventedLab(t, 120), now: later}
	same(t, folder, stored)
	for _, limit := range []int{120, 100, 120} {
		lab := inventedLab(t, limit)
		if got := same(t, folder, Options{Lab: lab, Present: true, Analyse: an.analyse}); !strings.Contains(got, fmt.Sprintf(`"run_time_s":%d,`, limit)) {
			t.Errorf("got %s, want the time limit %d s", got, limit)
		}
		before := stateOf(t, folder)
		if answer(t, folder, stored); stateOf(t, folder) != before {
			t.Errorf("time limit %d s: what is known of the stored settings was forgotten", limit)
		}
	}
	if want := []string{"a unit-a mixed", "b unit-b mixed"}; !slices.Equal(an.asked, want) {
		t.Errorf("asked for %q, want %q: the others are stored", an.asked, want)
	}
}

func TestAnalyse(t *testing.T) {
	folder, lab := bench(t)
	check(t, os.RemoveAll(filepath.Join(folder, "a", "analyses")))
	if got := same(t, folder, Options{Lab: lab}); !strings.Contains(got, "a: it has not been analysed") {
		t.Errorf("without Analyse: got %s", got)
	}
	an := analyst{fail: &rig.FileError{File: "microphone.wav", Byte: -1, Found: "nothing", Want: "sound"}}
	if got := same(t, folder, Options{Lab: lab, Analyse: an.analyse}); !strings.Contains(got, "microphone.wav: found nothing") || !strings.Contains(got, `"Session":"b"`) {
		t.Errorf("a damaged recording: got %s", got)
	}
	an.fail = errors.New("stopped")
	if found, err := Read(folder, Options{Lab: lab, Analyse: an.analyse}); !errors.Is(err, an.fail) || found.Records != nil {
		t.Errorf("got %+v, %v", found, err)
	}
	if got := same(t, folder, Options{Lab: nil}); !strings.Contains(got, `"Session":"b"`) {
		t.Errorf("without a lab: got %s", got)
	}
	if got := same(t, folder, Options{Lab: nil, Present: true}); !strings.Contains(got, "b: no lab was given") || !strings.Contains(got, `"Session":"c"`) {
		t.Errorf("without a lab: got %s", got)
	}
}
