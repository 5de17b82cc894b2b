package session

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"quern/rig"
	"quern/rig/wave"
)

func TestSourceGivesWhatWasAppended(t *testing.T) {
	for _, c := range []struct {
		name    string
		streams []Stream
	}{
		{"waveforms and scale", []Stream{{microphone, wave.PCM16}, {clampWave, wave.Float64}, {scale, 0}}},
		{"clamp readings", []Stream{{clampRMS, 0}, {microphone, wave.PCM24}}},
		{"two kinds of readings", []Stream{{clampRMS, 0}, {scale, 0}}},
		{"32 bits", []Stream{{microphone, wave.PCM32}}},
		{"8 bits", []Stream{{coarse, wave.PCM8}}},
		{"float", []Stream{{microphone, wave.Float32}}},
	} {
		for _, live := range []bool{false, true} {
			t.Run(c.name, func(t *testing.T) {
				head := testHead(c.streams...)
				head.Live = live
				var streams []rig.Stream
				for _, s := range c.streams {
					streams = append(streams, s.Stream)
				}
				in := blocks(7, 3.3, streams...)
				dir := record(t, head, in)
				s, out := replay(t, dir)
				if len(s.Warnings()) > 0 {
					t.Errorf("got warnings %v, want none", s.Warnings())
				}
				if got := s.Setup(); !reflect.DeepEqual(got, testSetup()) {
					t.Errorf("the settings came back as %+v", got)
				}
				src, _ := s.Source()
				if !slices.Equal(src.Streams(), streams) {
					t.Errorf("got streams %v, want %v", src.Streams(), streams)
				}
				src.Close()
				same(t, gather(rates(streams), out), gather(rates(streams), in))
				inOrder(t, out, rates(streams))
				if problems, err := Verify(dir); err != nil || len(problems) > 0 {
					t.Errorf("Verify: got %v, %v, want nothing", problems, err)
				}
			})
		}
	}
}

// inOrder fails if a block begins before the one before it, or is longer than it may be.
func inOrder(t *testing.T, all []rig.Block, rates map[rig.Channel]float64) {
	t.Helper()
	last := 0.0
	for i, b := range all {
		start, length := b.StartS, float64(len(b.Samples))/rates[b.Channel]
		if len(b.Readings) > 0 {
			start = b.Readings[0].AtS
			length = b.Readings[len(b.Readings)-1].AtS - start
		} else if len(b.Samples) == 0 {
			t.Fatalf("block %d is empty", i)
		}
		if start < last || length > blockS+1e-3 {
			t.Fatalf("block %d of %s begins at %v s after %v s, and is %v s long", i, b.Channel, start, last, length)
		}
		last = start
	}
}

// A bench delivers late starts, gaps and jitter: their times must come back bit for bit.
func TestGapsComeBack(t *testing.T) {
	starts := []float64{0.3, 0.3 + 100/8000.0, 0.35, 0.35 + 7.1e-9 + 100/8000.0, 2}
	var in []rig.Block
	for i, at := range starts {
		in = append(in, rig.Block{Channel: rig.Microphone, StartS: at, Samples: make([]float64, 100)})
		in[i].Samples[0] = float64(i) / 32768
	}
	dir := record(t, testHead(Stream{microphone, wave.PCM16}), in)
	_, out := replay(t, dir)
	same(t, gather(rates([]rig.Stream{microphone}), out), gather(rates([]rig.Stream{microphone}), in))
	var got []float64
	for _, b := range out {
		if len(b.Samples) > 0 { // the others tell of a gap while it lasts
			got = append(got, b.StartS)
		}
	}
	// The second block follows on the first, so it is read with it.
	want := []float64{starts[0], starts[2], starts[3], starts[4]}
	if !slices.Equal(got, want) {
		t.Errorf("got starts %v, want %v", got, want)
	}
}

