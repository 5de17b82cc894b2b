package session

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strings"

	"quern/rig"
	"quern/rig/wave"
)

// encodings are the encodings of a recording by their names in the manifest.
var encodings = []struct {
	name string
	wave wave.Encoding
}{
	{"pcm8", wave.PCM8}, {"pcm16", wave.PCM16}, {"pcm24", wave.PCM24}, {"pcm32", wave.PCM32},
	{"float32", wave.Float32}, {"float64", wave.Float64},
}

// encodingName returns the name of an encoding in the manifest, "" for none.
func encodingName(e wave.Encoding) string {
	for _, known := range encodings {
		if known.wave == e {
			return known.name
		}
	}
	return ""
}

// encodingOf is the inverse of encodingName.
func encodingOf(name string) (wave.Encoding, error) {
	for _, known := range encodings {
		if known.name == name {
			return known.wave, nil
		}
	}
	return 0, fmt.Errorf("encoding %q, not pcm8, pcm16, pcm24, pcm32, float32 or float64", name)
}

// anchor says when a frame of a waveform was; the frames after it follow at the stream's rate.
type anchor struct {
	frame int64
	atS   float64
}

func (a anchor) time(frame int64, rateHz float64) float64 {
	return a.atS + float64(frame-a.frame)/rateHz
}

// track is a stream being written.
type track struct {
	entry  StreamEntry
	field  string  // of a reading
	lastS  float64 // of the last reading
	file   *summed
	wave   *wave.Writer
	frames int64 // written
	said   int64 // of them, those that the journal says were synced
	at     anchor
	goneS  float64                   // nothing came up to here
	drop   bool                      // samples are no longer kept
	exact  func(sample float64) bool // whether the encoding holds it as it is
}

// openTrack makes the file that a waveform needs. A WAV header counts whole hertz: the manifest
// holds the exact rate.
func (w *Writer) openTrack(e StreamEntry) (*track, error) {
	t := &track{entry: e}
	if e.Form != rig.Waveform {
		var err error
		t.field, err = readingField(e.Stream())
		return t, err
	}
	enc, err := encodingOf(e.Encoding)
	if err != nil {
		return nil, err
	}
	made, err := w.disk.Create(within(w.root, e.File))
	if err != nil {
		return nil, err
	}
	f := &summed{file: made}
	shape := wave.Format{RateHz: int(max(1, math.Round(e.RateHz))), Channels: 1, Encoding: enc}
	if t.wave, err = wave.Create(f, shape, within(w.dir, e.File)); err != nil {
		_ = f.Close() // the first error tells more
		return nil, err
	}
	f.crc = 0 // of the header, which is written anew in the end
	t.file, t.exact = f, exactness(enc)
	return t, nil
}

// exactness returns the test for an encoding. Whole numbers stand for steps of full scale: 16 bits
// for -1 to 1 - 2^-15 in steps of 2^-15.
func exactness(enc wave.Encoding) func(float64) bool {
	switch {
	case !enc.Float():
		scale := math.Ldexp(1, enc.Bits()-1)
		return func(s float64) bool {
			v := s * scale
			return v >= -scale && v < scale && v == math.Trunc(v)
		}
	case enc == wave.Float32:
		return func(s float64) bool { return float64(float32(s)) == s && !math.IsInf(s, 0) }
	}
	return func(s float64) bool { return !math.IsNaN(s) && !math.IsInf(s, 0) }
}

// recording is a WAV file of the session being read.
type recording struct {
	file   *os.File
	wave   *wave.Reader
	frames int64 // that are used: see proven
	empty  bool  // the session was interrupted before the first sample
}

// bytes returns where in the file frame n begins.
func (r *recording) bytes(n int64) int64 {
	_, from, _ := r.wave.Data().Outer()
	return from + n*int64(r.wave.Format().FrameBytes())
}

func (s *Session) openRecording(e StreamEntry) (*recording, error) {
	name := within(s.dir, e.File)
	f, err := os.Open(name)
	if errors.Is(err, fs.ErrNotExist) && !s.manifest.lists(e.File) {
		return &recording{empty: true}, nil
	}
	if err != nil {
		return nil, unreadable(name, err, "the recording of the "+string(e.Channel))
	}
	info, err := f.Stat()
	if err != nil {
		_ = f.Close() // the first error tells more
		return nil, unreadable(name, err, "the recording of the "+string(e.Channel))
	}
	r, err := wave.Open(f, info.Size(), name)
	if err != nil && info.Size() <= longestHeader {
		return &recording{empty: true}, f.Close()
	}
	if err != nil {
		_ = f.Close() // the first error tells more
		return nil, restore(err)
	}
	frames, err := s.proven(e.Channel, r)
	if err != nil {
		_ = f.Close() // the first error tells more
		return nil, unreadable(name, err, "the recording of the "+string(e.Channel))
	}
	return &recording{file: f, wave: r, frames: frames}, nil
}

// longestHeader is the most that a WAV file of ours holds before its first sample, in bytes. What is
// shorter and does not read is a header that was cut off.
const longestHeader = 94

