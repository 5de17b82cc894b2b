package board

import (
	"bytes"
	"fmt"
	"math"
	"time"

	"quern/acquire/frame"
	"quern/rig"
)

// length of a binary frame, bytes.
func (r *Reader) length() int {
	return len(r.sync) + r.counter + r.number*r.cfg.PerFrame + r.check
}

// pushBinary gathers bytes until a frame can be judged: at its end if it has a check value, otherwise when
// the sync bytes of the next one have come too.
func (r *Reader) pushBinary(got time.Time, b []byte, to Taker) {
	length := r.length()
	need := length
	if r.check == 0 {
		need += len(r.sync)
	}
	for {
		n := min(need-len(r.buf), len(b))
		if len(r.buf) < length && len(r.buf)+n >= length {
			r.atHand = got
		}
		r.buf = append(r.buf, b[:n]...)
		b = b[n:]
		r.seek(to)
		if len(r.buf) < need {
			if len(b) == 0 {
				return
			}
			continue
		}
		if err := r.judge(to, r.buf[:length], r.buf[length:]); err != nil {
			r.why = err.Error()
			r.drop(1, to)
			r.atHand = got
		} else {
			r.buf = append(r.buf[:0], r.buf[length:]...)
		}
	}
}

// seek drops what cannot be the beginning of a frame.
func (r *Reader) seek(to Taker) {
	n := 0
	for ; n < len(r.buf); n++ {
		if tail := r.buf[n:]; bytes.HasPrefix(tail, r.sync) || bytes.HasPrefix(r.sync, tail) {
			break
		}
	}
	if n > 0 {
		r.drop(n, to)
	}
}

// drop skips bytes, and tells of them from time to time.
func (r *Reader) drop(n int, to Taker) {
	r.buf = append(r.buf[:0], r.buf[n:]...)
	r.skip += n
	every := max(r.length(), 1024)
	for ; r.skip-r.told >= every; r.told += every {
		why := ""
		if r.why != "" {
			why = " (the last candidate " + r.why + ")"
		}
		to.Reject(fmt.Sprintf("%d bytes without a frame%s: are baud, sync, number, samples_per_frame, counter and checksum right?", every, why))
	}
}

// judge hands over a frame, or says why it is none. after is what follows it.
func (r *Reader) judge(to Taker, b, after []byte) error {
	body := b[len(r.sync) : len(b)-r.check]
	if r.check == 0 && !bytes.Equal(after, r.sync) {
		return fmt.Errorf("is not followed by the sync bytes of the next, found % x", after)
	}
	if r.check > 0 {
		said := r.whole(b[len(b)-r.check:])
		if is, _ := frame.Sum(r.cfg.Checksum, body); uint64(is) != said {
			return fmt.Errorf("has the check value %0*x, expected %0*x", 2*r.check, said, 2*r.check, is)
		}
	}
	count := r.whole(body[:r.counter])
	body = body[r.counter:]
	r.values = r.values[:0]
	for ; len(body) > 0; body = body[r.number:] {
		v, err := r.scale(r.value(body[:r.number]), r.cfg.Number == "float32")
		if err != nil {
			return err
		}
		r.values = append(r.values, v)
	}
	switch {
	case r.skip == 0:
	case r.skip%r.length() == 0: // bytes were damaged, none is missing
		r.lost = int64(r.skip/r.length()) * int64(r.cfg.PerFrame)
	default:
		r.lost = unknown
	}
	// A port is opened in the middle of a frame: that is no fault.
	if r.skip > r.told && (r.running || r.skip >= r.length()) {
		why := r.why
		if why != "" {
			why = ": the last candidate " + why
		}
		to.Reject(fmt.Sprintf("%s without a frame%s", rig.Count(r.skip-r.told, "byte"), why))
	}
	r.skip, r.told, r.why = 0, 0, ""
	r.take(r.atHand, count, to)
	return nil
}

// whole reads an unsigned number of up to 4 bytes.
func (r *Reader) whole(b []byte) (v uint64) {
	for i := range b {
		if r.cfg.BigEndian {
			v = v<<8 | uint64(b[i])
		} else {
			v |= uint64(b[i]) << (8 * i)
		}
	}
	return v
}

// value reads one number.
func (r *Reader) value(b []byte) float64 {
	v := r.whole(b)
	switch r.cfg.Number {
	case "uint8", "uint16":
		return float64(v)
	case "float32":
		return float64(math.Float32frombits(uint32(v)))
	}
	high := 64 - 8*len(b) // the sign moves to the highest bit and back
	return float64(int64(v<<high) >> high)
}
