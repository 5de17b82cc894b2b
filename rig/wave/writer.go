package wave

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"

	"quern/rig"
)

// Writer writes one file from first sample to last. Until Close its header leaves the length of the
// samples open: a Reader then reads to the end of the file.
type Writer struct {
	w      io.WriteSeeker
	name   string
	format Format
	buf    []byte // encoded, not yet written
	dataAt int64
	data   int64 // bytes of samples written, buf not counted
	err    error // the first failure: nothing is written after it
}

// Create writes a header to w, which must be empty and stand at its start; name is what errors call
// it. The caller closes w after the Writer.
func Create(w io.WriteSeeker, f Format, name string) (*Writer, error) {
	if f.Encoding.Bytes() == 0 || f.Channels < 1 || f.Channels > MaxChannels || f.RateHz < 1 || int64(f.RateHz) > math.MaxUint32 {
		return nil, &rig.FileError{File: name, Byte: -1, Found: f.String(),
			Want: fmt.Sprintf("an encoding, 1 to %d channels and a rate of at least 1 Hz", MaxChannels)}
	}
	wr := &Writer{w: w, name: name, format: f, buf: make([]byte, 0, bufBytes)}
	h := wr.header(-1)
	wr.dataAt = int64(len(h))
	if err := wr.put(h, 0); err != nil {
		return nil, err
	}
	return wr, nil
}

// header returns the header of a file with that many bytes of samples, -1: not known yet. It is of
// the same length for all: the space of JUNK becomes the 64-bit sizes when they are needed.
func (w *Writer) header(data int64) []byte {
	f := w.format
	le := binary.LittleEndian
	b := make([]byte, 0, 92)
	chunk := func(name string, size uint32) { b = le.AppendUint32(append(b, name...), size) }
	headBytes := int64(4+chunkHead+ds64Bytes+chunkHead+16) + chunkHead // from WAVE to the first sample
	if f.Encoding.Float() {
		headBytes += 2 + chunkHead + 4
	}
	riff := headBytes + data + data&1
	frames := data / int64(f.FrameBytes())
	wide := data >= 0 && riff >= openSize
	riff32, data32, frames32 := uint32(riff), uint32(data), uint32(frames)
	if data < 0 || wide {
		riff32, data32, frames32 = openSize, openSize, openSize
	}
	if wide {
		chunk("RF64", riff32)
		b = append(b, "WAVE"...)
		chunk("ds64", ds64Bytes)
		b = le.AppendUint64(b, uint64(riff))
		b = le.AppendUint64(b, uint64(data))
		b = le.AppendUint64(b, uint64(frames))
		b = le.AppendUint32(b, 0) // no table
	} else {
		chunk("RIFF", riff32)
		b = append(b, "WAVE"...)
		chunk("JUNK", ds64Bytes)
		b = append(b, make([]byte, ds64Bytes)...)
	}
	tag, fmtBytes := uint16(tagPCM), uint32(16)
	if f.Encoding.Float() {
		tag, fmtBytes = tagFloat, 18
	}
	chunk("fmt ", fmtBytes)
	b = le.AppendUint16(b, tag)
	b = le.AppendUint16(b, uint16(f.Channels))
	b = le.AppendUint32(b, uint32(f.RateHz))
	b = le.AppendUint32(b, uint32(f.RateHz*f.FrameBytes()))
	b = le.AppendUint16(b, uint16(f.FrameBytes()))
	b = le.AppendUint16(b, uint16(f.Encoding.Bits()))
	if f.Encoding.Float() { // what is not PCM carries an extension size and a fact chunk
		b = le.AppendUint16(b, 0)
		chunk("fact", 4)
		b = le.AppendUint32(b, frames32)
	}
	chunk("data", data32)
	return b
}

// put writes b; at is its offset, for the error.
func (w *Writer) put(b []byte, at int64) error {
	if w.err != nil {
		return w.err
	}
	n, err := w.w.Write(b)
	if err == nil && n < len(b) {
		err = io.ErrShortWrite
	}
	if err != nil {
		w.err = &rig.FileError{File: w.name, Byte: at + int64(n), Found: "a write error (" + err.Error() + ")",
			Want: fmt.Sprintf("room for %d bytes", len(b)), Do: "make room on the disk, or check it", Err: err}
	}
	return w.err
}

