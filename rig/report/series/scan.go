package series

import (
	"encoding/binary"
	"io"
	"math"

	"quern/rig/wave"
)

// sum is what a stretch of samples came to, as fractions of full scale.
type sum struct {
	lo, hi, total float64
	n             int64
}

func (s *sum) add(x sum) {
	switch {
	case x.n == 0:
	case s.n == 0:
		*s = x
	default:
		s.lo, s.hi, s.total, s.n = min(s.lo, x.lo), max(s.hi, x.hi), s.total+x.total, s.n+x.n
	}
}

// scan sums samples up as they stand in the file, one channel. Whole numbers stay so until the end: a
// session of twenty minutes is to be gone through in a fraction of a second.
func scan(b []byte, enc wave.Encoding) sum {
	n := len(b) / enc.Bytes()
	if n == 0 {
		return sum{}
	}
	whole := func(lo, hi int, total int64) sum {
		k := 1 / float64(uint64(1)<<(enc.Bits()-1))
		return sum{float64(lo) * k, float64(hi) * k, float64(total) * k, int64(n)}
	}
	lo, hi, total := math.MaxInt, math.MinInt, int64(0)
	switch enc {
	case wave.PCM8:
		for _, c := range b {
			v := int(c) - 128
			lo, hi, total = min(lo, v), max(hi, v), total+int64(v)
		}
	case wave.PCM16:
		return whole(scan16(b))
	case wave.PCM24:
		for ; len(b) >= 3; b = b[3:] {
			v := int(int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24) >> 8)
			lo, hi, total = min(lo, v), max(hi, v), total+int64(v)
		}
	case wave.PCM32:
		for ; len(b) >= 4; b = b[4:] {
			v := int(int32(binary.LittleEndian.Uint32(b)))
			lo, hi, total = min(lo, v), max(hi, v), total+int64(v)
		}
	default:
		return scanFloats(b, enc)
	}
	return whole(lo, hi, total)
}

// scan16 is the path of nearly all recordings, four samples a step.
func scan16(b []byte) (lo, hi int, total int64) {
	lo, hi = math.MaxInt16, math.MinInt16
	lo2, hi2 := lo, hi
	for len(b) >= 8 {
		v := binary.LittleEndian.Uint64(b)
		p, q, r, s := int(int16(v)), int(int16(v>>16)), int(int16(v>>32)), int(int16(v>>48))
		lo, hi = min(lo, p, q), max(hi, p, q)
		lo2, hi2 = min(lo2, r, s), max(hi2, r, s)
		total += int64(p + q + r + s)
		b = b[8:]
	}
	for ; len(b) >= 2; b = b[2:] {
		v := int(int16(binary.LittleEndian.Uint16(b)))
		lo, hi, total = min(lo, v), max(hi, v), total+int64(v)
	}
	return min(lo, lo2), max(hi, hi2), total
}

// scanFloats does the same for floating-point samples. One that is no finite number counts as 0, as it does
// for the analysis.
func scanFloats(b []byte, enc wave.Encoding) sum {
	s := sum{lo: math.Inf(1), hi: math.Inf(-1)}
	for size := enc.Bytes(); len(b) >= size; b = b[size:] {
		var v float64
		if size == 4 {
			v = float64(math.Float32frombits(binary.LittleEndian.Uint32(b)))
		} else {
			v = math.Float64frombits(binary.LittleEndian.Uint64(b))
		}
		if v-v != 0 {
			v = 0
		}
		s.lo, s.hi, s.total, s.n = min(s.lo, v), max(s.hi, v), s.total+v, s.n+1
	}
	return s
}

// peeker reads a recording from front to back, so many frames at a time.
type peeker struct {
	data     io.ReaderAt
	enc      wave.Encoding
	frames   int64 // of the recording
	chunk    int64 // frames read at once, aligned to as many
	buf      []byte
	from, to int64 // frames in buf
}

// at returns the bytes of frames from a on, of at least one and at most up to b.
func (p *peeker) at(a, b int64) ([]byte, error) {
	if a < p.from || a >= p.to {
		p.from = a - a%p.chunk
		p.to = min(p.from+p.chunk, p.frames)
		size := int64(p.enc.Bytes())
		n := (p.to - p.from) * size
		if int64(cap(p.buf)) < n {
			p.buf = make([]byte, p.chunk*size)
		}
		p.buf = p.buf[:n]
		if _, err := p.data.ReadAt(p.buf, p.from*size); err != nil {
			p.from, p.to = 0, 0
			if err == io.EOF {
				err = io.ErrUnexpectedEOF
			}
			return nil, err
		}
	}
	size := int64(p.enc.Bytes())
	return p.buf[(a-p.from)*size : (min(b, p.to)-p.from)*size], nil
}

// sum sums up the frames from a to b.
func (p *peeker) sum(a, b int64) (sum, error) {
	var out sum
	for a < b {
		raw, err := p.at(a, b)
		if err != nil {
			return out, err
		}
		s := scan(raw, p.enc)
		out.add(s)
		a += s.n
	}
	return out, nil
}
