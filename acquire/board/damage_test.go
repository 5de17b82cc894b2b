package board

import (
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"hash/crc32"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"quern/acquire/frame"
	"quern/config"
	"quern/rig"
)

// send returns frames 0, 1, ... of cfg, and their values.
func send(cfg config.Board, frames int) (b []byte, each [][]byte, values [][]float64) {
	r := rand.New(rand.NewPCG(5, 5))
	sync, _ := hex.DecodeString(cfg.Sync)
	for i := range frames {
		var body []byte
		var vs []float64
		if cfg.Frames == "text" {
			body = fmt.Appendf(nil, "%d", i%256)
		} else {
			body = append(body, byte(i))
		}
		for range cfg.PerFrame {
			n := int16(r.IntN(65536) - 32768)
			vs = append(vs, float64(n)/32768)
			if cfg.Frames == "text" {
				body = fmt.Appendf(body, " %d", n)
			} else {
				body = binary.LittleEndian.AppendUint16(body, uint16(n))
			}
		}
		is, digits := frame.Sum(cfg.Checksum, body)
		one := append(slices.Clone(sync), body...)
		if cfg.Frames == "text" {
			one = fmt.Appendf(one, "*%0*X\n", digits, is)
		} else {
			one = append(one, binary.LittleEndian.AppendUint32(nil, is)[:digits/2]...)
		}
		each, values = append(each, one), append(values, vs)
		b = append(b, one...)
	}
	return b, each, values
}

// A burst of up to 16 bits in a frame is never taken for one by a CRC of 16 or 32 bits: all single bits and
// many bursts. The frames before and after are taken, and the counter tells of the one that is missing.
func TestDamagedFrame(t *testing.T) {
	for _, name := range []string{"crc16-modbus", "crc16-ccitt", "crc32"} {
		cfg := bin(func(b *config.Board) { b.Counter, b.Checksum, b.PerFrame = "uint8", name, 4 })
		whole, each, values := send(cfg, 5)
		begin := len(each[0]) + len(each[1]) + 2 // behind the sync bytes of the third
		bits := 8 * (len(each[2]) - 2)
		r := rand.New(rand.NewPCG(9, 9))
		for bit := range bits {
			for try := range 8 {
				b := slices.Clone(whole)
				burst := uint32(1)
				if try > 0 {
					burst |= r.Uint32N(1 << 16)
				}
				for k := range 16 {
					if burst>>k&1 == 1 && bit+k < bits {
						b[begin+(bit+k)/8] ^= 1 << ((bit + k) % 8)
					}
				}
				f := feed(t, cfg, rig.Waveform, b, math.MaxInt)
				want := [][]float64{values[0], values[1], values[3], values[4]}
				if !slices.EqualFunc(f.values, want, slices.Equal) || !strings.HasPrefix(f.frames[2], "lost 4: ") || len(f.rejects) != 1 {
					t.Fatalf("%s, bit %d, burst %x: %q, %q", name, bit, burst, f.frames, f.rejects)
				}
			}
		}
	}
}

// Whatever is done to the bytes, a frame with crc32 that is taken is one that was sent.
func FuzzDamage(f *testing.F) {
	f.Add(false, []byte{10, 0, 1, 30, 1, 2})
	f.Add(true, []byte{10, 0, '\n', 30, 1, 2, 50, 2, '*', 3, 3, 3})
	f.Fuzz(func(t *testing.T, lines bool, edits []byte) {
		cfg := bin(func(b *config.Board) { b.Counter, b.Checksum, b.PerFrame = "uint8", "crc32", 4 })
		if lines {
			cfg.Frames, cfg.Sync = "text", ""
		}
		b, _, values := send(cfg, 20)
		for ; len(edits) >= 3; edits = edits[3:] {
			p := (int(edits[0]) | int(edits[1])>>2<<8) % len(b)
			switch edits[1] % 4 {
			case 0:
				b[p] = edits[2]
			case 1:
				b = slices.Insert(b, p, edits[2])
			case 2:
				b = slices.Delete(b, p, min(len(b)-1, p+1+int(edits[2])))
			case 3:
				b[p] ^= edits[2]
			}
			if len(b) == 0 {
				return
			}
		}
		whole, drip := feed(t, cfg, rig.Waveform, b, len(b)), feed(t, cfg, rig.Waveform, b, 1)
		if !slices.Equal(whole.frames, drip.frames) || !slices.Equal(whole.rejects, drip.rejects) {
			t.Fatalf("whole %q %q, drip %q %q", whole.frames, whole.rejects, drip.frames, drip.rejects)
		}
		for _, v := range whole.values {
			if !slices.ContainsFunc(values, func(s []float64) bool { return slices.Equal(s, v) }) {
				t.Fatalf("%v was never sent", v)
			}
		}
	})
}

