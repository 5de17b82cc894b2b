package index

import (
	"bytes"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"quern/rig/session"
)

// indexed is a bench with its index, under both kinds of settings, and what is said of it.
func indexed(t testing.TB) (folder, name string, o Options, want string) {
	t.Helper()
	folder, lab := bench(t)
	o = Options{Lab: lab, now: later}
	return folder, filepath.Join(folder, Name), o, fill(t, folder, o)
}

// fill makes the index under both kinds of settings, and returns what is said under the stored ones.
func fill(t testing.TB, folder string, o Options) string {
	t.Helper()
	o.Present = true
	same(t, folder, o)
	o.Present = false
	return same(t, folder, o)
}

// The index is what is read, if it proves itself: otherwise the other tests here would tell nothing.
func TestIndexIsUsed(t *testing.T) {
	folder, name, o, want := indexed(t)
	s := openStore(name, false)
	b := s.bodies["b"]
	rec, err := session.DecodeRecord(b.text)
	check(t, err)
	rec.Bench = "forged"
	b.text, err = session.EncodeRecord(rec)
	check(t, err)
	s.put(nil, &b)
	s.close()
	if got := answer(t, folder, o); !strings.Contains(got, "forged") {
		t.Errorf("got %s, want what the index holds", got)
	}
	o.Present = true
	if got := answer(t, folder, o); strings.Contains(got, "forged") {
		t.Errorf("got %s, want the record under the other settings", got)
	}
	o.Present, o.Without = false, true
	if got := answer(t, folder, o); got != want {
		t.Errorf("without the index: got %s, want %s", got, want)
	}
}

// Whatever stands in the place of the index, the answers are the same, and the index is made again if it
// can be.
func TestAnyIndex(t *testing.T) {
	model, _, o, _ := indexed(t)
	query := func(text string) func(*testing.T, string) {
		return func(t *testing.T, name string) {
			db, err := sql.Open("sqlite", "file:"+escaped(name))
			check(t, err)
			defer db.Close()
			_, err = db.Exec(text)
			check(t, err)
		}
	}
	write := func(text string) func(*testing.T, string) {
		return func(t *testing.T, name string) { check(t, os.WriteFile(name, []byte(text), 0o644)) }
	}
	for _, c := range []struct {
		name string
		how  func(t *testing.T, name string)
		made bool // it is an index again afterwards
	}{
		{"deleted", func(t *testing.T, name string) { check(t, os.Remove(name)) }, true},
		{"another version", query("PRAGMA user_version = 7"), true},
		{"no version", query("PRAGMA user_version = 0"), true},
		{"another table", query("DROP TABLE record; CREATE TABLE record (name TEXT)"), true},
		{"no table", query("DROP TABLE session"), true},
		{"no rows", query("DELETE FROM session"), true},
		{"no bodies", query("DELETE FROM record"), true},
		{"a changed body", query("UPDATE record SET body = replace(body, '0.333', '0.433')"), true},
		{"a changed print", query("UPDATE session SET print = print || 'x'"), true},
		{"another unit", query("UPDATE session SET unit = 'unit-z'"), true},
		{"a body of another session", query("UPDATE record SET body = (SELECT body FROM record WHERE name = 'a') WHERE name = 'b'"), true},
		{"a row of another session", query("UPDATE session SET name = 'z' WHERE name = 'a'; UPDATE session SET name = 'a' WHERE name = 'b'"), true},
		{"other settings", query("UPDATE record SET present = 2 WHERE present = 0; UPDATE record SET present = 0 WHERE present = 1; UPDATE record SET present = 1 WHERE present = 2"), true},
		{"text for numbers", query("UPDATE session SET started = 'x', sum = 'y'"), true},
		{"nothing for text", query("UPDATE record SET key = NULL"), true},
		{"empty", write(""), true},
		{"no database", write("no database"), true},
		{"a folder", func(t *testing.T, name string) {
			check(t, os.Remove(name), os.MkdirAll(filepath.Join(name, "x"), 0o755))
		}, false},
		{"a link to nowhere", func(t *testing.T, name string) {
			check(t, os.Remove(name), os.Symlink(filepath.Join(filepath.Dir(name), "nowhere", "x"), name))
		}, false},
		{"a folder that is not writable", func(t *testing.T, name string) {
			if os.Geteuid() == 0 {
				t.Skip("nothing is unwritable for the superuser")
			}
			dir := filepath.Dir(name)
			correct(t, filepath.Join(dir, "b"), "void", "rig", 1)
			check(t, os.Chmod(name, 0o444), os.Chmod(dir, 0o555))
			t.Cleanup(func() { _ = os.Chmod(dir, 0o755) })
		}, false},
		{"locked by another program", func(t *testing.T, name string) {
			correct(t, filepath.Join(filepath.Dir(name), "b"), "void", "rig", 1)
			db, err := sql.Open("sqlite", "file:"+escaped(name))
			check(t, err)
			c, err := db.Conn(t.Context())
			check(t, err)
			_, err = c.ExecContext(t.Context(), "BEGIN EXCLUSIVE")
			check(t, err)
			t.Cleanup(func() { c.Close(); db.Close() })
		}, false},
		{"read by another program", func(t *testing.T, name string) {
			correct(t, filepath.Join(filepath.Dir(name), "b"), "void", "rig", 1)
			db, err := sql.Open("sqlite", "file:"+escaped(name))
			check(t, err)
			c, err := db.Conn(t.Context())
			check(t, err)
			_, err = c.ExecContext(t.Context(), "BEGIN; SELECT * FROM session")
			check(t, err)
			t.Cleanup(func() { c.Close(); db.Close() })
		}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			folder := copied(t, model)
			fill(t, folder, o)
			c.how(t, filepath.Join(folder, Name))
			same(t, folder, o)
			if !c.made {
				return
			}
			if got := kept(t, folder); len(got) < 3 || got[0] != "a false "+session.AnalysisKey(setupOf(t, inventedLab(t, 240), "unit-a", "mixed").ForAnalysis()) {
				t.Errorf("kept %q", got)
			}
			s := openStore(filepath.Join(folder, Name), false)
			defer s.closeDB()
			var v int
			if err := s.db.QueryRow("PRAGMA user_version").Scan(&v); err != nil || v != version() || s.entries["a"].unit != "unit-a" {
				t.Errorf("version %d, %v, want %d; %+v", v, err, version(), s.entries["a"])
			}
		})
	}
}

