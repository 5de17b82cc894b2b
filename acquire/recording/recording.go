// Package recording reads recordings made elsewhere: the sound of a microphone and the current of a
// clamp as WAV files, and current and mass as CSV tables. All of them begin at the same instant, 0 s,
// and may differ in length. Files are streamed: ten hours take no more memory than ten seconds.
//
// Tables have a header line that names their columns, in any order:
//
//	time_s,current_a      instantaneous amperes at a constant step of 400 Hz to 192 kHz
//	time_s,rms_a          one RMS value in amperes a row, at any step
//	time_s,mass_g,stable  a scale's indication in grams; stable is 0 or 1, and may be missing
//
// Values are separated by commas and have decimal points. What is doubtful is refused, with an error
// that names the line: a table that is half understood gives figures that are wholly wrong.
package recording

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"quern/rig"
	"quern/rig/wave"
)

// blockS is the length of a block in seconds. Blocks start at multiples of it, so that the channels
// stay side by side.
const blockS = 0.25

// Options name the recordings. At least one path is given.
type Options struct {
	Microphone string // a WAV file
	Clamp      string // a WAV file or a table of current_a or rms_a
	Scale      string // a table of mass_g

	// The channel to take of a WAV file of several, counted from 1; 0 takes the first, with a warning. A
	// file of one channel is taken as it is beside one of several; where all have one, a later channel
	// is an error.
	MicrophoneChannel int
	ClampChannel      int
}

// Source is a set of recordings that began at the same instant.
type Source struct {
	tracks []*track
	files  []*os.File
}

var _ rig.Source = (*Source)(nil)

// feed reads one recording block by block.
type feed interface {
	// next returns the next block and the instant at which the one after it starts; at the end io.EOF.
	next() (b rig.Block, dueS float64, err error)
	// repairs says what was put right so far.
	repairs() []string
}

// track is one recording and where it stands.
type track struct {
	feed
	stream   rig.Stream
	encoding wave.Encoding
	path     string  // as it was given
	file     string  // as people know it, for warnings
	channels int     // of a WAV file, else 0
	pick     int     // which of them was asked for, from 1; 0: none
	dueS     float64 // start of its next block
	ended    bool
	warnings []rig.Warning // from opening
}

// Open opens the recordings and reads their headers. Errors in a file are *rig.FileError; nothing
// stays open then.
func Open(o Options) (*Source, error) {
	s := &Source{}
	for _, in := range []struct {
		channel rig.Channel
		path    string
		pick    int
	}{
		{rig.Microphone, o.Microphone, o.MicrophoneChannel},
		{rig.Clamp, o.Clamp, o.ClampChannel},
		{rig.Scale, o.Scale, 0},
	} {
		if in.path == "" {
			continue
		}
		t, err := s.open(in.channel, in.path, in.pick)
		if err != nil {
			_ = s.Close() // the first error tells more
			return nil, err
		}
		s.tracks = append(s.tracks, t)
	}
	if len(s.tracks) == 0 {
		return nil, errors.New("found no recording, expected at least one: name a microphone, clamp or scale file")
	}
	if err := s.checkPicks(); err != nil {
		_ = s.Close()
		return nil, err
	}
	return s, nil
}

// open opens one file, and tells by its content what it is.
func (s *Source) open(ch rig.Channel, path string, pick int) (*track, error) {
	f, size, err := openFile(path)
	if err != nil {
		return nil, err
	}
	s.files = append(s.files, f)
	sound, err := isWave(f, path)
	if err != nil {
		return nil, err
	}
	sound = sound || ch != rig.Scale && strings.EqualFold(filepath.Ext(path), ".wav")
	var t *track
	switch {
	case ch == rig.Microphone || ch == rig.Clamp && sound:
		t, err = openWave(f, size, path, ch, pick)
	case sound:
		err = &rig.FileError{File: path, Byte: 0, Found: "a WAV file", Want: "a table with the columns " + scaleColumns.String(),
			Do: "name the scale's CSV file"}
	case ch == rig.Clamp:
		t, err = openClampTable(f, size, path)
	default:
		t, err = openScaleTable(f, size, path)
	}
	if err != nil {
		return nil, err
	}
	t.stream.Channel, t.path, t.file = ch, path, filepath.Base(path)
	return t, nil
}

