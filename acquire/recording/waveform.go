package recording

import (
	"fmt"
	"io"
	"math"

	"quern/rig"
	"quern/rig/wave"
)

// waveFeed reads one channel of a WAV file.
type waveFeed struct {
	r       *wave.Reader
	channel int
	rateHz  float64
	done    int64 // frames
	samples []float64
}

func openWave(r io.ReaderAt, size int64, name string, ch rig.Channel, pick int) (*track, error) {
	w, err := wave.Open(r, size, name)
	if err != nil {
		return nil, err
	}
	f := w.Format()
	if !rig.RateTaken(float64(f.RateHz)) {
		return nil, &rig.FileError{File: name, Byte: w.RateAt(), Found: fmt.Sprintf("%d samples a second", f.RateHz),
			Want: fmt.Sprintf("%.0f to %.0f", rig.MinRateHz, rig.MaxRateHz), Do: "record or convert it at such a rate"}
	}
	if w.Frames() == 0 {
		return nil, &rig.FileError{File: name, Byte: size, Found: "no samples", Want: "a recording", Do: "leave the file out, or record again"}
	}
	t := &track{stream: rig.Stream{Form: rig.Waveform, Unit: rig.FullScale, RateHz: float64(f.RateHz)}, encoding: f.Encoding, channels: f.Channels, pick: pick}
	if f.Channels == 1 && pick > 1 { // chosen of another recording: see checkPicks
		pick = 1
	}
	if pick < 0 || pick > f.Channels {
		return nil, &rig.FileError{File: name, Byte: -1, Found: fmt.Sprintf("%d channels", f.Channels),
			Want: fmt.Sprintf("a channel %d", pick), Do: fmt.Sprintf("choose a channel from 1 to %d", f.Channels)}
	}
	if pick == 0 {
		if pick = 1; f.Channels > 1 {
			t.warnings = append(t.warnings, rig.Warning{Code: string(ch) + "-several-channels",
				Text: fmt.Sprintf("the %s recording has %d channels, and none was chosen: the first is used", ch, f.Channels)})
		}
	}
	t.feed = &waveFeed{r: w, channel: pick, rateHz: float64(f.RateHz), samples: make([]float64, blockSamples(float64(f.RateHz)))}
	return t, nil
}

// blockSamples returns the length of a block of a waveform.
func blockSamples(rateHz float64) int { return int(math.Round(rateHz * blockS)) }

func (f *waveFeed) next() (rig.Block, float64, error) {
	n, err := f.r.Read(f.samples, f.channel)
	if err != nil {
		return rig.Block{}, 0, err
	}
	b := rig.Block{StartS: float64(f.done) / f.rateHz, Samples: f.samples[:n]}
	f.done += int64(n)
	return b, float64(f.done) / f.rateHz, nil
}

func (f *waveFeed) repairs() []string { return f.r.Repairs() }
