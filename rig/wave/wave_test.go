package wave

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"quern/rig"
)

// memory is a file in memory.
type memory struct {
	b  []byte
	at int64
}

func (m *memory) Write(p []byte) (int, error) {
	if grow := m.at + int64(len(p)) - int64(len(m.b)); grow > 0 {
		m.b = append(m.b, make([]byte, grow)...)
	}
	n := copy(m.b[m.at:], p)
	m.at += int64(n)
	return n, nil
}

func (m *memory) Seek(off int64, whence int) (int64, error) {
	switch whence {
	case io.SeekEnd:
		off += int64(len(m.b))
	case io.SeekCurrent:
		off += m.at
	}
	m.at = off
	return off, nil
}

// drip gives one byte a read.
type drip struct{ r io.ReaderAt }

func (d drip) ReadAt(p []byte, off int64) (int, error) {
	if len(p) == 0 {
		return 0, nil
	}
	return d.r.ReadAt(p[:1], off)
}

// readAll reads one channel in stretches of cut samples.
func readAll(r *Reader, channel, cut int) ([]float64, error) {
	var out []float64
	dst := make([]float64, cut)
	for {
		n, err := r.Read(dst, channel)
		out = append(out, dst[:n]...)
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return out, err
		}
	}
}

func open(t *testing.T, b []byte) *Reader {
	t.Helper()
	r, err := Open(bytes.NewReader(b), int64(len(b)), "test.wav")
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func chunk(name, body string) string {
	s := name + string(binary.LittleEndian.AppendUint32(nil, uint32(len(body)))) + body
	if len(body)&1 == 1 {
		s += "\x00"
	}
	return s
}

// sized is a chunk that claims another size than it has; nothing is padded.
func sized(name string, size uint32, body string) string {
	return name + string(binary.LittleEndian.AppendUint32(nil, size)) + body
}

func format(tag, channels, rateHz, align, bits int) string {
	b := binary.LittleEndian.AppendUint16(nil, uint16(tag))
	b = binary.LittleEndian.AppendUint16(b, uint16(channels))
	b = binary.LittleEndian.AppendUint32(b, uint32(rateHz))
	b = binary.LittleEndian.AppendUint32(b, uint32(rateHz*align))
	b = binary.LittleEndian.AppendUint16(b, uint16(align))
	return string(binary.LittleEndian.AppendUint16(b, uint16(bits)))
}

func riff(chunks ...string) []byte { return []byte(chunk("RIFF", "WAVE"+strings.Join(chunks, ""))) }

// Values of the samples by hand: 16-bit 0x8000 is -1, 0x4000 is 0.5, 0x7FFF is 32767/32768.
func TestReadEncodings(t *testing.T) {
	ext := func(tag, bits int) string {
		return format(tagExtensible, 1, 8000, bits/8, bits) + "\x16\x00" + string([]byte{byte(bits), 0, 0, 0, 0, 0, byte(tag), 0}) + subTail
	}
	f32 := func(v ...float32) (s string) {
		for _, x := range v {
			s += string(binary.LittleEndian.AppendUint32(nil, math.Float32bits(x)))
		}
		return s
	}
	f64 := func(v ...float64) (s string) {
		for _, x := range v {
			s += string(binary.LittleEndian.AppendUint64(nil, math.Float64bits(x)))
		}
		return s
	}
	nan := math.NaN()
	tests := []struct {
		name    string
		format  string
		data    string
		channel int
		enc     Encoding
		want    []float64
		repair  string
	}{
		{"8", format(1, 1, 8000, 1, 8), "\x00\x80\xff\xc0", 1, PCM8, []float64{-1, 0, 127. / 128, 0.5}, ""},
		{"16", format(1, 1, 8000, 2, 16), "\x00\x80\x00\x40\xff\x7f\x00\x00\xff\xff", 1, PCM16, []float64{-1, 0.5, 32767. / 32768, 0, -1. / 32768}, ""},
		{"16 right", format(1, 2, 8000, 4, 16), "\x01\x00\x00\x80\x02\x00\x00\x40", 2, PCM16, []float64{-1, 0.5}, ""},
		{"24", format(1, 1, 8000, 3, 24), "\x00\x00\x80\x00\x00\x40\xff\xff\x7f\xff\xff\xff", 1, PCM24, []float64{-1, 0.5, 8388607. / 8388608, -1. / 8388608}, ""},
		{"24 of 3", format(1, 3, 8000, 9, 24), "\x01\x02\x03\x00\x00\x40\x07\x08\x09", 2, PCM24, []float64{0.5}, ""},
		{"20 in 24", format(1, 1, 8000, 3, 20), "\x00\x00\x40", 1, PCM24, []float64{0.5}, ""},
		{"32", format(1, 1, 8000, 4, 32), "\x00\x00\x00\x80\x00\x00\x00\x40\xff\xff\xff\x7f", 1, PCM32, []float64{-1, 0.5, 2147483647. / 2147483648}, ""},
		{"float 32", format(3, 1, 8000, 4, 32), f32(-1, 0.25, 1.5), 1, Float32, []float64{-1, 0.25, 1.5}, ""},
		{"float 64", format(3, 1, 8000, 8, 64) + "\x00\x00", f64(-1, 0.1, 12.5), 1, Float64, []float64{-1, 0.1, 12.5}, ""},
		{"extensible 24", ext(1, 24), "\x00\x00\x40", 1, PCM24, []float64{0.5}, ""},
		{"extensible float", ext(3, 32), f32(0.25), 1, Float32, []float64{0.25}, ""},
		{"not finite 32", format(3, 2, 8000, 8, 32), f32(1, 1, 1, float32(nan), 1, float32(math.Inf(-1))), 2, Float32, []float64{1, 0, 0},
			"2 samples, the first at byte 56, are not finite numbers: taken as 0"},
		{"not finite 64", format(3, 1, 8000, 8, 64), f64(1, math.Inf(1), 1), 1, Float64, []float64{1, 0, 1}, "1 sample at byte 52 is not a finite number: taken as 0"},
	}
	for _, tt := range tests {
		for _, cut := range []int{1, 3, 1000} {
			r := open(t, riff(chunk("fmt ", tt.format), chunk("data", tt.data)))
			got, err := readAll(r, tt.channel, cut)
			if err != nil || !slices.Equal(got, tt.want) || r.Format().Encoding != tt.enc || r.Frames() != int64(len(tt.want)) {
				t.Errorf("%s, cut %d: got %v, %v, %d frames, %v; want %v", tt.name, cut, got, r.Format(), r.Frames(), err, tt.want)
			}
			if rep := strings.Join(r.Repairs(), "; "); rep != tt.repair {
				t.Errorf("%s: repairs %q, want %q", tt.name, rep, tt.repair)
			}
		}
	}
}

// Chunks in any order, odd ones, and lengths that are wrong.
func TestReadChunks(t *testing.T) {
	f := chunk("fmt ", format(1, 1, 8000, 2, 16))
	samples := "\x01\x00\x02\x00\x03\x00"
	good := chunk("data", samples)
	ds64 := func(data uint64) string {
		b := binary.LittleEndian.AppendUint64(nil, 1)
		b = binary.LittleEndian.AppendUint64(b, data)
		return chunk("ds64", string(binary.LittleEndian.AppendUint64(b, 3))+"\x00\x00\x00\x00")
	}
	tabled := func(data uint64, id string, size uint64) string { // EBU Tech 3306: a table of the lengths of other chunks
		b := binary.LittleEndian.AppendUint64(nil, 1)
		b = binary.LittleEndian.AppendUint64(b, data)
		b = binary.LittleEndian.AppendUint64(b, 3)
		b = append(binary.LittleEndian.AppendUint32(b, 1), id...)
		return chunk("ds64", string(binary.LittleEndian.AppendUint64(b, size)))
	}
	wide := func(name string, chunks ...string) []byte {
		return []byte(sized(name, openSize, "WAVE"+strings.Join(chunks, "")))
	}
	tests := []struct {
		name   string
		file   []byte
		frames int64
		repair string
	}{
		{"plain", riff(f, good), 3, ""},
		{"odd chunk before", riff(chunk("LIST", "abc"), f, chunk("junk", "x"), good), 3, ""},
		{"odd chunk without its filling byte", riff(f, sized("LIST", 3, "abc"), good), 3, "the byte that fills an odd chunk is missing before byte 47"},
		{"samples before format", riff(good, f), 3, ""},
		{"chunks after", riff(f, good, chunk("LIST", "abcd"), chunk("id3 ", "abc")), 3, ""},
		{"riff size 0", append([]byte(sized("RIFF", 0, "WAVE")), f+good...), 3, ""},
		{"no samples", riff(f, chunk("data", "")), 0, ""},
		{"no samples but chunks", riff(f, chunk("data", ""), chunk("LIST", "abcd")), 0, ""},
		{"size 0", riff(f, sized("data", 0, samples)), 3, "the header says that there are no samples, 6 bytes follow it: read to the end of the file"},
		{"size open", riff(f, sized("data", openSize, samples)), 3, "the header leaves the length of the samples open: read to the end of the file, 6 bytes"},
		{"size too large", riff(f, sized("data", 1000, samples)), 3, "the header promises 1000 bytes of samples, the file holds 6: read to its end"},
		{"size too small", riff(f, sized("data", 2, samples)), 1, "4 bytes after the samples are no chunk: left out"},
		{"last frame cut", riff(f, sized("data", 5, samples[:5])), 2, "the last frame is cut, 1 of its 2 bytes are there: left out"},
		{"odd samples, not filled, chunk after", riff(chunk("fmt ", format(1, 1, 8000, 1, 8)), sized("data", 3, "abc"), chunk("LIST", "abcd")), 3, ""},
		{"filling byte counted", riff(chunk("fmt ", format(1, 1, 8000, 3, 24)), chunk("data", "abc\x00")), 1, ""},
		{"no filling byte", riff(chunk("fmt ", format(1, 1, 8000, 3, 24)), chunk("data", "abcd")), 1, "the last frame is cut, 1 of its 3 bytes are there: left out"},
		{"RF64", wide("RF64", ds64(6), f, sized("data", openSize, samples), chunk("LIST", "abcd")), 3, ""},
		{"BW64", wide("BW64", ds64(6), f, sized("data", openSize, samples)), 3, ""},
		{"RF64 with a table", wide("RF64", tabled(6, "abcd", 5), f, sized("abcd", openSize, "12345\x00"), sized("data", openSize, samples), chunk("LIST", "abcd")), 3, ""},
		{"RF64 with a table and the chunk behind", wide("RF64", tabled(6, "abcd", 5), f, sized("data", openSize, samples), sized("abcd", openSize, "12345\x00")), 3, ""},
		{"RF64 with a table that is cut", wide("RF64", ds64(6)[:8+24]+"\xff\xff\xff\xff", f, sized("data", openSize, samples)), 3, ""},
		{"RF64 with its own size", wide("RF64", ds64(99), f, good), 3, ""},
		{"RF64 too large", wide("RF64", ds64(math.MaxUint64), f, sized("data", openSize, samples)), 3,
			"the header promises 4611686018427387904 bytes of samples, the file holds 6: read to its end"},
		{"RF64 without ds64", wide("RF64", f, sized("data", openSize, samples)), 3, "the header leaves the length of the samples open: read to the end of the file, 6 bytes"},
		{"bytes a frame 0", riff(chunk("fmt ", format(1, 1, 8000, 0, 16)), good), 3, "the header says 0 bytes a frame: taken as 2"},
	}
	for _, tt := range tests {
		r, err := Open(bytes.NewReader(tt.file), int64(len(tt.file)), "test.wav")
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		got, err := readAll(r, 1, 100)
		if err != nil || r.Frames() != tt.frames || int64(len(got)) != tt.frames {
			t.Errorf("%s: got %d frames, %d samples, %v; want %d", tt.name, r.Frames(), len(got), err, tt.frames)
		}
		if rep := strings.Join(r.Repairs(), "; "); rep != tt.repair {
			t.Errorf("%s: repairs %q, want %q", tt.name, rep, tt.repair)
		}
		if raw, err := io.ReadAll(r.Data()); err != nil || len(raw) != int(tt.frames)*r.Format().FrameBytes() {
			t.Errorf("%s: %d bytes of data, %v", tt.name, len(raw), err)
		}
	}
}

func TestOpenErrors(t *testing.T) {
	data := chunk("data", "\x01\x00")
	with := func(f string) []byte { return riff(chunk("fmt ", f), data) }
	tests := []struct {
		name string
		file []byte
		want string
	}{
		{"empty", nil, "test.wav: byte 0: found a file of 0 bytes, expected a WAV file (RIFF, RF64 or BW64, then WAVE): name a WAV recording"},
		{"text", []byte("time_s,current_a\n"), `test.wav: byte 0: found "time", expected a WAV file`},
		{"big-endian", []byte("RIFX\x00\x00\x00\x04WAVE"), "test.wav: byte 0: found RIFX"},
		{"other form", []byte("RIFF\x04\x00\x00\x00AVI "), `test.wav: byte 8: found "AVI ", expected WAVE`},
		{"only the opening", riff(), `test.wav: byte 12: found the end of the file, expected a "data" chunk with the samples`},
		{"no format", riff(data), `expected a "fmt " chunk that says what the samples are`},
		{"no samples", riff(chunk("fmt ", format(1, 1, 8000, 2, 16))), `expected a "data" chunk`},
		{"cut in a chunk", riff(sized("LIST", 99, "abc")), `test.wav: byte 12: found chunk "LIST" of 99 bytes, longer than the file`},
		{"no name", riff(sized("\x00\x01ab", 2, "ab")), `test.wav: byte 12: found "\x00\x01ab", expected the name of a chunk`},
		{"short format", with("abc"), `test.wav: byte 20: found a "fmt " chunk of 3 bytes, expected at least 16`},
		{"compressed", with(format(0x55, 1, 8000, 2, 16)), "test.wav: byte 20: found samples of encoding 0x0055, expected PCM (0x0001) or float (0x0003)"},
		{"0 channels", with(format(1, 0, 8000, 2, 16)), "test.wav: byte 22: found 0 channels, expected 1 to 64"},
		{"65 channels", with(format(1, 65, 8000, 130, 16)), "found 65 channels"},
		{"0 Hz", with(format(1, 1, 0, 2, 16)), "test.wav: byte 24: found 0 samples a second, expected 1000 to 192000"},
		{"0 bits", with(format(1, 1, 8000, 2, 0)), "test.wav: byte 34: found PCM of 0 bits, expected 8, 16, 24 or 32"},
		{"1 bit", with(format(1, 1, 8000, 1, 1)), "test.wav: byte 34: found PCM of 1 bits, expected 8, 16, 24 or 32"},
		{"64-bit PCM", with(format(1, 1, 8000, 8, 64)), "found PCM of 64 bits"},
		{"16-bit float", with(format(3, 1, 8000, 2, 16)), "found float of 16 bits, expected 32 or 64"},
		{"24 in 32", with(format(1, 1, 8000, 4, 24)), "test.wav: byte 32: found 4 bytes a frame, expected 3 (1 of 24 bits)"},
		{"short extensible", with(format(tagExtensible, 1, 8000, 2, 16) + "\x00\x00"), `found an extensible "fmt " chunk of 18 bytes, expected 40`},
		{"other sub-format", with(format(tagExtensible, 1, 8000, 2, 16) + strings.Repeat("\x01", 24)), "test.wav: byte 44: found the sub-format 0101"},
		{"empty chunks for ever", riff(strings.Repeat(chunk("JUNK", ""), maxChunks+1)), "found more than 4096 chunks"},
	}
	for _, tt := range tests {
		_, err := Open(bytes.NewReader(tt.file), int64(len(tt.file)), "test.wav")
		var fe *rig.FileError
		if !errors.As(err, &fe) || !strings.Contains(err.Error(), tt.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: got %v, want %s", tt.name, err, tt.want)
		}
	}
}

func TestReadErrors(t *testing.T) {
	b := riff(chunk("fmt ", format(1, 2, 8000, 4, 16)), chunk("data", strings.Repeat("\x01\x00\x02\x00", 50)))
	r := open(t, b)
	for _, channel := range []int{0, 3, -1} {
		if _, err := r.Read(make([]float64, 1), channel); err == nil || !strings.Contains(err.Error(), "found 2 channels, expected a channel") {
			t.Errorf("channel %d: got %v", channel, err)
		}
	}
	// A file that shrinks while it is read.
	r, err := Open(bytes.NewReader(b[:len(b)-50]), int64(len(b)), "test.wav")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := readAll(r, 1, 1000); err == nil || !strings.Contains(err.Error(), "test.wav: byte 194: found the end of the file, expected more samples") {
		t.Errorf("a shrunk file: got %v", err)
	}
	broken := errors.New("broken sector")
	if _, err := Open(failing{broken}, 100, "test.wav"); !errors.Is(err, broken) {
		t.Errorf("a broken disk: got %v", err)
	}
}

type failing struct{ err error }

func (f failing) ReadAt([]byte, int64) (int, error)    { return 0, f.err }
func (f failing) Write([]byte) (int, error)            { return 0, f.err }
func (f failing) Seek(off int64, _ int) (int64, error) { return off, nil }

// One channel of 24 bits has a quicker way of its own: it gives what the same samples give beside another channel.
func TestReadAlone(t *testing.T) {
	for n := range 12 {
		var alone, beside []byte
		for i := range n {
			s := []byte{byte(37 * i), byte(200 - 11*i), byte(100 + 31*i)}
			alone = append(alone, s...)
			beside = append(append(beside, s...), 1, 2, 3)
		}
		want, got := make([]float64, n), make([]float64, n)
		decode(want, beside, 6, PCM24)
		decode(got, alone, 3, PCM24)
		if !slices.Equal(got, want) {
			t.Errorf("%d samples: found %v, want %v", n, got, want)
		}
	}
}
