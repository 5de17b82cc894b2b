package board

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"time"

	"quern/acquire/frame"
)

// numberBytes is room for one number and its separator in a line.
const numberBytes = 32

// longest is how long a line may be.
func (r *Reader) longest() int { return 64 + numberBytes*r.cfg.PerFrame }

func (r *Reader) pushText(got time.Time, b []byte, to Taker) {
	for len(b) > 0 {
		n := bytes.IndexAny(b, "\r\n")
		end := n >= 0
		if !end {
			n = len(b)
		}
		room := min(n, r.longest()-len(r.buf))
		r.buf = append(r.buf, b[:room]...)
		r.skip += n - room
		if end {
			n++
			r.line(got, to)
			r.buf, r.skip, r.told = r.buf[:0], 0, 0
		} else if r.skip > 0 {
			r.flood(to)
		}
		b = b[n:]
	}
}

// flood tells of a line that does not end, once for each length that a line may have.
func (r *Reader) flood(to Taker) {
	for ; r.told*r.longest() < r.skip; r.told++ {
		to.Reject(fmt.Sprintf("no end of a line within %d bytes: are baud, frames and samples_per_frame right?", r.longest()))
	}
}

// line looks at a whole line in r.buf. What precedes the first end of a line may be the rest of one.
func (r *Reader) line(got time.Time, to Taker) {
	switch {
	case r.skip > 0:
		r.flood(to)
		r.lost = unknown
	case !r.begun:
	case len(bytes.TrimSpace(r.buf)) == 0:
	default:
		count, err := r.numbers(string(r.buf))
		if err != nil {
			to.Reject(err.Error())
			if r.lost >= 0 {
				r.lost += int64(r.cfg.PerFrame)
			}
			break
		}
		r.take(got, count, to)
	}
	r.begun = true
}

// numbers reads the values of a line into r.values, and its counter.
func (r *Reader) numbers(line string) (count uint64, err error) {
	if r.check > 0 {
		if line, err = r.checked(line); err != nil {
			return 0, err
		}
	}
	var parts []string
	if r.cfg.Separator == "" {
		parts = strings.FieldsFunc(line, r.split)
	} else {
		parts = strings.Split(line, r.cfg.Separator)
	}
	want := r.cfg.PerFrame
	if r.counter > 0 {
		want++
	}
	if len(parts) != want {
		return 0, fmt.Errorf("line %.40q has %d numbers, expected %d", line, len(parts), want)
	}
	if r.counter > 0 {
		count, err = strconv.ParseUint(strings.TrimSpace(parts[0]), 10, 8*r.counter)
		if err != nil {
			return 0, fmt.Errorf("line %.40q begins with %.20q, expected a counter of 0 to %d", line, parts[0], r.wrap-1)
		}
		parts = parts[1:]
	}
	r.values = r.values[:0]
	for _, p := range parts {
		p = strings.TrimSpace(p)
		v, err := strconv.ParseFloat(p, 64)
		if err != nil || strings.Trim(p, "+-.0123456789eE") != "" {
			return 0, fmt.Errorf("line %.40q has %.20q, expected a number", line, p)
		}
		if v, err = r.scale(v, true); err != nil {
			return 0, fmt.Errorf("line %.40q %w", line, err)
		}
		r.values = append(r.values, v)
	}
	return count, nil
}

// checked returns the line before its check value.
func (r *Reader) checked(line string) (string, error) {
	line = strings.TrimRight(line, " \t")
	at := strings.LastIndexByte(line, '*')
	if at < 0 {
		return "", fmt.Errorf("line %.40q has no check value, expected * and %d hexadecimal digits at its end", line, 2*r.check)
	}
	said, err := strconv.ParseUint(line[at+1:], 16, 32)
	if err != nil || len(line)-at-1 != 2*r.check {
		return "", fmt.Errorf("line %.40q has the check value %.20q, expected %d hexadecimal digits", line, line[at+1:], 2*r.check)
	}
	if is, _ := frame.Sum(r.cfg.Checksum, []byte(line[:at])); uint64(is) != said {
		return "", fmt.Errorf("line %.40q has the check value %0*X, expected %0*X: damaged on the way", line, 2*r.check, said, 2*r.check, is)
	}
	return line[:at], nil
}
