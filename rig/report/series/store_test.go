package series

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"quern/rig/report/series/recorded"
	"reflect"
	"strings"
	"testing"
	"time"
)

func cacheFiles(t *testing.T, cache string) []string {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(cache, "*"+storeSuffix))
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// TestCache: what was derived once is read the next time and tells the same; what does not prove itself, or is
// of something else, is made again.
func TestCache(t *testing.T) {
	folder := t.TempDir()
	dir, cache := filepath.Join(folder, "s"), filepath.Join(folder, CacheName)
	recorded.Record(t, dir, recorded.Small(t, "plain"), true, gapped...)
	opened(t, dir, cache)
	files := cacheFiles(t, cache)
	if len(files) != 1 || !strings.HasPrefix(filepath.Base(files[0]), "s-") {
		t.Fatalf("cache holds %q, want one file of s", files)
	}
	good, err := os.ReadFile(files[0])
	if err != nil {
		t.Fatal(err)
	}
	fresh := opened(t, dir, "")
	same := func(s *Session, cached bool) {
		t.Helper()
		if s.cached != cached {
			t.Errorf("read from the cache: %v, want %v", s.cached, cached)
		}
		for _, c := range fresh.Channels() {
			if c == ThirdOctaves {
				a, err1 := fresh.Octaves(t.Context(), 0, 40, 300)
				b, err2 := s.Octaves(t.Context(), 0, 40, 300)
				if err1 != nil || err2 != nil || fmt.Sprint(a) != fmt.Sprint(b) {
					t.Errorf("%s differ (%v, %v)", c, err1, err2)
				}
				continue
			}
			a, err1 := fresh.Envelope(t.Context(), c, 0, 40, 333)
			b, err2 := s.Envelope(t.Context(), c, 0, 40, 333)
			if err1 != nil || err2 != nil || fmt.Sprint(a) != fmt.Sprint(b) {
				t.Errorf("%s differ (%v, %v)", c, err1, err2)
			}
		}
	}
	same(opened(t, dir, cache), true)
	for _, at := range []int{0, len(storeMagic), 40, len(good) / 2, len(good) - 1} {
		bad := bytes.Clone(good)
		bad[at] ^= 4
		if err := os.WriteFile(files[0], bad, 0o644); err != nil {
			t.Fatal(err)
		}
		same(opened(t, dir, cache), false)
		if now, err := os.ReadFile(files[0]); err != nil || !bytes.Equal(now, good) {
			t.Fatalf("byte %d was wrong and the file was not made again (%v)", at, err)
		}
	}
	if err := os.WriteFile(files[0], good[:len(good)/3], 0o644); err != nil {
		t.Fatal(err)
	}
	same(opened(t, dir, cache), false)
	other := filepath.Join(folder, "other")
	recorded.Record(t, other, recorded.Small(t, "plain"), false)
	opened(t, other, cache)
	if n := len(cacheFiles(t, cache)); n != 2 {
		t.Errorf("%d files, want 2", n)
	}
}

// TestUnwritableCache: without a place to keep it, everything is still told.
func TestUnwritableCache(t *testing.T) {
	folder := t.TempDir()
	dir := filepath.Join(folder, "s")
	recorded.Record(t, dir, recorded.Small(t, "plain"), false)
	cache := filepath.Join(folder, "file")
	if err := os.WriteFile(cache, []byte("in the way"), 0o644); err != nil {
		t.Fatal(err)
	}
	s := opened(t, dir, cache)
	if e, err := s.Envelope(t.Context(), Level, 0, 30, 10); err != nil || e.Progress != 1 {
		t.Errorf("progress %g (%v), want all", e.Progress, err)
	}
}

// TestPrune drops what was used longest ago, and never what was just written.
func TestPrune(t *testing.T) {
	dir := t.TempDir()
	write := func(name string, size int, age time.Duration) {
		t.Helper()
		path := filepath.Join(dir, name)
		at := time.Now().Add(-age)
		if err := os.WriteFile(path, make([]byte, size), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(path, at, at); err != nil {
			t.Fatal(err)
		}
	}
	write("a.bin", 400, 5*time.Hour)
	write("b.bin", 400, 3*time.Hour)
	write("c.bin", 400, time.Hour)
	write("new.bin", 900, 9*time.Hour)
	write("notes.txt", 5000, 9*time.Hour)
	write(".new-1", 10, 2*time.Hour)
	write(".new-2", 10, time.Minute)
	store{dir, 1400}.prune(filepath.Join(dir, "new.bin"))
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var left []string
	for _, e := range entries {
		left = append(left, e.Name())
	}
	if want := []string{".new-2", "c.bin", "new.bin", "notes.txt"}; !reflect.DeepEqual(left, want) {
		t.Errorf("left %q, want %q", left, want)
	}
}

// example is a small file of everything.
func example() *derived {
	nan := float32(math.NaN())
	return &derived{
		waves:   map[string]blocks{Waveform: {256, []float32{-1, 0}, []float32{1, 2}, []float32{0, 0.5}}, Current: {512, []float32{}, []float32{}, []float32{}}},
		series:  map[string]points{Level: {at: []float64{1, 2}, lo: []float32{1, nan}, hi: []float32{2, 3}, mean: []float32{1.5, 2}, every: 2, gaps: []span{{3, 4}}}},
		octaves: &cells{2, 0.125, []float32{1, 2, 3, 4}, []float32{0, 0.125, 0.125, 0}},
	}
}

// FuzzDerived: what reads is written the same again, and nothing else does any harm.
func FuzzDerived(f *testing.F) {
	const key = "0123456789abcdef"
	f.Add(example().encode(key))
	f.Add((&derived{}).encode(key))
	f.Add([]byte(storeMagic))
	f.Fuzz(func(t *testing.T, b []byte) {
		d, err := decodeDerived(b, key)
		if err != nil {
			// The checksum keeps the fuzzer out: give it one.
			if len(b) < 4 {
				return
			}
			if d, err = decodeDerived(signed(b), key); err != nil {
				return
			}
			b = signed(b)
		}
		if again := d.encode(key); !bytes.Equal(again, b) {
			t.Fatalf("%d bytes read, %d other ones written", len(b), len(again))
		}
	})
}

func TestDerivedComesBack(t *testing.T) {
	b := example().encode("k")
	d, err := decodeDerived(b, "k")
	if err != nil || !bytes.Equal(d.encode("k"), b) || len(d.waves) != 2 || d.series[Level].hi[1] != 3 || d.octaves.covered[2] != 0.125 {
		t.Errorf("%+v (%v)", d, err)
	}
	if _, err := decodeDerived(b, "other"); err == nil {
		t.Error("it reads under another key")
	}
	for n := range len(b) {
		if _, err := decodeDerived(b[:n], "k"); err == nil {
			t.Fatalf("its first %d bytes read", n)
		}
		if _, err := decodeDerived(signed(b[:n]), "k"); err == nil && n < len(b)-4 {
			t.Fatalf("its first %d bytes read with a checksum", n)
		}
	}
}
