package wave

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"quern/rig"
)

// maxChunks bounds the search for the samples, so that a file of empty chunks cannot hold us up.
const maxChunks = 4096

// header is what the chunks of a file say, put right against its true length.
type header struct {
	format    Format
	dataAt    int64 // offset of the first sample
	dataBytes int64 // length of the samples, whole frames
	rateAt    int64 // offset of the sample rate
	repairs   []string
}

// scan walks the chunks of one file.
type scan struct {
	r    io.ReaderAt
	size int64
	name string
	header

	wide     bool             // RF64 or BW64
	ds64Data int64            // length of the samples by ds64, -1 without
	table    map[string]int64 // lengths of other chunks by ds64
	hasData  bool
	stated   int64 // length of the samples by the header, -1: open
}

func (s *scan) fail(at int64, found, want, do string) error {
	return &rig.FileError{File: s.name, Byte: at, Found: found, Want: want, Do: do}
}

func (s *scan) repaired(format string, a ...any) {
	s.repairs = append(s.repairs, fmt.Sprintf(format, a...))
}

// readAt fills b from offset at; the caller has checked that the file is long enough.
func (s *scan) readAt(b []byte, at int64) error {
	if n, err := readFull(s.r, b, at); err != nil {
		return &rig.FileError{File: s.name, Byte: at + int64(n), Found: errText(err),
			Want: fmt.Sprintf("%d bytes", len(b)), Do: "check the disk, or copy the file again", Err: err}
	}
	return nil
}

// readFull reads all of b, in as many reads as the source takes for it.
func readFull(r io.ReaderAt, b []byte, at int64) (int, error) {
	n := 0
	for n < len(b) {
		m, err := r.ReadAt(b[n:], at+int64(n))
		n += m
		if n == len(b) {
			return n, nil
		}
		if err == nil && m == 0 {
			err = io.ErrNoProgress
		}
		if errors.Is(err, io.EOF) {
			err = io.ErrUnexpectedEOF
		}
		if err != nil {
			return n, err
		}
	}
	return n, nil
}

func errText(err error) string {
	if errors.Is(err, io.ErrUnexpectedEOF) {
		return "the end of the file"
	}
	return "a read error (" + err.Error() + ")"
}

// readHeader finds format and samples.
func readHeader(r io.ReaderAt, size int64, name string) (header, error) {
	s := &scan{r: r, size: size, name: name, ds64Data: -1}
	if err := s.opening(); err != nil {
		return header{}, err
	}
	if err := s.chunks(); err != nil {
		return header{}, err
	}
	if err := s.measure(); err != nil {
		return header{}, err
	}
	return s.header, nil
}

func (s *scan) opening() error {
	const want, do = "a WAV file (RIFF, RF64 or BW64, then WAVE)", "name a WAV recording"
	var b [12]byte
	if s.size < int64(len(b)) {
		return s.fail(0, fmt.Sprintf("a file of %d bytes", s.size), want, do)
	}
	if err := s.readAt(b[:], 0); err != nil {
		return err
	}
	switch id := string(b[:4]); id {
	case "RIFF":
	case "RF64", "BW64":
		s.wide = true
	case "RIFX":
		return s.fail(0, "RIFX, a WAV file with its bytes in big-endian order", "RIFF", "convert it to a common WAV file")
	default:
		return s.fail(0, fmt.Sprintf("%q", id), want, do+"; other sound and films become one by ffmpeg -i FILE -vn FILE.wav")
	}
	if string(b[8:]) != "WAVE" {
		return s.fail(8, fmt.Sprintf("%q", b[8:]), "WAVE", do)
	}
	return nil
}

// chunks goes from chunk to chunk until format and samples are both found.
func (s *scan) chunks() error {
	at, odd := int64(12), false
	for n := 0; s.size-at >= chunkHead; n++ {
		if n == maxChunks {
			return s.fail(at, fmt.Sprintf("more than %d chunks", maxChunks), `a "fmt " and a "data" chunk among them`, "convert the file to a plain WAV file")
		}
		id, size, err := s.chunkAt(at)
		if err != nil {
			return err
		}
		if odd && !isName(id) { // some writers leave out the byte that makes a chunk even
			if pid, psize, err := s.chunkAt(at - 1); err == nil && isName(pid) {
				at, id, size = at-1, pid, psize
				s.repaired("the byte that fills an odd chunk is missing before byte %d", at)
			}
		}
		if !isName(id) {
			return s.fail(at, fmt.Sprintf("%q", id), "the name of a chunk", "export the recording again: its header is damaged")
		}
		if err := s.take(id, size, at+chunkHead); err != nil {
			return err
		}
		if s.hasData && s.format.Channels > 0 {
			return nil
		}
		if id == "data" {
			size = s.dataBytes
		}
		if size > s.size-at-chunkHead {
			return s.fail(at, fmt.Sprintf("chunk %q of %d bytes, longer than the file", id, size), s.missing(), "export the recording again: the file is cut or damaged")
		}
		at += chunkHead + size + size&1
		odd = size&1 == 1
	}
	return s.fail(s.size, "the end of the file", s.missing(), "export the recording again: the file is cut or damaged")
}