// openFile opens a plain file; a pipe or a device could keep us waiting for ever.
func openFile(path string) (*os.File, int64, error) {
	fail := func(found string, err error) (*os.File, int64, error) {
		return nil, 0, &rig.FileError{File: path, Byte: -1, Found: found, Want: "a recording", Do: "check the path", Err: err}
	}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fail("no such file", err)
	case err != nil:
		return fail("a file that cannot be opened ("+err.Error()+")", err)
	case info.IsDir():
		return fail("a folder", nil)
	case !info.Mode().IsRegular():
		return fail("a device or pipe", nil)
	}
	f, err := os.Open(path)
	if err != nil {
		return fail("a file that cannot be opened ("+err.Error()+")", err)
	}
	return f, info.Size(), nil
}

func isWave(r io.ReaderAt, name string) (bool, error) {
	var b [4]byte
	if _, err := r.ReadAt(b[:], 0); err != nil && !errors.Is(err, io.EOF) {
		return false, &rig.FileError{File: name, Byte: 0, Found: "a read error (" + err.Error() + ")", Want: "a recording", Do: "check the disk", Err: err}
	}
	switch string(b[:]) {
	case "RIFF", "RIFX", "RF64", "BW64":
		return true, nil
	}
	return false, nil
}

// Streams returns what the recordings deliver, in the order microphone, clamp, scale.
func (s *Source) Streams() []rig.Stream {
	out := make([]rig.Stream, len(s.tracks))
	for i, t := range s.tracks {
		out[i] = t.stream
	}
	return out
}

// Encoding returns how a waveform's samples stood in the file, so that they can be stored bit for
// bit: the file's own encoding, Float64 for a table. It is 0 for readings.
func (s *Source) Encoding(ch rig.Channel) wave.Encoding {
	for _, t := range s.tracks {
		if t.stream.Channel == ch {
			return t.encoding
		}
	}
	return 0
}

// Next returns the next block; its slices are valid until the next call. Blocks come in order of
// their starts and last a quarter of a second at most. At the end of all recordings it returns io.EOF.
func (s *Source) Next() (rig.Block, error) {
	for {
		var t *track
		for _, c := range s.tracks {
			if !c.ended && (t == nil || c.dueS < t.dueS) {
				t = c
			}
		}
		if t == nil {
			return rig.Block{}, io.EOF
		}
		b, dueS, err := t.next()
		if err == io.EOF {
			t.ended = true
			continue
		}
		if err != nil {
			return rig.Block{}, err
		}
		b.Channel, t.dueS = t.stream.Channel, dueS
		return b, nil
	}
}

// Warnings returns what had to be put right in the recordings, or is worth knowing of them. It is
// complete when Next has returned io.EOF.
func (s *Source) Warnings() []rig.Warning {
	var out []rig.Warning
	for _, t := range s.tracks {
		out = append(out, t.warnings...)
		if all := t.repairs(); len(all) > 0 {
			out = append(out, rig.Warning{Code: string(t.stream.Channel) + "-file-repaired", Text: t.file + ": " + strings.Join(all, "; ")})
		}
	}
	return out
}

// Close closes the files.
func (s *Source) Close() error {
	var errs []error
	for _, f := range s.files {
		errs = append(errs, f.Close())
	}
	s.files = nil
	return errors.Join(errs...)
}

// checkPicks refuses the choice of a later channel where no recording has one: a file of one channel is
// taken as it is, but only beside another that the choice is for.
func (s *Source) checkPicks() error {
	asked, alone := 0, ""
	for _, t := range s.tracks {
		if t.channels > 1 {
			return nil
		}
		if t.channels == 1 && t.pick > 1 && alone == "" {
			asked, alone = t.pick, t.path
		}
	}
	if alone == "" {
		return nil
	}
	return &rig.FileError{File: alone, Byte: -1, Found: "1 channel", Want: fmt.Sprintf("several, of which channel %d is to be taken", asked),
		Do: "choose no channel, or name the recording that has several"}
}