// Write appends samples, frame by frame, as fractions of full scale. Integers are rounded to the
// nearest step and held at the ends of the scale; what a Reader gave goes back to the same bits.
// Samples that are not finite, or not whole frames of them, are an error and nothing is written.
func (w *Writer) Write(samples []float64) error {
	if w.err != nil {
		return w.err
	}
	if len(samples)%w.format.Channels != 0 {
		return w.refuse(fmt.Sprintf("%d samples", len(samples)), fmt.Sprintf("whole frames of %d", w.format.Channels))
	}
	for _, v := range samples {
		if v-v != 0 {
			return w.refuse("a sample that is not a finite number", "fractions of full scale")
		}
	}
	for len(samples) > 0 {
		n := min(len(samples), (cap(w.buf)-len(w.buf))/w.format.Encoding.Bytes())
		w.buf = encode(w.buf, samples[:n], w.format.Encoding)
		samples = samples[n:]
		if cap(w.buf)-len(w.buf) < w.format.Encoding.Bytes() {
			if err := w.Flush(); err != nil {
				return err
			}
		}
	}
	return nil
}

// WriteRaw appends whole frames that are already in the file's encoding.
func (w *Writer) WriteRaw(b []byte) error {
	if len(b)%w.format.FrameBytes() != 0 {
		return w.refuse(fmt.Sprintf("%d bytes", len(b)), fmt.Sprintf("whole frames of %d", w.format.FrameBytes()))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if err := w.put(b, w.dataAt+w.data); err != nil {
		return err
	}
	w.data += int64(len(b))
	return nil
}

func (w *Writer) refuse(found, want string) error {
	return &rig.FileError{File: w.name, Byte: w.dataAt + w.data + int64(len(w.buf)), Found: found, Want: want}
}

// Frames returns how many frames were appended.
func (w *Writer) Frames() int64 { return (w.data + int64(len(w.buf))) / int64(w.format.FrameBytes()) }

// Flush hands all that was appended to the underlying writer.
func (w *Writer) Flush() error {
	if len(w.buf) == 0 {
		return w.err
	}
	if err := w.put(w.buf, w.dataAt+w.data); err != nil {
		return err
	}
	w.data += int64(len(w.buf))
	w.buf = w.buf[:0]
	return nil
}

// Close writes what is left and puts the lengths into the header. It does not close the underlying
// writer, and leaves it at the end of the file.
func (w *Writer) Close() error {
	if err := w.Flush(); err != nil {
		return err
	}
	if w.data&1 == 1 {
		if err := w.put([]byte{0}, w.dataAt+w.data); err != nil {
			return err
		}
	}
	if err := w.seek(0, io.SeekStart); err != nil {
		return err
	}
	if err := w.put(w.header(w.data), 0); err != nil {
		return err
	}
	if err := w.seek(0, io.SeekEnd); err != nil {
		return err
	}
	w.err = w.closed()
	return nil
}

func (w *Writer) closed() error {
	return &rig.FileError{File: w.name, Byte: -1, Found: "a recording that is closed", Want: "one that is open"}
}

func (w *Writer) seek(at int64, whence int) error {
	if _, err := w.w.Seek(at, whence); err != nil {
		w.err = &rig.FileError{File: w.name, Byte: at, Found: "an error in seeking (" + err.Error() + ")",
			Want: "a file", Do: "record to a disk, not to a pipe", Err: err}
		return w.err
	}
	return nil
}

// encode appends finite samples to b.
func encode(b []byte, samples []float64, enc Encoding) []byte {
	le := binary.LittleEndian
	switch enc {
	case PCM8:
		for _, v := range samples {
			b = append(b, byte(step(v, 1<<7)+128))
		}
	case PCM16:
		for _, v := range samples {
			b = le.AppendUint16(b, uint16(step(v, 1<<15)))
		}
	case PCM24:
		for _, v := range samples {
			i := step(v, 1<<23)
			b = append(b, byte(i), byte(i>>8), byte(i>>16))
		}
	case PCM32:
		for _, v := range samples {
			b = le.AppendUint32(b, uint32(step(v, 1<<31)))
		}
	case Float32:
		for _, v := range samples {
			b = le.AppendUint32(b, math.Float32bits(float32(v)))
		}
	case Float64:
		for _, v := range samples {
			b = le.AppendUint64(b, math.Float64bits(v))
		}
	}
	return b
}

// step returns the integer nearest to v times scale that the encoding holds.
func step(v, scale float64) int64 {
	return int64(max(-scale, min(scale-1, math.RoundToEven(v*scale))))
}