func (s *scan) missing() string {
	if s.hasData {
		return `a "fmt " chunk that says what the samples are`
	}
	return `a "data" chunk with the samples`
}

func (s *scan) chunkAt(at int64) (id string, size int64, err error) {
	var b [chunkHead]byte
	if err := s.readAt(b[:], at); err != nil {
		return "", 0, err
	}
	id, size = string(b[:4]), int64(binary.LittleEndian.Uint32(b[4:]))
	if long, ok := s.table[id]; ok && size == openSize {
		size = long
	}
	return id, size, nil
}

// takeTable reads what a ds64 chunk says of the length of other chunks (EBU Tech 3306): a count, then a name of four
// bytes and a length of eight each.
func (s *scan) takeTable(size, at int64) error {
	const head, entry = 28, 12
	if min(size, s.size-at) < head {
		return nil
	}
	var n [4]byte
	if err := s.readAt(n[:], at+head-4); err != nil {
		return err
	}
	room := (min(size, s.size-at) - head) / entry
	b := make([]byte, entry*min(int64(binary.LittleEndian.Uint32(n[:])), room, maxChunks))
	if err := s.readAt(b, at+head); err != nil {
		return err
	}
	s.table = map[string]int64{}
	for ; len(b) > 0; b = b[entry:] {
		if id := string(b[:4]); id != "data" { // that has a field of its own
			s.table[id] = int64(min(binary.LittleEndian.Uint64(b[4:]), 1<<62))
		}
	}
	return nil
}

// isName tells whether four bytes can be a chunk's name: printable ASCII.
func isName(id string) bool {
	for i := range len(id) {
		if id[i] < ' ' || id[i] > '~' {
			return false
		}
	}
	return true
}

// take reads what a chunk whose body is at offset at says.
func (s *scan) take(id string, size, at int64) error {
	switch {
	case id == "fmt " && s.format.Channels == 0:
		return s.takeFormat(size, at)
	case id == "ds64" && s.wide && size >= 16 && s.size-at >= 16:
		var b [16]byte
		if err := s.readAt(b[:], at); err != nil {
			return err
		}
		s.ds64Data = int64(min(binary.LittleEndian.Uint64(b[8:]), 1<<62))
		return s.takeTable(size, at)
	case id == "data" && !s.hasData:
		s.hasData, s.dataAt, s.stated = true, at, size
		if size == openSize {
			if s.stated = -1; s.wide {
				s.stated = s.ds64Data
			}
		}
		return s.bound()
	}
	return nil
}

// bound decides how many bytes are samples, by the header and by what the file really holds.
func (s *scan) bound() error {
	there := s.size - s.dataAt
	s.dataBytes = there
	switch {
	case s.stated < 0:
		s.repaired("the header leaves the length of the samples open: read to the end of the file, %d bytes", there)
		return nil
	case s.stated > there:
		s.repaired("the header promises %d bytes of samples, the file holds %d: read to its end", s.stated, there)
		return nil
	}
	ok, err := s.chunksFollow(s.stated)
	if err != nil || ok {
		s.dataBytes = s.stated
		return err
	}
	if s.stated == 0 {
		s.repaired("the header says that there are no samples, %d bytes follow it: read to the end of the file", there)
		return nil
	}
	// A 32-bit size that a longer recording made overflow is short by a multiple of 4 GiB.
	for n := s.stated + 1<<32; n <= there; n += 1 << 32 {
		if ok, err := s.chunksFollow(n); err != nil || ok {
			s.dataBytes = n
			s.repaired("the header says %d bytes of samples, a number that overflowed: read %d", s.stated, n)
			return err
		}
	}
	s.dataBytes = s.stated
	s.repaired("%d bytes after the samples are no chunk: left out", there-s.stated-s.stated&1)
	return nil
}

// chunksFollow tells whether n bytes of samples are followed by whole chunks to the end of the file.
func (s *scan) chunksFollow(n int64) (bool, error) {
	at := s.dataAt + n + n&1
	if n&1 == 1 && at < s.size-chunkHead {
		if id, _, err := s.chunkAt(at); err != nil {
			return false, err
		} else if !isName(id) {
			at--
		}
	}
	for range maxChunks {
		if at >= s.size-1 { // one byte may be there to make the whole even
			return true, nil
		}
		if s.size-at < chunkHead {
			return false, nil
		}
		id, size, err := s.chunkAt(at)
		if err != nil {
			return false, err
		}
		if !isName(id) || size > s.size-at-chunkHead {
			return false, nil
		}
		at += chunkHead + size + size&1
	}
	return true, nil
}

// measure cuts the samples to whole frames.
func (s *scan) measure() error {
	frame := int64(s.format.FrameBytes())
	rest := s.dataBytes % frame
	if rest == 0 {
		return nil
	}
	s.dataBytes -= rest
	if rest == 1 && s.stated == s.dataBytes+1 && s.stated&1 == 0 { // some writers count the zero byte that fills an odd chunk
		var b [1]byte
		if err := s.readAt(b[:], s.dataAt+s.dataBytes); err != nil || b[0] == 0 {
			return err
		}
	}
	s.repaired("the last frame is cut, %d of its %d bytes are there: left out", rest, frame)
	return nil
}
