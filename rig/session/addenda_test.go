package session

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestAddendaAsTheyLie(t *testing.T) {
	dir, batches := amended(t)
	m, err := ReadManifest(dir)
	if err != nil {
		t.Fatal(err)
	}
	want := "# Addenda to a sealed session in line protocol; t_s counts seconds from the session's start.\n" +
		"# The chain begins with manifest_sha256 " + m.Self + ".\n" +
		"# added 2031-05-06T07:08:09Z by quern test\n" +
		`mark,bench=bench-1,procedure=mixed,unit=unit-a fact=2i,text="no 2 # batch n=1",t_s=0 0` + "\n"
	// The chain by hand, as the comment on the form tells it.
	first := textSum(m.Self + want)
	if got := string(batches[0]); !strings.HasPrefix(got, want+"# batch n=4 crc32c=") || !strings.HasSuffix(got, " chain="+first+"\n") {
		t.Errorf("got %s, want %s and chain %s", got, want, first)
	}
	lines := string(batches[1][:bytes.LastIndex(batches[1], []byte("# batch"))])
	if want := textSum(first + lines); !strings.HasSuffix(string(batches[1]), " chain="+want+"\n") {
		t.Errorf("got %s, want chain %s", batches[1], want)
	}
	s, err := Open(dir)
	if err != nil || !strings.HasSuffix(string(batches[2]), " chain="+s.Chain()+"\n") {
		t.Errorf("got chain %s, %v, want that of %s", s.Chain(), err, batches[2])
	}
}

