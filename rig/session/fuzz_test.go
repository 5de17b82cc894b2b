package session

import (
	"bytes"
	"errors"
	"hash/crc32"
	"io"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"testing/iotest"

	"quern/rig"
	"quern/rig/line"
)

// seedJournal returns the text of an invented journal.
func seedJournal(f *testing.F) []byte {
	f.Helper()
	text, err := os.ReadFile(filepath.Join(interrupted(f), journalName))
	if err != nil {
		f.Fatal(err)
	}
	return text
}

// FuzzJournal: whatever the bytes, the batches cover the file without gap or overlap, a file that
// comes drop by drop reads like one that comes whole, and each point that is read prints back and
// reads the same. To get past the checksum, the bytes are also tried with a comment that proves them.
func FuzzJournal(f *testing.F) {
	text := seedJournal(f)
	f.Add(text)
	f.Add(text[:len(text)-1])
	f.Add([]byte("scale mass_g=1,t_s=0 0\n"))
	f.Add([]byte("# batch n=0 crc32c=00000000\n"))
	f.Add([]byte("\n# batch n=1 crc32c=0\n\r\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		proved := append(bytes.Clone(text), '\n')
		proved = appendBatchLine(proved, bytes.Count(proved, []byte("\n")), crc32.Checksum(proved, castagnoli))
		for _, b := range [][]byte{text, proved} {
			whole, offset := readAll(t, bytes.NewReader(b)), int64(0)
			for _, x := range whole {
				if x.from != offset || x.to <= x.from {
					t.Fatalf("%q: a batch from %d to %d after %d", b, x.from, x.to, offset)
				}
				offset = x.to
			}
			if offset != int64(len(b)) {
				t.Fatalf("%q: read to %d", b, offset)
			}
			if drip := readAll(t, iotest.OneByteReader(bytes.NewReader(b))); !slices.Equal(whole, drip) {
				t.Fatalf("%q: whole %v, drop by drop %v", b, whole, drip)
			}
			err := newJournal("fuzz", bytes.NewReader(b)).points(func(p line.Point) error {
				again, err := line.Append(nil, p)
				if err != nil {
					t.Fatalf("%q: %+v does not print back: %v", b, p, err)
				}
				q, err := line.Parse(again)
				if err != nil {
					t.Fatalf("%q: %q does not read: %v", b, again, err)
				}
				if twice, err := line.Append(nil, q); err != nil || !bytes.Equal(again, twice) {
					t.Fatalf("%q: %q printed back as %q, %v", b, again, twice, err)
				}
				return nil
			})
			var fault *rig.FileError
			if err != nil && !errors.As(err, &fault) {
				t.Fatalf("%q: %v names no line", b, err)
			}
		}
	})
}

// stretch is what can be compared of a batch.
type stretch struct {
	text     string
	line     int
	from, to int64
	torn     bool
	fault    string
}

func readAll(t *testing.T, r io.Reader) []stretch {
	var out []stretch
	err := newJournal("fuzz", r).each(func(b batch) error {
		s := stretch{text: string(b.text), line: b.line, from: b.from, to: b.to, torn: b.torn}
		if b.fault != nil {
			s.fault = b.fault.Error()
			if s.text != "" {
				t.Fatalf("a faulty batch gave %q", s.text)
			}
		}
		out = append(out, s)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// FuzzManifest: what is read prints back and reads the same, and no file it names lies outside.
func FuzzManifest(f *testing.F) {
	text, err := os.ReadFile(filepath.Join(interrupted(f), manifestName))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte(`{"format":"quern session","version":1,"session":"s","state":"sealed","settings":"settings.toml",` +
		`"journal":"journal.lp","started":"2026-01-01T00:00:00+01:00","files":[{"path":"a/../../b"}]}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		m, err := parseManifest("fuzz", text)
		if err != nil {
			var fault *rig.FileError
			if !errors.As(err, &fault) {
				t.Fatalf("%q: %v names no file", text, err)
			}
			return
		}
		first, err := m.encode()
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		again, err := parseManifest("fuzz", first)
		if err != nil {
			t.Fatalf("%q: %v", first, err)
		}
		if second, err := again.encode(); err != nil || !bytes.Equal(first, second) {
			t.Fatalf("%q became %q, %v", first, second, err)
		}
		for _, e := range m.Streams {
			if !filepath.IsLocal(e.File) {
				t.Fatalf("%q points to %q", text, e.File)
			}
		}
		for _, e := range m.Files {
			if !filepath.IsLocal(e.Path) {
				t.Fatalf("%q points to %q", text, e.Path)
			}
		}
	})
}
