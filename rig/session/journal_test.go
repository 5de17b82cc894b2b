package session

import (
	"bytes"
	"hash/crc32"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"quern/rig"
	"quern/rig/line"
	"quern/rig/wave"
)

// Source: the CRC-32C of 32 bytes of zeros is aa36918a (RFC 3720, B.4, in network order of bits:
// aa 36 91 8a), of "123456789" e3069283 (catalogues of CRC parameters). Both from memory.
func TestChecksumIsCastagnoli(t *testing.T) {
	if got := crc32.Checksum([]byte("123456789"), castagnoli); got != 0xe3069283 {
		t.Errorf("got %08x, want e3069283", got)
	}
	if got := crc32.Checksum(make([]byte, 32), castagnoli); got != 0x8a9136aa {
		t.Errorf("got %08x, want 8a9136aa", got)
	}
}

// hasty is a disk that does not wait for anything to last: tests that do much need not either.
type hasty struct{ osDisk }

type hastyFile struct{ *os.File }

func (hastyFile) Sync() error      { return nil }
func (hasty) SyncDir(string) error { return nil }
func (hasty) Create(path string) (file, error) {
	f, err := os.Create(path)
	return hastyFile{f}, err
}
func (hasty) Append(path string) (file, error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o644)
	return hastyFile{f}, err
}

// goodLength returns how many bytes of text its complete batches take, found without the code under
// test: the batches are known from how the text was written.
func goodLength(text []byte) int {
	end := 0
	for at := 0; ; {
		i := bytes.Index(text[at:], []byte("\n# batch "))
		if i < 0 {
			return end
		}
		j := bytes.IndexByte(text[at+i+1:], '\n')
		if j < 0 {
			return end
		}
		at += i + 1 + j
		end = at + 1
	}
}

// The journal is cut at every byte: recovery keeps the complete batches, nothing else, and sets the
// rest aside; reading alone gives the same and stores nothing.
func TestCutAtEveryByte(t *testing.T) {
	dir := interrupted(t)
	name := filepath.Join(dir, journalName)
	whole, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(whole, []byte("\n# batch ")); n != 5 {
		t.Fatalf("the journal has %d batches, want 5", n)
	}
	for cut := range len(whole) + 1 {
		if err := os.WriteFile(name, whole[:cut], 0o644); err != nil {
			t.Fatal(err)
		}
		good := goodLength(whole[:cut])
		s := proved(t, dir)
		if torn := slices.Contains(codes(s.Warnings()), JournalTorn); torn != (good < cut) {
			t.Fatalf("cut %d: warnings %v", cut, s.Warnings())
		}
		read := pointsOf(t, s)
		if names := ls(t, dir); len(names) != 4 {
			t.Fatalf("cut %d: reading left %v", cut, names)
		}
		done, err := recoverOn(hasty{}, dir)
		if err != nil || done.kept != int64(good) || done.aside != int64(cut-good) {
			t.Fatalf("cut %d: got %+v, %v, want %d bytes kept", cut, done, err, good)
		}
		if kept, err := os.ReadFile(name); err != nil || !bytes.Equal(kept, whole[:good]) {
			t.Fatalf("cut %d: kept %q, %v", cut, kept, err)
		}
		if !slices.Equal(pointsOf(t, proved(t, dir)), read) {
			t.Fatalf("cut %d: other points after recovery", cut)
		}
		if done.torn == "" {
			continue
		}
		aside := filepath.Join(dir, done.torn)
		if got, err := os.ReadFile(aside); err != nil || !bytes.Equal(got, whole[good:cut]) {
			t.Fatalf("cut %d: set aside %q, %v", cut, got, err)
		}
		if err := os.Remove(aside); err != nil {
			t.Fatal(err)
		}
	}
}