func edit(t testing.TB, dir, file string, change func([]byte) []byte) {
	t.Helper()
	name := filepath.Join(dir, file)
	text, err := os.ReadFile(name)
	if err == nil {
		err = os.WriteFile(name, change(text), 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// The addenda are cut at every byte: everything up to the last whole batch is there, the rest is
// said, and the next amendment sets it aside, in a way that Verify knows, and goes on.
func TestAddendaCutAtEveryByte(t *testing.T) {
	dir, batches := amended(t)
	name, torn := filepath.Join(dir, addendaName), filepath.Join(dir, addendaTornName+"1")
	whole := bytes.Join(batches, nil)
	settled := [][]byte{nil, batches[0], bytes.Join(batches[:2], nil), whole}
	for cut := range len(whole) + 1 {
		n := 0 // whole batches
		for n < 3 && cut >= len(settled[n+1]) {
			n++
		}
		isTorn := cut > len(settled[n])
		if err := os.WriteFile(name, whole[:cut], 0o644); err != nil {
			t.Fatal(err)
		}
		b, err := OpenFacts(dir)
		if err != nil || len(b.Facts.Remarks) != 1+n || slices.Contains(codes(b.Warnings), AddendaTorn) != isTorn {
			t.Fatalf("cut %d: got %+v, %v, want %d facts added", cut, b, err, n)
		}
		problems, err := Verify(dir)
		if err != nil || len(problems) > 0 != isTorn || isTorn && (problems[0].File != name || problems[0].Byte != int64(len(settled[n]))) {
			t.Fatalf("cut %d: Verify got %v, %v", cut, problems, err)
		}
		remark(t, hasty{}, dir, "after", 2+n)
		got, err := os.ReadFile(name)
		if err != nil || !bytes.HasPrefix(got, settled[n]) {
			t.Fatalf("cut %d: %q, %v does not begin with what was whole", cut, got, err)
		}
		if aside, err := os.ReadFile(torn); isTorn && !bytes.Equal(aside, whole[len(settled[n]):cut]) || isTorn == (err != nil) {
			t.Fatalf("cut %d: set aside %q, %v", cut, aside, err)
		}
		if problems, err := Verify(dir); err != nil || len(problems) > 0 {
			t.Fatalf("cut %d: afterwards Verify got %v, %v", cut, problems, err)
		}
		b, err = OpenFacts(dir)
		if err != nil || len(b.Facts.Remarks) != 2+n || len(b.Warnings) > 0 {
			t.Fatalf("cut %d: afterwards got %+v, %v", cut, b, err)
		}
		if !isTorn {
			continue
		}
		edit(t, dir, addendaTornName+"1", func(b []byte) []byte { b[0] ^= 1; return b })
		if problems, err := Verify(dir); err != nil || len(problems) != 1 || problems[0].File != torn {
			t.Fatalf("cut %d: a changed end set aside: got %v, %v", cut, problems, err)
		}
		if err := os.Remove(torn); err != nil {
			t.Fatal(err)
		}
		if problems, err := Verify(dir); err != nil || len(problems) != 1 || problems[0].Found != "no file" {
			t.Fatalf("cut %d: a missing end set aside: got %v, %v", cut, problems, err)
		}
	}
}

// Batches are flipped, dropped, doubled, swapped and forged: Verify and Open tell, at the right place.
func TestTamperedAddenda(t *testing.T) {
	dir, b := amended(t)
	name := filepath.Join(dir, addendaName)
	forged, _ := batched([]byte("mark fact=3i,text=\"forged\",t_s=0 0\n"), "")
	alone := bytes.Replace(b[1], []byte("no 3"), []byte("no 4"), 1)
	lines := alone[:bytes.LastIndex(alone, []byte("# batch"))]
	rewritten, _ := batched(bytes.Clone(lines), chainOf(b[0])) // proves itself, but what follows no longer does
	for _, c := range []struct {
		name  string
		parts [][]byte
		good  int // batches before the first fault
	}{
		{"first dropped", [][]byte{b[1], b[2]}, 0},
		{"second dropped", [][]byte{b[0], b[2]}, 1},
		{"swapped", [][]byte{b[0], b[2], b[1]}, 1},
		{"first two swapped", [][]byte{b[1], b[0], b[2]}, 0},
		{"doubled", [][]byte{b[0], b[1], b[1], b[2]}, 2},
		{"inserted", [][]byte{b[0], forged, b[1], b[2]}, 1},
		{"rewritten", [][]byte{b[0], rewritten, b[2]}, 2},
		{"moved on", [][]byte{[]byte("\n"), b[0], b[1], b[2]}, 0},
	} {
		if err := os.WriteFile(name, bytes.Join(c.parts, nil), 0o644); err != nil {
			t.Fatal(err)
		}
		told(t, dir, c.name, int64(len(bytes.Join(c.parts[:c.good], nil))), c.good)
	}
	whole := bytes.Join(b, nil)
	for at := range whole {
		bad := bytes.Clone(whole)
		bad[at] ^= 1 << (at % 8)
		if err := os.WriteFile(name, bad, 0o644); err != nil {
			t.Fatal(err)
		}
		good, from := 0, 0
		for at >= from+len(b[good]) {
			from += len(b[good])
			good++
		}
		told(t, dir, fmt.Sprintf("byte %d", at), int64(from), good)
	}
	// Cut off at a batch: the chain value is what tells.
	if err := os.WriteFile(name, bytes.Join(b[:2], nil), 0o644); err != nil {
		t.Fatal(err)
	}
	s, err := Open(dir)
	if err != nil || s.Chain() == chainOf(b[2]) || s.Chain() != chainOf(b[1]) {
		t.Errorf("got chain %s, %v", s.Chain(), err)
	}
}

func chainOf(batch []byte) string {
	return string(batch[len(batch)-65 : len(batch)-1])
}

// told fails unless Verify and OpenFacts tell of a fault in the batch that begins at byte from, and
// the facts of the good batches before it are there.
func told(t *testing.T, dir, what string, from int64, good int) {
	t.Helper()
	problems, err := Verify(dir)
	if err != nil || len(problems) != 1 || filepath.Base(problems[0].File) != addendaName || problems[0].Byte != from || problems[0].Line == 0 {
		t.Fatalf("%s: Verify got %v, %v, want a fault at byte %d", what, problems, err, from)
	}
	b, err := OpenFacts(dir)
	if err != nil || len(b.Facts.Remarks) != 1+good {
		t.Fatalf("%s: got %q, %v, want %d facts added", what, texts(b.Facts), err, good)
	}
	if c := codes(b.Warnings); len(c) != 1 || c[0] != AddendaDamaged && c[0] != AddendaTorn {
		t.Fatalf("%s: got warnings %v", what, b.Warnings)
	}
}
