package align

import (
	"errors"
	"io"

	"quern/rig"
	"quern/rig/wave"
)

// Camera is a camera's sound as a WAV file.
type Camera struct {
	File    io.ReaderAt
	Bytes   int64
	Name    string // in errors
	Channel int    // from 1; 0: the first that is not silent
}

// Recorded is what a session recorded, from its beginning.
type Recorded interface {
	rig.Source
	io.Closer
}

// FindIn lines a camera's file up with a session's microphone, as Find does. open is called for each channel that is tried.
// A *rig.FileError says what is wrong with a file.
func FindIn(cam Camera, open func() (Recorded, error)) (Alignment, error) {
	first, last := cam.Channel, cam.Channel
	if first == 0 {
		r, err := wave.Open(cam.File, cam.Bytes, cam.Name)
		if err != nil {
			return Alignment{}, err
		}
		first, last = 1, r.Format().Channels
	}
	for channel := first; ; channel++ {
		a, err := cam.findIn(channel, open)
		var no *Refusal
		if errors.As(err, &no) && no.Code == Silent && channel < last {
			continue
		}
		return a, err
	}
}

func (cam Camera) findIn(channel int, open func() (Recorded, error)) (_ Alignment, err error) {
	r, err := wave.Open(cam.File, cam.Bytes, cam.Name)
	if err != nil {
		return Alignment{}, err
	}
	src, err := open()
	if err != nil {
		return Alignment{}, err
	}
	defer func() { err = errors.Join(err, src.Close()) }()
	heard, err := OfSession(src)
	if err != nil {
		return Alignment{}, err
	}
	return Find(OfWAV(r, channel), heard)
}
