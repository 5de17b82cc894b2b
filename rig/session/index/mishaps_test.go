package index

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"quern/rig/session"
)

// Whatever happens to a folder, Read says the same with the index as without.
func TestSameWithAndWithout(t *testing.T) {
	models := t.TempDir()
	seeds := uint64(4)
	if testing.Short() {
		seeds = 1
	}
	for seed := range seeds {
		t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) {
			folder := t.TempDir()
			m := &mishaps{t: t, r: rand.New(rand.NewPCG(seed, 2)), folder: folder, models: models}
			an := analyst{keep: seed%2 == 1}
			for range 40 {
				what := m.next()
				o := Options{Lab: inventedLab(t, 240-60*m.r.IntN(2)), Present: m.r.IntN(2) == 1, Analyse: an.analyse}
				t.Log(what, o.Present)
				same(t, folder, o)
			}
		})
	}
}

// mishaps does one thing after another to a folder of sessions.
type mishaps struct {
	t      *testing.T
	r      *rand.Rand
	folder string
	models string // sessions to copy
	n      int
}

func (m *mishaps) next() string {
	m.n++
	all, err := filepath.Glob(filepath.Join(m.folder, "s*"))
	check(m.t, err)
	if len(all) < 3 || len(all) < 6 && m.r.IntN(4) == 0 {
		return m.add()
	}
	dir := all[m.r.IntN(len(all))]
	name := filepath.Join(m.folder, Name)
	index, _ := os.ReadFile(name)
	what := fmt.Sprint(m.n, " ", filepath.Base(dir), ": ")
	switch k := m.r.IntN(12); k {
	case 0, 1:
		return what + m.amend(dir)
	case 2, 3:
		set := setupOf(m.t, inventedLab(m.t, 240-60*m.r.IntN(2)), m.unit(), m.procedure()).ForAnalysis()
		if s, err := session.Open(dir); err == nil {
			_ = session.StoreAnalysis(dir, s.Analysed(set, "quern test", started, invented(set, m.n))) // not of one that is damaged
		}
		return what + "analysis"
	case 4:
		check(m.t, os.RemoveAll(dir))
		return what + "deleted"
	case 5:
		check(m.t, os.Rename(dir, filepath.Join(m.folder, fmt.Sprintf("s%03d", m.n))))
		return what + "renamed"
	case 6:
		_ = os.Remove(name)
		return what + "index deleted"
	case 7, 8:
		for range min(len(index), 1+m.r.IntN(9)) {
			index[m.r.IntN(len(index))] ^= 1 << m.r.IntN(8)
		}
		check(m.t, os.WriteFile(name, index, 0o644))
		return what + "index corrupt"
	case 9:
		check(m.t, os.WriteFile(name, index[:m.r.IntN(len(index)+1)], 0o644))
		return what + "index cut"
	case 10:
		check(m.t, os.Chtimes(m.file(dir), started, started))
		return what + "touched"
	}
	return what + m.damage(dir)
}

func (m *mishaps) unit() string { return []string{"unit-a", "unit-b"}[m.r.IntN(2)] }

func (m *mishaps) procedure() string { return []string{"mixed", "bones"}[m.r.IntN(2)] }

func (m *mishaps) add() string {
	kind := []int{recorded, recorded, recorded, hand, open}[m.r.IntN(5)]
	unit, procedure := m.unit(), m.procedure()
	model := filepath.Join(m.models, fmt.Sprint(kind, unit, procedure))
	if _, err := os.Stat(model); err != nil {
		add(m.t, model, setupOf(m.t, inventedLab(m.t, 240), unit, procedure), kind, m.n)
	}
	check(m.t, os.CopyFS(filepath.Join(m.folder, fmt.Sprintf("s%03d", m.n)), os.DirFS(model)))
	return fmt.Sprint(m.n, " added, kind ", kind)
}

func (m *mishaps) amend(dir string) string {
	a, err := session.Amend(dir, "quern test", started)
	if err != nil { // one that is open or damaged
		return "not amended"
	}
	defer a.Close()
	_, err = a.AppendCorrection(correction([]string{"unit", "procedure", "void"}[m.r.IntN(3)], []string{m.unit(), m.procedure(), "unit-x"}[m.r.IntN(3)], m.r.IntN(2)))
	check(m.t, err)
	return "amended"
}

// file returns one of the session's files.
func (m *mishaps) file(dir string) string {
	all, err := filepath.Glob(filepath.Join(dir, "*.*"))
	check(m.t, err)
	more, err := filepath.Glob(filepath.Join(dir, "analyses", "*.json"))
	check(m.t, err)
	all = slices.Concat(all, more)
	return all[m.r.IntN(len(all))]
}

// damage cuts a file of a session, or changes a byte and the length with it.
func (m *mishaps) damage(dir string) string {
	name := m.file(dir)
	edit(m.t, name, func(b []byte) []byte {
		if len(b) == 0 || m.r.IntN(2) == 0 {
			return append(b, strings.Repeat("#", m.n)...)
		}
		return b[:m.r.IntN(len(b))]
	})
	return "damaged " + filepath.Base(name)
}
