package session

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"quern/rig"
	"quern/rig/wave"
)

// remark appends one remark and closes; its number must be want.
func remark(t testing.TB, d disk, dir, text string, want int) string {
	t.Helper()
	a, err := amend(d, dir, "quern test", made)
	if err != nil {
		t.Fatal(err)
	}
	if n, err := a.AppendRemark(rig.Remark{Text: text}); n != want || err != nil {
		t.Fatalf("got fact %d, %v, want %d", n, err, want)
	}
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	return a.Chain()
}

// amended returns a sealed session with the fact 1 and three batches of addenda, and those batches.
func amended(t testing.TB) (dir string, batches [][]byte) {
	t.Helper()
	dir, _, _ = byHand(t, rig.Facts{Remarks: []rig.Remark{{Text: "sealed"}}})
	name := filepath.Join(dir, addendaName)
	var before int
	for i := range 3 {
		remark(t, hasty{}, dir, fmt.Sprintf("no %d # batch n=1", i+2), i+2)
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		batches = append(batches, text[before:])
		before = len(text)
	}
	return dir, batches
}

func texts(f rig.Facts) (out []string) {
	for _, r := range f.Remarks {
		out = append(out, fmt.Sprintf("%d %s", r.Fact, r.Text))
	}
	return out
}

// Without a fact nothing is written; the chain is then what was sealed.
func TestAmendWithoutFacts(t *testing.T) {
	dir, _, _ := byHand(t, rig.Facts{})
	for _, end := range []func(*Amendments) error{(*Amendments).Close, (*Amendments).Abandon} {
		a, err := Amend(dir, "quern test", made)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := a.AppendRemark(rig.Remark{Text: "a\nb"}); err == nil {
			t.Fatal("two lines were taken")
		}
		if err := errors.Join(end(a), a.Close(), a.Abandon()); err != nil || exists(filepath.Join(dir, addendaName)) {
			t.Fatalf("got %v, and a file", err)
		}
		if _, err := a.AppendRemark(rig.Remark{}); err == nil {
			t.Error("it goes on after its end")
		}
	}
	s, err := Open(dir)
	if err != nil || s.Chain() != s.Manifest().Self {
		t.Errorf("got chain %q, %v", s.Chain(), err)
	}
	a, err := Amend(dir, "quern test", made)
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if _, err := a.AppendRemark(rig.Remark{Text: "x"}); err != nil {
			t.Fatal(err)
		}
		if err := a.Sync(); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := a.AppendRemark(rig.Remark{Text: "abandoned"}); err != nil {
		t.Fatal(err)
	}
	if err := a.Abandon(); err != nil {
		t.Fatal(err)
	}
	if got := texts(factsOf(t, dir)); !slices.Equal(got, []string{"1 x", "2 x"}) {
		t.Errorf("got %q, want what was synced", got)
	}
}

func TestAmendRefuses(t *testing.T) {
	open := interrupted(t)
	damaged := record(t, testHead(Stream{scale, 0}), blocks(5, 1, scale))
	changed := record(t, testHead(Stream{scale, 0}), nil)
	edit(t, damaged, journalName, func(b []byte) []byte { b[len(b)/2] ^= 1; return b })
	cut := record(t, testHead(Stream{scale, 0}), blocks(5, 1, scale))
	edit(t, cut, journalName, func(b []byte) []byte { return b[:0] })
	edit(t, changed, manifestName, func(b []byte) []byte { return bytes.Replace(b, []byte("quern test"), []byte("quern tost"), 1) })
	held, _ := amended(t)
	a, err := Amend(held, "quern test", made)
	if err != nil {
		t.Fatal(err)
	}
	inner, _ := amended(t)
	edit(t, inner, addendaName, func(b []byte) []byte { b[10] ^= 1; return b })
	for _, c := range []struct{ name, dir, tool, want string }{
		{"unsealed", open, "q", "not sealed, expected a sealed one: recover"},
		{"no session", t.TempDir(), "q", "found nothing"},
		{"no folder", filepath.Join(open, "none"), "q", "found nothing"},
		{"damaged journal", damaged, "q", "restore it from a copy first"},
		{"cut journal", cut, "q", "expected the size that was sealed"},
		{"changed manifest", changed, "q", "manifest that was changed"},
		{"two at once", held, "q", "another program is amending"},
		{"damaged inside", inner, "q", "move what begins at byte 0"},
		{"no tool", held, "", "one line of text"},
		{"a tool of two lines", held, "a\nb", "one line of text"},
	} {
		before := ls(t, filepath.Dir(c.dir))
		if _, err := Amend(c.dir, c.tool, made); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want an error with %q", c.name, err, c.want)
		}
		if after := ls(t, filepath.Dir(c.dir)); !slices.Equal(before, after) {
			t.Errorf("%s: %v became %v", c.name, before, after)
		}
	}
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	remark(t, osDisk{}, held, "free again", 5)
}