func (r *recording) Close() error {
	if r.file == nil {
		return nil
	}
	return r.file.Close()
}

// checkRecordings opens every recording once, so that faults are known before anything is read.
func (s *Session) checkRecordings() error {
	for _, e := range s.manifest.Streams {
		if e.Form != rig.Waveform {
			continue
		}
		r, err := s.openRecording(e)
		if err != nil {
			return err
		}
		name := within(s.dir, e.File)
		if r.empty {
			s.warn(string(e.Channel)+recordingAbsent, "%s holds nothing yet", name)
			continue
		}
		if all := r.wave.Repairs(); len(all) > 0 {
			s.warn(string(e.Channel)+repairedSuffix, "%s: %s", name, strings.Join(all, "; "))
		}
		if n := r.wave.Frames() - r.frames; n > 0 {
			s.warn(string(e.Channel)+tornSuffix, "%s: its last %.2f s are left out, %s: no sync had made them last, and after a loss of power they may be zeros that nobody recorded",
				name, float64(n)/e.RateHz, rig.Count(r.bytes(n)-r.bytes(0), "byte"))
		}
		if err := r.Close(); err != nil {
			return unreadable(name, err, "the recording of the "+string(e.Channel))
		}
	}
	return nil
}

// waveFeed reads a waveform, cut at its anchors.
type waveFeed struct {
	entry   StreamEntry
	rec     *recording
	left    int64 // frames
	frame   int64 // the next one
	at      anchor
	anchors *anchors // nil: the journal has none
	ahead   anchor   // the anchor after at
	more    bool     // ahead holds one
	samples []float64

	reachedS float64 // up to here blocks have told what there is
}

func (s *Session) openWaveform(e StreamEntry) (feed, error) {
	rec, err := s.openRecording(e)
	if err != nil {
		return nil, err
	}
	f := &waveFeed{entry: e, rec: rec, samples: make([]float64, int(max(1, math.Round(e.RateHz*blockS))))}
	if rec.empty {
		return f, nil
	}
	f.left = rec.frames
	if s.anchored {
		p, err := s.points(anchorName)
		if err != nil {
			_ = rec.Close() // the first error tells more
			return nil, err
		}
		f.anchors = &anchors{channel: string(e.Channel), points: p}
		if err := f.reanchor(); err != nil {
			_ = f.Close() // the first error tells more
			return nil, err
		}
	}
	return f, nil
}

// reanchor takes over every anchor up to the present frame.
func (f *waveFeed) reanchor() error {
	for f.anchors != nil {
		if f.more && f.ahead.frame > f.frame {
			return nil
		}
		if f.more {
			f.at = f.ahead
		}
		var err error
		if f.ahead, f.more, err = f.anchors.next(); err != nil || !f.more {
			return err
		}
	}
	return nil
}

func (f *waveFeed) startS() (float64, bool, error) {
	if atS, ok := f.gap(); ok {
		return atS, true, nil
	}
	return f.at.time(f.frame, f.entry.RateHz), f.left > 0, nil
}

// tellGapS is the least jump that is told in pieces while it lasts, so that an analysis need not wait
// for its end, s.
const tellGapS = 0.5

// gap returns the end of the next piece of the gap that lies before the present frame.
func (f *waveFeed) gap() (float64, bool) {
	end := f.at.time(f.frame, f.entry.RateHz)
	if end-f.reachedS < tellGapS && f.left > 0 || end <= f.reachedS {
		return 0, false
	}
	return min(f.reachedS+blockS, end), true
}

func (f *waveFeed) block() (rig.Block, error) {
	if atS, ok := f.gap(); ok {
		f.reachedS = atS
		return rig.Block{Channel: f.entry.Channel, StartS: atS}, nil
	}
	want := min(int64(len(f.samples)), f.left)
	if f.more {
		want = min(want, f.ahead.frame-f.frame)
	}
	b := rig.Block{Channel: f.entry.Channel, StartS: f.at.time(f.frame, f.entry.RateHz)}
	n, err := f.rec.wave.Read(f.samples[:want], 1)
	if err == io.EOF || err == nil && int64(n) < want {
		err = unreadable(f.rec.file.Name(), io.ErrUnexpectedEOF, rig.Count(f.left, "sample")+" more")
	}
	if err != nil {
		return rig.Block{}, err
	}
	b.Samples = f.samples[:n]
	f.frame += int64(n)
	f.left -= int64(n)
	f.reachedS = f.at.time(f.frame, f.entry.RateHz)
	return b, f.reanchor()
}

func (f *waveFeed) Close() error {
	err := f.rec.Close()
	if f.anchors != nil {
		if cerr := f.anchors.points.journal.Close(); err == nil {
			err = cerr
		}
	}
	return err
}

// restore says of a fault of a file that this program wrote what helps: not another recording, but a copy of this one.
func restore(err error) error {
	if p := (*rig.FileError)(nil); errors.As(err, &p) {
		p.Do = "restore it from a copy"
	}
	return err
}
