package series

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"quern/rig/wave"
)

const clipHeader = 44 // bytes

// Clip is a stretch of a recording as a WAV file, made as it is read. Gaps are silence, so that it lasts as long as it did.
type Clip struct {
	w      *waveform
	enc    wave.Encoding // of the clip
	peek   *peeker
	fromS  float64
	frames int64 // of the clip
	at     int64
	buf    []byte // samples from bufAt on
	bufAt  int64
}

var _ io.ReadSeeker = (*Clip)(nil)

// Clip returns a stretch of a recorded series ([Waveform], [Current], an extra channel) as a WAV file of 16
// bits, full scale as it was recorded: a person is to hear it, and every browser plays that. The error wraps [ErrAbsent] if there are no samples of it.
func (s *Session) Clip(channel string, fromS, toS float64) (*Clip, error) {
	switch {
	case s.Sampled(channel):
		return newClip(s.waves[channel], wave.PCM16, fromS, toS), nil
	case channel == Waveform:
		return nil, mark(ErrAbsent, "the session has no samples of a microphone, and so nothing to be heard")
	}
	return nil, mark(ErrAbsent, "the session has no samples of %q, expected a series that was recorded as a waveform", clip40(channel))
}

// Excerpt does the same in the encoding of the recording, bit for bit.
func (s *Session) Excerpt(channel string, fromS, toS float64) (*Clip, error) {
	c, err := s.Clip(channel, fromS, toS)
	if err != nil {
		return nil, err
	}
	c.enc = c.w.enc
	if c.size() > math.MaxUint32 {
		return nil, fmt.Errorf("found a stretch of %g s, expected one of less than 4 GB: ask for a shorter one, or take the recording itself", toS-fromS)
	}
	return c, nil
}

func newClip(w *waveform, enc wave.Encoding, fromS, toS float64) *Clip {
	return &Clip{w: w, enc: enc, peek: w.peek(1 << 13), fromS: fromS, frames: max(0, int64(math.Round((toS-fromS)*w.base.rateHz)))}
}

func (c *Clip) data() int64 { return int64(c.enc.Bytes()) * c.frames }

// size is that of the file: a chunk of an odd number of bytes is followed by one more (RIFF).
func (c *Clip) size() int64 { return clipHeader + c.data() + c.data()%2 }

// Seek moves in the file.
func (c *Clip) Seek(offset int64, whence int) (int64, error) {
	switch whence {
	case io.SeekCurrent:
		offset += c.at
	case io.SeekEnd:
		offset += c.size()
	}
	if offset < 0 {
		return 0, errors.New("seek before the beginning")
	}
	c.at = offset
	return offset, nil
}

// Read reads on.
func (c *Clip) Read(dst []byte) (int, error) {
	if c.at >= c.size() {
		return 0, io.EOF
	}
	if c.at < clipHeader {
		n := copy(dst, c.header()[c.at:])
		c.at += int64(n)
		return n, nil
	}
	off := c.at - clipHeader
	if off >= c.data() {
		n := copy(dst, []byte{0})
		c.at += int64(n)
		return n, nil
	}
	if off < c.bufAt || off >= c.bufAt+int64(len(c.buf)) {
		if err := c.fill(off / int64(c.enc.Bytes())); err != nil {
			return 0, err
		}
	}
	n := copy(dst, c.buf[off-c.bufAt:])
	c.at += int64(n)
	return n, nil
}

// fill makes the samples from frame k of the clip on.
func (c *Clip) fill(k int64) error {
	const most = 1 << 13
	n := min(most, c.frames-k)
	size := int64(c.enc.Bytes())
	c.bufAt, c.buf = size*k, c.buf[:0]
	b := c.w.base
	for done := int64(0); done < n; {
		atS := c.fromS + float64(k+done)/b.rateHz
		f := b.frameAt(atS)
		silent := n - done // until the next frame, if there is one
		if f < b.frames {
			if silent = int64(math.Floor((b.startOf(f)-atS)*b.rateHz + 1e-6)); silent <= 0 {
				raw, err := c.peek.at(f, min(f+n-done, b.endOf(f)))
				if err != nil {
					c.buf = c.buf[:0]
					return err
				}
				c.buf = c.convert(raw)
				done += int64(len(raw) / c.w.enc.Bytes())
				continue
			}
		}
		silent = min(silent, n-done)
		quiet := make([]byte, size*silent)
		if c.enc == wave.PCM8 { // unsigned: the middle is silence
			for i := range quiet {
				quiet[i] = 128
			}
		}
		c.buf = append(c.buf, quiet...)
		done += silent
	}
	return nil
}

// convert appends samples of the recording in the clip's encoding.
func (c *Clip) convert(raw []byte) []byte {
	if c.enc == c.w.enc {
		return append(c.buf, raw...)
	}
	return append16(c.buf, raw, c.w.enc)
}

// append16 appends samples as whole numbers of 16 bits.
func append16(dst, raw []byte, enc wave.Encoding) []byte {
	for size := enc.Bytes(); len(raw) >= size; raw = raw[size:] {
		v := math.RoundToEven(scan(raw[:size], enc).lo * (1 << 15))
		dst = binary.LittleEndian.AppendUint16(dst, uint16(int16(min(max(v, math.MinInt16), math.MaxInt16))))
	}
	return dst
}

func (c *Clip) header() []byte {
	rate := uint32(max(1, math.Round(c.w.base.rateHz)))
	h := make([]byte, 0, clipHeader)
	put4 := func(v uint32) { h = binary.LittleEndian.AppendUint32(h, v) }
	put2 := func(v int) { h = binary.LittleEndian.AppendUint16(h, uint16(v)) }
	h = append(h, "RIFF"...)
	put4(uint32(c.size() - 8))
	h = append(h, "WAVEfmt "...)
	put4(16)
	if c.enc.Float() {
		put2(3)
	} else {
		put2(1) // PCM
	}
	put2(1) // one channel
	put4(rate)
	put4(uint32(c.enc.Bytes()) * rate)
	put2(c.enc.Bytes())
	put2(c.enc.Bits())
	h = append(h, "data"...)
	put4(uint32(c.data()))
	return h
}
