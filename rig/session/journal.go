package session

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"os"

	"quern/rig"
)

// The journal is line protocol. After each batch of lines stands a comment that proves it:
//
//	# batch n=LINES crc32c=HEX
//
// n counts the lines since the last such comment (or the beginning), crc32c is the CRC-32C
// (Castagnoli) of their bytes, newlines included, in eight small hexadecimal digits. Engines pass
// over comments; a reader that checks them knows how far the journal can be trusted.
const batchPrefix = "# batch "

// Bounds of a batch. The writer ends a batch long before maxBatch; a reader gives up on it there.
const (
	fullBatch = 12 << 10  // bytes pending after which the writer ends a batch by itself: a hundred readings, what a torn end costs
	longBatch = 96 << 10  // the same while a sync goes on, which the journal would have to wait for
	fullAmend = 64 << 10  // the same of addenda, which are few and best kept together
	maxPoint  = 64 << 10  // bytes of one line
	maxBatch  = 256 << 10 // bytes that a reader holds at once
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// appendBatchLine appends the comment that proves a batch.
func appendBatchLine(dst []byte, lines int, crc uint32) []byte {
	return fmt.Appendf(dst, "%sn=%d crc32c=%08x\n", batchPrefix, lines, crc)
}

// batch is a stretch of the journal: lines with the comment that should prove them.
type batch struct {
	text  []byte         // the lines without the comment, valid until the next batch; none if fault is set
	line  int            // number of the first line
	from  int64          // offset of the first byte
	to    int64          // offset past the comment
	torn  bool           // no comment follows: the end of the journal
	fault *rig.FileError // why the batch is not to be trusted
}

// cut takes the first line off the batch, newline included, and tells its number; false: none is left.
func (b *batch) cut() (text []byte, number int, ok bool) {
	if len(b.text) == 0 {
		return nil, 0, false
	}
	end := bytes.IndexByte(b.text, '\n') + 1 // every line of a batch has one
	text, number = b.text[:end], b.line
	b.text = b.text[end:]
	b.line++
	return text, number, true
}

// holds tells whether a line of that measurement, with tags, stands in the batch.
func (b batch) holds(measurement string) bool {
	return bytes.HasPrefix(b.text, []byte(measurement+",")) || bytes.Contains(b.text, []byte("\n"+measurement+","))
}

// journal reads batches.
type journal struct {
	name   string // in messages
	file   io.Closer
	r      *bufio.Reader
	line   int   // lines read
	offset int64 // bytes read
	text   []byte
	// proof returns the comment that proves a batch of at most maxBatch bytes.
	proof func(text []byte, lines int, crc uint32) []byte
}

func newJournal(name string, r io.Reader) *journal {
	return &journal{name: name, r: bufio.NewReaderSize(r, maxPoint),
		proof: func(_ []byte, lines int, crc uint32) []byte { return appendBatchLine(nil, lines, crc) }}
}

// openJournal opens the journal of the session. An interrupted session may have none yet.
func (s *Session) openJournal() (*journal, error) {
	name := within(s.dir, journalName)
	f, err := os.Open(name)
	if errors.Is(err, fs.ErrNotExist) && !s.manifest.lists(journalName) {
		return newJournal(name, bytes.NewReader(nil)), nil
	}
	if err != nil {
		return nil, unreadable(name, err, "the journal of the session")
	}
	j := newJournal(name, f)
	j.file = f
	return j, nil
}

// Close closes the file.
func (j *journal) Close() error {
	if j.file == nil {
		return nil
	}
	return j.file.Close()
}

// each calls yield with every batch to the end of the journal.
func (j *journal) each(yield func(batch) error) error {
	for {
		b, err := j.next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if err := yield(b); err != nil {
			return err
		}
	}
}

// next returns the next batch, good or not, and io.EOF after the last. It holds at most maxBatch
// bytes, whatever the file holds.
func (j *journal) next() (batch, error) {
	b := batch{line: j.line + 1, from: j.offset}
	j.text = j.text[:0]
	var lines int
	var crc uint32
	inside, long := false, false // in a line longer than the reader's buffer; more than maxBatch read
	for {
		part, err := j.r.ReadSlice('\n')
		if err != nil && err != bufio.ErrBufferFull && err != io.EOF {
			return batch{}, unreadable(j.name, err, "the journal of the session")
		}
		j.offset += int64(len(part))
		if err == io.EOF {
			if b.to = j.offset; b.to == b.from {
				return batch{}, io.EOF
			}
			b.torn, b.fault = true, j.fault(b.line, "lines that nothing proves", "a line that begins with "+batchPrefix)
			return b, nil
		}
		if err == nil {
			j.line++
		}
		if err == nil && !inside && bytes.HasPrefix(part, []byte(batchPrefix)) {
			b.to = j.offset
			want := ""
			if !long {
				want = string(j.proof(j.text, lines, crc))
			}
			switch {
			case long:
				b.fault = j.fault(b.line, "a batch of more than 256 KiB", "a batch as this program writes it")
			case string(part) != want:
				b.fault = j.fault(j.line, fmt.Sprintf("%.60q", part), fmt.Sprintf("%q", want))
			default:
				b.text = j.text
			}
			return b, nil
		}
		inside = err != nil
		crc = crc32.Update(crc, castagnoli, part)
		if !inside {
			lines++
		}
		if long = long || len(j.text)+len(part) > maxBatch; !long {
			j.text = append(j.text, part...)
		}
	}
}

func (j *journal) fault(number int, found, want string) *rig.FileError {
	return &rig.FileError{File: j.name, Line: number, Found: found, Want: want,
		Do: "compare with a copy; the batches that prove themselves are used"}
}
