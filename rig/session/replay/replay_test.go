package replay_test

import (
	"errors"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"quern/detect"
	"quern/rig"
	"quern/rig/report/series/recorded"
	"quern/rig/session"
	"quern/rig/session/replay"
	"quern/rig/wave"
)

var errEnough = errors.New("enough")

// brief gives one block and then an error.
type brief struct {
	rig.Source
	blocks int
}

func (b *brief) Next() (rig.Block, error) {
	if b.blocks++; b.blocks > 1 {
		return rig.Block{}, errEnough
	}
	return b.Source.Next()
}

// TestReplay: the warnings of reading come first, what is stored is what was found, and whatever the source goes
// through may end it.
func TestReplay(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "s")
	cut := rig.Warning{Code: "cut-off", Text: "for the test"}
	mic := rig.Stream{Channel: rig.Microphone, Form: rig.Waveform, Unit: rig.FullScale, RateHz: 8000}
	w, err := session.Create(dir, session.Head{Setup: recorded.Setup(t), Started: recorded.Started, Tool: "quern test",
		Warnings: []rig.Warning{cut}, Streams: []session.Stream{{Stream: mic, Encoding: wave.PCM24}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, atS := range []float64{0, 2} {
		if err := w.AppendBlock(rig.Block{Channel: rig.Microphone, StartS: atS, Samples: make([]float64, 8000)}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Seal(); err != nil {
		t.Fatal(err)
	}
	s, err := session.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	set := s.Setup().ForAnalysis()
	if _, err := replay.Analyse(s, set, detect.Trace{}, func(src rig.Source) rig.Source { return &brief{src, 0} }); !errors.Is(err, errEnough) {
		t.Errorf("broken off: %v", err)
	}
	if all, err := session.Analyses(dir); err != nil || len(all) != 0 {
		t.Errorf("analyses of what was broken off: %v, %v", all, err)
	}
	found, err := replay.Keep(dir, set, "quern test", func() time.Time { return recorded.Later }, nil)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(found.Warnings); n < 2 || found.Warnings[0] != cut {
		t.Errorf("warnings %v, want %q and those of the analysis", found.Warnings, cut.Code)
	}
	kept, err := session.LoadAnalysis(dir, session.AnalysisKey(set))
	if err != nil || !reflect.DeepEqual(kept.Result, found) || !kept.Made.Equal(recorded.Later) {
		t.Errorf("kept %+v of %v (%v), want %+v", kept.Result, kept.Made, err, found)
	}
}
