package review

import (
	"encoding/binary"
	"errors"
	"io"
	"math"

	"quern/rig/wave"
)

// mostSoundS is the longest stretch of sound that is given at once, s.
const mostSoundS = 120

const clipHeader = 44 // bytes

// clip is a stretch of the microphone as a WAV file of 16 bits, made as it is read: a person is to hear it,
// and every browser plays that. Gaps are silence, so that it lasts as long as it did.
type clip struct {
	w      *waveform
	peek   *peeker
	fromS  float64
	frames int64 // of the clip
	at     int64
	buf    []byte // samples from bufAt on
	bufAt  int64
}

var _ io.ReadSeeker = (*clip)(nil)

func newClip(w *waveform, fromS, toS float64) *clip {
	return &clip{w: w, peek: w.peek(1 << 13), fromS: fromS, frames: max(0, int64(math.Round((toS-fromS)*w.base.rateHz)))}
}

func (c *clip) size() int64 { return clipHeader + 2*c.frames }

// Seek moves in the file.
func (c *clip) Seek(offset int64, whence int) (int64, error) {
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
func (c *clip) Read(dst []byte) (int, error) {
	if c.at >= c.size() {
		return 0, io.EOF
	}
	if c.at < clipHeader {
		n := copy(dst, c.header()[c.at:])
		c.at += int64(n)
		return n, nil
	}
	off := c.at - clipHeader
	if off < c.bufAt || off >= c.bufAt+int64(len(c.buf)) {
		if err := c.fill(off / 2); err != nil {
			return 0, err
		}
	}
	n := copy(dst, c.buf[off-c.bufAt:])
	c.at += int64(n)
	return n, nil
}

// fill makes the samples from frame k of the clip on.
func (c *clip) fill(k int64) error {
	const most = 1 << 13
	n := min(most, c.frames-k)
	c.bufAt, c.buf = 2*k, c.buf[:0]
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
				c.buf = append16(c.buf, raw, c.w.enc)
				done += int64(len(raw) / c.w.enc.Bytes())
				continue
			}
		}
		silent = min(silent, n-done)
		c.buf = append(c.buf, make([]byte, 2*silent)...)
		done += silent
	}
	return nil
}

// append16 appends samples as whole numbers of 16 bits.
func append16(dst, raw []byte, enc wave.Encoding) []byte {
	if enc == wave.PCM16 {
		return append(dst, raw...)
	}
	for size := enc.Bytes(); len(raw) >= size; raw = raw[size:] {
		v := math.RoundToEven(scan(raw[:size], enc).lo * (1 << 15))
		dst = binary.LittleEndian.AppendUint16(dst, uint16(int16(min(max(v, math.MinInt16), math.MaxInt16))))
	}
	return dst
}

func (c *clip) header() []byte {
	rate := uint32(max(1, math.Round(c.w.base.rateHz)))
	h := make([]byte, 0, clipHeader)
	put4 := func(v uint32) { h = binary.LittleEndian.AppendUint32(h, v) }
	put2 := func(v int) { h = binary.LittleEndian.AppendUint16(h, uint16(v)) }
	h = append(h, "RIFF"...)
	put4(uint32(c.size() - 8))
	h = append(h, "WAVEfmt "...)
	put4(16)
	put2(1) // PCM
	put2(1) // one channel
	put4(rate)
	put4(2 * rate)
	put2(wave.PCM16.Bytes())
	put2(wave.PCM16.Bits())
	h = append(h, "data"...)
	put4(uint32(2 * c.frames))
	return h
}