func TestImportAppearsWhenSealed(t *testing.T) {
	for _, end := range []string{"seal", "close", "abort", "taken meanwhile"} {
		parent := t.TempDir()
		dir := filepath.Join(parent, "s")
		w, err := Create(dir, testHead(Stream{microphone, wave.PCM16}))
		if err != nil {
			t.Fatal(err)
		}
		if exists(dir) {
			t.Fatalf("%s: the session is there before it is whole", end)
		}
		switch end {
		case "seal":
			err = w.Seal()
		case "abort":
			err = w.Abort()
		case "taken meanwhile":
			if err := os.Mkdir(dir, 0o755); err != nil {
				t.Fatal(err)
			}
			if err := w.Seal(); !errors.Is(err, fs.ErrExist) {
				t.Errorf("got %v, want an error that the name is taken", err)
			}
			if err := os.Remove(dir); err != nil { // fails if something was put into it
				t.Error(err)
			}
		}
		if cerr := w.Close(); err != nil || cerr != nil {
			t.Errorf("%s: %v, %v", end, err, cerr)
		}
		left, _ := os.ReadDir(parent)
		if end == "seal" && len(left) == 1 && left[0].Name() == "s" {
			continue
		}
		if len(left) > 0 {
			t.Errorf("%s: %v was left", end, left)
		}
	}
}

func TestWarningsTravel(t *testing.T) {
	for _, live := range []bool{false, true} {
		head := testHead(Stream{scale, 0})
		head.Live = live
		head.Warnings = []rig.Warning{{Code: "microphone-file-repaired", Text: "at byte 4: <0> & \"0\""}}
		dir := filepath.Join(t.TempDir(), "s")
		w, err := Create(dir, head)
		if err != nil {
			t.Fatal(err)
		}
		added := rig.Warning{Code: "scale-late", Text: "µ"}
		if err := w.AddWarning(added); err != nil {
			t.Fatal(err)
		}
		if live { // known even if the power goes now
			s, err := Open(dir)
			if want := append(slices.Clone(head.Warnings), added); err != nil || !slices.Equal(s.Warnings()[:2], want) {
				t.Errorf("got %v, %v, want %v first", s.Warnings(), err, want)
			}
		}
		if err := w.Seal(); err != nil {
			t.Fatal(err)
		}
		s, err := Open(dir)
		if want := append(slices.Clone(head.Warnings), added); err != nil || !slices.Equal(s.Warnings(), want) {
			t.Errorf("got %v, %v, want %v", s.Warnings(), err, want)
		}
	}
}

// Manifests older than the origin keep their proof, and say nothing of it. The one in testdata was
// written before there was such a key.
func TestOriginInManifest(t *testing.T) {
	golden, err := os.ReadFile(filepath.Join("testdata", "manifest-1.json"))
	if err != nil {
		t.Fatal(err)
	}
	m, err := parseManifest("manifest-1.json", golden)
	if err != nil || m.Origin != "" || !m.proves() {
		t.Errorf("got %+v, %v, want a manifest that proves itself", m, err)
	}
	if again, err := m.encode(); err != nil || !bytes.Equal(again, golden) {
		t.Errorf("got %s, %v", again, err)
	}
	old := record(t, testHead(Stream{scale, 0}), nil)
	text, err := os.ReadFile(filepath.Join(old, manifestName))
	if err != nil || bytes.Contains(text, []byte("origin")) {
		t.Errorf("got %s, %v, want no origin", text, err)
	}
	head := testHead()
	head.Origin = "found"
	if _, err := Create(filepath.Join(t.TempDir(), "s"), head); err == nil || !strings.Contains(err.Error(), `origin "found"`) {
		t.Errorf("got %v, want a refusal", err)
	}
	for _, o := range []rig.Origin{rig.Recorded, rig.Imported, rig.ByHand} {
		head.Origin = o
		s, err := Open(record(t, head, nil))
		if err != nil || s.Manifest().Origin != o || len(s.Warnings()) > 0 || !s.Manifest().proves() {
			t.Errorf("%s: got %+v, %v", o, s.Manifest(), err)
		}
	}
	if !reflect.DeepEqual(mustFacts(t, old), rig.Facts{}) {
		t.Error("facts where there are none")
	}
}