// setups are all sorts of frames for garbage to meet.
func setups() []config.Board {
	var out []config.Board
	for _, sum := range []string{"none", "xor", "crc16-modbus"} {
		for _, c := range []string{"none", "uint8", "uint32"} {
			for _, n := range []string{"int8", "int24", "float32"} {
				out = append(out, bin(func(b *config.Board) { b.Checksum, b.Counter, b.Number = sum, c, n }))
			}
			out = append(out, text(func(b *config.Board) { b.Checksum, b.Counter = sum, c }),
				text(func(b *config.Board) { b.Checksum, b.Counter, b.PerFrame, b.Separator = sum, c, 3, ";" }))
		}
	}
	return append(out, bin(func(b *config.Board) { b.Sync, b.PerFrame = "aa", 30 }), bin(func(b *config.Board) { b.Sync = "aaaaaa" }))
}

func FuzzGarbage(f *testing.F) {
	f.Add(uint8(0), []byte("\xaa\x55\x01\x02\xaa\x55\xaa"))
	f.Add(uint8(3), []byte("1\n2\r\n3 4\n"+strings.Repeat("7", 300)))
	f.Add(uint8(45), []byte(strings.Repeat("\xaa", 2500)))
	f.Fuzz(func(t *testing.T, which uint8, b []byte) {
		all := setups()
		cfg := all[int(which)%len(all)]
		for _, form := range []rig.Form{rig.Waveform, rig.RMS} {
			whole, drip := feed(t, cfg, form, b, len(b)+1), feed(t, cfg, form, b, 1)
			if !slices.Equal(whole.frames, drip.frames) || !slices.Equal(whole.rejects, drip.rejects) {
				t.Fatalf("%+v: whole %q %q, drip %q %q", cfg, whole.frames, whole.rejects, drip.frames, drip.rejects)
			}
			for _, vs := range whole.values {
				for _, v := range vs {
					if form == rig.Waveform && !(math.Abs(v) <= 1) || form == rig.RMS && !(v >= 0 && v <= 50*mostShare) {
						t.Fatalf("%+v: value %g", cfg, v)
					}
				}
			}
		}
	})
}

// Floods that are no frames are told of, and nothing of them is taken.
func TestFloods(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	noise := make([]byte, 100000)
	for i := range noise {
		noise[i] = byte(r.Uint32())
	}
	long := bin(func(b *config.Board) { b.Checksum, b.Sync, b.PerFrame = "crc16-modbus", "aa", 200 })
	for name, c := range map[string]struct {
		cfg  config.Board
		send []byte
	}{
		"noise":       {bin(func(b *config.Board) { b.Checksum = "crc32" }), noise},
		"sync bytes":  {long, []byte(strings.Repeat("\xaa", 50000))},
		"text":        {bin(nil), []byte(strings.Repeat("123 456\r\n", 5000))},
		"no line end": {text(nil), []byte(strings.Repeat("1 ", 50000))},
		"noise, text": {text(func(b *config.Board) { b.Checksum = "crc32" }), noise},
	} {
		t.Run(name, func(t *testing.T) {
			f := feed(t, c.cfg, rig.Waveform, c.send, 4096)
			if len(f.frames) != 0 || len(f.rejects) < 10 {
				t.Errorf("%d frames and %d rejects of a flood", len(f.frames), len(f.rejects))
			}
		})
	}
}

func BenchmarkBinary(b *testing.B) {
	cfg := bin(func(b *config.Board) { b.Counter, b.Checksum, b.PerFrame = "uint8", "crc16-modbus", 16 })
	data, _, _ := send(cfg, 256)
	r, err := NewReader(cfg, rig.Waveform, 50)
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		r.Push(at, data, none{})
	}
}

func BenchmarkText(b *testing.B) {
	cfg := text(func(b *config.Board) { b.Counter, b.Checksum = "uint8", "xor" })
	data, _, _ := send(cfg, 256)
	r, err := NewReader(cfg, rig.Waveform, 50)
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		r.Push(at, data, none{})
	}
}

type none struct{}

func (none) Frame(time.Time, int64, []float64) {}
func (none) Reject(string)                     {}

// The check value of the standard library and that of the frames agree.
func TestSumAgrees(t *testing.T) {
	if is, _ := frame.Sum("crc32", []byte("123456789")); is != crc32.ChecksumIEEE([]byte("123456789")) || is != 0xcbf43926 {
		t.Errorf("got %08x", is)
	}
}
