package wave

import (
	"fmt"
	"io"

	"quern/rig"
)

// bufBytes is what is read at once.
const bufBytes = 64 << 10

// Reader reads the samples of one file from first to last.
type Reader struct {
	head  header
	r     io.ReaderAt
	name  string
	frame int   // bytes
	next  int64 // offset of the first byte not yet in buf
	buf   []byte
	left  []byte // part of buf not yet decoded

	bad   int64 // samples that were no finite numbers
	badAt int64 // offset of the first of them
}

// Open reads the header of the file r of size bytes; name is what errors call it. Errors are
// *rig.FileError. A file without samples opens; it has 0 frames.
func Open(r io.ReaderAt, size int64, name string) (*Reader, error) {
	h, err := readHeader(r, size, name)
	if err != nil {
		return nil, err
	}
	frame := h.format.FrameBytes()
	return &Reader{head: h, r: r, name: name, frame: frame, next: h.dataAt,
		buf: make([]byte, min(bufBytes/int64(frame)*int64(frame), h.dataBytes))}, nil
}

// Format returns the shape of the samples.
func (r *Reader) Format() Format { return r.head.format }

// RateAt returns the offset of the sample rate in the file, for messages.
func (r *Reader) RateAt() int64 { return r.head.rateAt }

// Frames returns the number of whole frames that the file holds, whatever its header says.
func (r *Reader) Frames() int64 { return r.head.dataBytes / int64(r.frame) }

// Data returns the bytes of all whole frames as they stand in the file.
func (r *Reader) Data() *io.SectionReader {
	return io.NewSectionReader(r.r, r.head.dataAt, r.head.dataBytes)
}

// Repairs says in plain words what had to be put right so far: the lengths in the header, and, as
// reading goes on, samples that are not finite numbers. It is complete when Read has returned io.EOF.
func (r *Reader) Repairs() []string {
	out := append([]string(nil), r.head.repairs...)
	if r.bad == 1 {
		out = append(out, fmt.Sprintf("1 sample at byte %d is not a finite number: taken as 0", r.badAt))
	} else if r.bad > 1 {
		out = append(out, fmt.Sprintf("%d samples, the first at byte %d, are not finite numbers: taken as 0", r.bad, r.badAt))
	}
	return out
}

// Read goes on by up to len(dst) frames and fills dst with the samples of one channel, counted
// from 1, as fractions of full scale. It returns how many there were, fewer than len(dst) only at the
// end or with an error; after the last frame 0 and io.EOF. A sample that is not a finite number
// becomes 0 (see Repairs).
func (r *Reader) Read(dst []float64, channel int) (int, error) {
	if channel < 1 || channel > r.head.format.Channels {
		return 0, &rig.FileError{File: r.name, Byte: -1, Found: fmt.Sprintf("%d channels", r.head.format.Channels),
			Want: fmt.Sprintf("a channel %d", channel), Do: "choose a channel that the file has, counted from 1"}
	}
	done := 0
	for done < len(dst) {
		if len(r.left) == 0 {
			if err := r.fill(); err != nil {
				if err == io.EOF && done > 0 {
					return done, nil
				}
				return done, err
			}
		}
		n := min(len(dst)-done, len(r.left)/r.frame)
		enc := r.head.format.Encoding
		bad, first := decode(dst[done:done+n], r.left[(channel-1)*enc.Bytes():], r.frame, enc)
		if bad > 0 {
			if r.bad == 0 {
				at := r.next - int64(len(r.left)) + int64(first)*int64(r.frame)
				r.badAt = at + int64((channel-1)*enc.Bytes())
			}
			r.bad += int64(bad)
		}
		r.left = r.left[n*r.frame:]
		done += n
	}
	return done, nil
}

// fill reads the next stretch of whole frames.
func (r *Reader) fill() error {
	n := min(int64(len(r.buf)), r.head.dataAt+r.head.dataBytes-r.next)
	if n == 0 {
		return io.EOF
	}
	if m, err := readFull(r.r, r.buf[:n], r.next); err != nil {
		return &rig.FileError{File: r.name, Byte: r.next + int64(m), Found: errText(err),
			Want: "more samples", Do: "check the disk: the file has changed since it was opened, or cannot be read", Err: err}
	}
	r.left = r.buf[:n]
	r.next += n
	return nil
}