// An index that cannot be read for the moment is not removed.
func TestLockedIndexStays(t *testing.T) {
	folder, name, o, want := indexed(t)
	db, err := sql.Open("sqlite", "file:"+escaped(name))
	check(t, err)
	defer db.Close()
	c, err := db.Conn(t.Context())
	check(t, err)
	_, err = c.ExecContext(t.Context(), "BEGIN EXCLUSIVE")
	check(t, err)
	before := stateOf(t, folder)
	if got := answer(t, folder, o); got != want || stateOf(t, folder) != before {
		t.Errorf("got %s, want %s, and the index as it was", got, want)
	}
	check(t, c.Close())
}

// Changed bytes, a cut file, and a file of which some pages are older than others, as a crash in the middle
// of writing leaves it.
func TestDamagedIndex(t *testing.T) {
	folder, name, o, _ := indexed(t)
	old, err := os.ReadFile(name)
	check(t, err)
	for i := range 30 {
		correct(t, filepath.Join(folder, "abc"[i%3:i%3+1]), "void", "rig", 1)
	}
	want := same(t, folder, o)
	whole, err := os.ReadFile(name)
	check(t, err)
	const page = 16384
	r := rand.New(rand.NewPCG(1, 1))
	n := 160
	if testing.Short() {
		n = 24
	}
	for i := range n {
		bad := bytes.Clone(whole)
		what := []string{"bytes", "a cut", "pages", "a zeroed page"}[i%4]
		switch i % 4 {
		case 0:
			for range 1 + r.IntN(20) {
				bad[r.IntN(len(bad))] = byte(r.Uint32())
			}
		case 1:
			bad = bad[:r.IntN(len(bad))]
		case 2:
			for at := 0; at < min(len(bad), len(old)); at += page {
				if r.IntN(2) == 0 {
					copy(bad[at:at+page], old[at:])
				}
			}
		case 3:
			clear(bad[r.IntN(len(bad)/page)*page:][:page])
		}
		check(t, os.WriteFile(name, bad, 0o644))
		for range 2 {
			if got := answer(t, folder, o); got != want {
				t.Fatalf("%d, %s: %s", i, what, apart(got, want))
			}
		}
	}
}

// Several processes read one folder at once, while the index is removed, cut and locked by each other.
func TestProcesses(t *testing.T) {
	if folder := os.Getenv("INDEX_TEST_FOLDER"); folder != "" {
		lab := inventedLab(t, 120)
		for i := range 25 {
			o := Options{Lab: lab, Present: i%2 == 1, now: later}
			want, err := os.ReadFile(filepath.Join(folder, fmt.Sprint("want-", o.Present)))
			check(t, err)
			if got := answer(t, folder, o); got != string(want) {
				t.Fatal(apart(got, string(want)))
			}
			if i%6 == 5 {
				_ = os.Truncate(filepath.Join(folder, Name), int64(i)*1000)
			}
			if i%8 == 7 {
				_ = os.Remove(filepath.Join(folder, Name))
			}
		}
		return
	}
	folder, _, o, _ := indexed(t)
	for _, o.Present = range []bool{false, true} {
		check(t, os.WriteFile(filepath.Join(folder, fmt.Sprint("want-", o.Present)), []byte(answer(t, folder, o)), 0o644))
	}
	var all []*exec.Cmd
	var said [3]bytes.Buffer
	for i := range said {
		c := exec.Command(os.Args[0], "-test.run=^TestProcesses$")
		c.Env = append(os.Environ(), "INDEX_TEST_FOLDER="+folder)
		c.Stdout, c.Stderr = &said[i], &said[i]
		check(t, c.Start())
		all = append(all, c)
	}
	for i, c := range all {
		if err := c.Wait(); err != nil {
			t.Errorf("%v: %s", err, &said[i])
		}
	}
	same(t, folder, o)
}