// Any flipped bit costs the batches it lies in, and no other: it is found, said, and set aside.
func TestFlippedBitIsFound(t *testing.T) {
	dir := interrupted(t)
	name := filepath.Join(dir, journalName)
	whole, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	all := pointsOf(t, s)
	for at := range whole {
		for _, bit := range []byte{1, 0x20, 0x80} {
			bad := bytes.Clone(whole)
			bad[at] ^= bit
			if err := os.WriteFile(name, bad, 0o644); err != nil {
				t.Fatal(err)
			}
			s := proved(t, dir)
			found := codes(s.Warnings())
			if !slices.Contains(found, JournalTorn) && !slices.Contains(found, JournalDamaged) {
				t.Fatalf("byte %d, bit %#x of %q: not found", at, bit, bad)
			}
			rest := pointsOf(t, s)
			if len(rest) >= len(all) && at > len(heading(s.manifest))+30 || len(rest) < len(all)-4 {
				t.Fatalf("byte %d, bit %#x: %d of %d points are left", at, bit, len(rest), len(all))
			}
			for _, p := range rest {
				if !slices.Contains(all, p) {
					t.Fatalf("byte %d, bit %#x: a new point %s", at, bit, p)
				}
			}
		}
	}
	if err := os.WriteFile(name, whole[10:], 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := recoverOn(osDisk{}, dir); err != nil {
		t.Fatal(err)
	}
	if s, err = Open(dir); err != nil || !slices.Equal(codes(s.Warnings()), []string{Interrupted}) {
		t.Errorf("after recovery: %v, %v, want no more than %s", s.Warnings(), err, Interrupted)
	}
}

func TestVerifyFindsEveryChangedByte(t *testing.T) {
	dir := record(t, testHead(Stream{microphone, wave.PCM16}, Stream{scale, 0}), blocks(5, 0.02, microphone, scale))
	for _, rel := range []string{manifestName, settingsName, journalName, recordingName(rig.Microphone)} {
		name := filepath.Join(dir, filepath.FromSlash(rel))
		whole, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for at := range whole {
			if rel == settingsName && at%9 > 0 {
				continue // long, and no other than the rest
			}
			bad := bytes.Clone(whole)
			bad[at] ^= 1 << (at % 8)
			if err := os.WriteFile(name, bad, 0o644); err != nil {
				t.Fatal(err)
			}
			problems, err := Verify(dir)
			if err == nil && (len(problems) == 0 || !strings.Contains(problems[0].File, filepath.Base(rel)) && rel != manifestName) {
				t.Fatalf("%s, byte %d: got %v", rel, at, problems)
			}
			if err != nil && rel != manifestName {
				t.Fatalf("%s, byte %d: got %v", rel, at, err)
			}
		}
		if err := os.WriteFile(name, whole, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	extra := filepath.Join(dir, "notes.txt")
	if err := os.WriteFile(extra, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(filepath.Join(dir, settingsName)); err != nil {
		t.Fatal(err)
	}
	problems, err := Verify(dir)
	if err != nil || len(problems) != 2 || problems[0].Found != "no file" || problems[1].File != extra {
		t.Errorf("got %v, %v, want a file missing and one too many", problems, err)
	}
}

// A changed file of a sealed session is used and said, where its size or the journal tells.
func TestOpenSaysWhatChanged(t *testing.T) {
	dir := record(t, testHead(Stream{scale, 0}), blocks(5, 1, scale))
	if s, err := Open(dir); err != nil || len(s.Warnings()) > 0 {
		t.Fatalf("got %v, %v, want no warning", s.Warnings(), err)
	}
	name := filepath.Join(dir, journalName)
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, text[:len(text)-1], 0o644); err != nil {
		t.Fatal(err)
	}
	s, err := Open(dir)
	if err != nil || !slices.Equal(codes(s.Warnings()), []string{Changed, JournalTorn}) {
		t.Errorf("got %v, %v, want %s and %s", s.Warnings(), err, Changed, JournalTorn)
	}
	if _, err := recoverOn(osDisk{}, dir); err == nil {
		t.Error("a sealed session was recovered")
	}
}

// A byte changed in the settings or in the journal is said, although the size is the same.
func TestOpenSaysWhatChangedInPlace(t *testing.T) {
	for _, name := range []string{settingsName, journalName} {
		dir := record(t, testHead(Stream{scale, 0}), blocks(5, 1, scale))
		edit(t, dir, name, func(b []byte) []byte {
			at := bytes.Index(b, []byte("# ")) + 3 // inside a comment: nothing else would tell
			if at < 3 {
				t.Fatalf("%s has no comment", name)
			}
			b[at] ^= 1
			return b
		})
		s, err := Open(dir)
		if err != nil || len(s.Warnings()) == 0 || s.Warnings()[0].Code != Changed || !strings.Contains(s.Warnings()[0].Text, name+" is not what was sealed") {
			t.Errorf("%s: got %v, %v, want %s", name, s.Warnings(), err, Changed)
		}
	}
}

// A torn end costs the last batch alone: a hundred readings or so.
func TestTornEndCostsLittle(t *testing.T) {
	const n = 1000
	dir := filepath.Join(t.TempDir(), "s")
	w, err := Create(dir, testHead(Stream{scale, 0}))
	if err != nil {
		t.Fatal(err)
	}
	for i := range n {
		if err := w.AppendReading(rig.Scale, rig.Reading{AtS: float64(i) / 10, Value: 2500}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Seal(); err != nil {
		t.Fatal(err)
	}
	edit(t, dir, journalName, func(b []byte) []byte { return b[:len(b)-1] })
	_, out := replay(t, dir)
	got := 0
	for _, b := range out {
		got += len(b.Readings)
	}
	if got < n-200 || got == n {
		t.Errorf("%d of %d readings are left after a cut of one byte", got, n)
	}
}

// proved opens a session without its settings, which take longest to read.
func proved(t testing.TB, dir string) *Session {
	t.Helper()
	m, err := ReadManifest(dir)
	if err != nil {
		t.Fatal(err)
	}
	s := &Session{dir: dir, manifest: m}
	if err := s.checkJournal(); err != nil {
		t.Fatal(err)
	}
	return s
}

// pointsOf returns the points of the journal as lines.
func pointsOf(t testing.TB, s *Session) []string {
	t.Helper()
	var out []string
	err := s.Journal(func(p line.Point) error {
		text, err := line.Append(nil, p)
		out = append(out, string(text))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func ls(t testing.TB, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

// The quick way of reading a line gives what the codec gives, or leaves it to the codec.
func TestQuickReading(t *testing.T) {
	usual := newStamper(Manifest{Bench: `a b,c=\ mass_g=`, Unit: "u"}).beginning(scale, "mass_g")
	if want := `scale,bench=a\ b\,c\=\\ mass_g\=,unit=u mass_g=`; string(usual) != want {
		t.Fatalf("got %s, want %s", usual, want)
	}
	for rest, quick := range map[string]bool{
		"1.5,stable=true,t_s=0.1 0":         true,
		"-0,stable=false,t_s=1e-05 0":       true,
		"12,t_s=3 0":                        true,
		"1i,t_s=3 0":                        false,
		"12,t_s=NaN 0":                      false,
		"-inf,t_s=1 0":                      false,
		"12,stable=t,t_s=3 0":               false,
		"12,t_s=3":                          false,
		"12 0":                              false,
		"12,stable=true,note=\"a\",t_s=1 0": false,
	} {
		text := []byte(string(usual) + rest + "\n")
		got, ok := quickReading(text, usual)
		if ok != quick {
			t.Errorf("%s: quick %v, want %v", rest, ok, quick)
		}
		if !ok {
			continue
		}
		p, err := line.Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		if want, err := readReading(p, "mass_g"); err != nil || got != want {
			t.Errorf("%s: got %+v, want %+v, %v", rest, got, want, err)
		}
	}
}