// The power goes at every operation of an amendment that also has an end to set aside: what was
// there stays, what was closed well is there, and the next amendment ends well.
func TestCrashInAmendment(t *testing.T) {
	for n := 0; ; n++ {
		dir, batches := amended(t)
		tail := batches[2][:len(batches[2])-9]
		edit(t, dir, addendaName, func(b []byte) []byte { return b[:len(b)-9] })
		d := &failing{left: n}
		a, err := amend(d, dir, "quern test", made)
		if err == nil {
			_, aerr := a.AppendRemark(rig.Remark{Text: "crash"})
			err = errors.Join(aerr, a.Close())
		}
		if d.gone == (err == nil) {
			t.Fatalf("operation %d: got %v, power gone %v", n, err, d.gone)
		}
		got := texts(mustFacts(t, dir))
		want := []string{"1 sealed", "2 no 2 # batch n=1", "3 no 3 # batch n=1", "4 crash"}
		if !slices.Equal(got, want) && (err == nil || !slices.Equal(got, want[:3])) {
			t.Fatalf("operation %d: got %q, %v", n, got, err)
		}
		remark(t, osDisk{}, dir, "on", len(got)+1)
		if problems, err := Verify(dir); err != nil || len(problems) > 0 {
			t.Fatalf("operation %d: Verify got %v, %v", n, problems, err)
		}
		if aside, err := os.ReadFile(filepath.Join(dir, addendaTornName+"1")); err != nil || !bytes.Equal(aside, tail) {
			t.Fatalf("operation %d: set aside %q, %v, want %q", n, aside, err, tail)
		}
		if !d.gone {
			if f := d.files[len(d.files)-1]; f.synced != f.closed {
				t.Errorf("%s was closed at %d bytes with %d synced", f.path, f.closed, f.synced)
			}
			t.Logf("%d operations", n)
			return
		}
	}
}

// Addenda that prove themselves and give a number of the journal a second time are refused.
func TestNumbersOnce(t *testing.T) {
	dir, _, _ := byHand(t, rig.Facts{Remarks: []rig.Remark{{Text: "sealed"}}})
	m, err := ReadManifest(dir)
	if err != nil {
		t.Fatal(err)
	}
	text, _ := batched([]byte("mark fact=1i,text=\"forged\",t_s=0 0\n"), m.Self)
	if err := os.WriteFile(filepath.Join(dir, addendaName), text, 0o644); err != nil {
		t.Fatal(err)
	}
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	_, whole := s.Facts()
	_, brief := OpenFacts(dir)
	_, more := Amend(dir, "quern test", made)
	for _, err := range []error{whole, brief, more} {
		if err == nil || !strings.Contains(err.Error(), "fact 1 after fact 1") {
			t.Errorf("got %v, want a refusal", err)
		}
	}
	if problems, err := Verify(dir); err != nil || len(problems) != 1 {
		t.Errorf("Verify: got %v, %v", problems, err)
	}
}

func mustFacts(t testing.TB, dir string) rig.Facts {
	t.Helper()
	b, err := OpenFacts(dir)
	if err != nil {
		t.Fatal(err)
	}
	return b.Facts
}

// A session that was recorded until it was sealed goes on with the number after its last fact; a
// long day's addenda make several batches.
func TestAmendGoesOn(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "s")
	head := testHead(Stream{microphone, wave.PCM16}, Stream{scale, 0})
	head.Live, head.Origin = true, rig.Recorded
	w, err := Create(dir, head)
	if err != nil {
		t.Fatal(err)
	}
	for i, b := range blocks(2, 1, microphone, scale) {
		if err := w.AppendBlock(b); err != nil {
			t.Fatal(err)
		}
		if i == 5 {
			if err := mark(w, 0.5, 1, "bone"); err != nil {
				t.Fatal(err)
			}
		}
	}
	if n, err := w.AppendWeighing(rig.Weighing{AtS: 1, Role: rig.Chamber, NetG: rig.Fig(5)}); n != 2 || err != nil {
		t.Fatal(n, err)
	}
	if err := w.Seal(); err != nil {
		t.Fatal(err)
	}
	a, err := Amend(dir, "quern test", made)
	if err != nil {
		t.Fatal(err)
	}
	long := strings.Repeat("x", rig.LongestText)
	want := []string{"1 bone"}
	const last = 172 // some 180 kB
	for n := 3; n <= last; n++ {
		if got, err := a.AppendRemark(rig.Remark{AtS: 1e8, Text: long}); got != n || err != nil {
			t.Fatalf("got %d, %v, want %d", got, err, n)
		}
		want = append(want, fmt.Sprintf("%d %s", n, long))
	}
	if n, err := a.AppendCorrection(rig.Correction{Target: "weighing.2", New: "withdrawn", Who: "a", Why: "b"}); n != last+1 || err != nil {
		t.Fatal(n, err)
	}
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	f := factsOf(t, dir)
	if got := texts(f); !slices.Equal(got, want) || !f.Corrections[0].At.Equal(made) {
		t.Errorf("got %.100q, %v", got, f.Corrections)
	}
	text, err := os.ReadFile(filepath.Join(dir, addendaName))
	if n := bytes.Count(text, []byte("\n# batch ")); err != nil || n != 3 {
		t.Errorf("got %d batches, %v, want 3", n, err)
	}
	if n := bytes.Count(text, []byte("\n# added ")); n != 1 {
		t.Errorf("it says %d times by what they were added, want once", n)
	}
	if problems, err := Verify(dir); err != nil || len(problems) > 0 {
		t.Errorf("Verify: got %v, %v", problems, err)
	}
}
