// Package wave reads and writes WAV files: RIFF/WAVE and its 64-bit forms RF64 and BW64 (ITU-R
// BS.2088), PCM of 8 (unsigned), 16, 24 and 32 bits and float of 32 and 64 bits, 1 to 64 channels.
// Files are streamed: memory does not grow with their length.
//
// Samples are fractions of digital full scale: an integer is divided by 2 to the power of its bits
// less one (16 bits: v/32768), so that it fits a float64 exactly and comes back bit for bit; a
// float is as it stands in the file.
//
// A header that is wrong about lengths, as one is after a power cut, does not make a recording
// unreadable: what was put right is told by [Reader.Repairs].
package wave

import "fmt"

// Encoding is how one sample is stored. The zero Encoding is none.
type Encoding uint8

// The encodings that are read and written. PCM8 is unsigned, the others are signed; all are little-endian.
const (
	PCM8 Encoding = iota + 1
	PCM16
	PCM24
	PCM32
	Float32
	Float64
)

// Bytes returns the bytes that one sample takes.
func (e Encoding) Bytes() int {
	switch e {
	case PCM8:
		return 1
	case PCM16:
		return 2
	case PCM24:
		return 3
	case PCM32, Float32:
		return 4
	case Float64:
		return 8
	}
	return 0
}

// Bits returns the bits that one sample takes.
func (e Encoding) Bits() int { return 8 * e.Bytes() }

// Float tells whether samples are floating-point numbers.
func (e Encoding) Float() bool { return e == Float32 || e == Float64 }

// String returns "16-bit PCM", "32-bit float".
func (e Encoding) String() string {
	switch {
	case e.Bytes() == 0:
		return "no encoding"
	case e.Float():
		return fmt.Sprintf("%d-bit float", e.Bits())
	}
	return fmt.Sprintf("%d-bit PCM", e.Bits())
}

// MaxChannels is the most channels a file may have; more is taken for a damaged header.
const MaxChannels = 64

// Format is the shape of a file's samples.
type Format struct {
	RateHz   int // frames a second
	Channels int // samples a frame, 1 to MaxChannels
	Encoding Encoding
}

// FrameBytes returns the bytes of one frame: one sample of every channel.
func (f Format) FrameBytes() int { return f.Channels * f.Encoding.Bytes() }

// String returns "48000 Hz, 2 channels, 16-bit PCM".
func (f Format) String() string {
	s := "s"
	if f.Channels == 1 {
		s = ""
	}
	return fmt.Sprintf("%d Hz, %d channel%s, %v", f.RateHz, f.Channels, s, f.Encoding)
}

// Chunk names and fixed sizes: "Multimedia Programming Interface and Data Specifications 1.0"
// (RIFF, WAVE) and ITU-R BS.2088-1 (RF64/BW64, ds64).
const (
	chunkHead = 8          // bytes of a chunk's name and size
	openSize  = 0xFFFFFFFF // 32-bit size that says "see ds64", or "not known yet"
	ds64Bytes = 28         // riff size, data size, frames (8 bytes each), table length (4)

	tagPCM        = 0x0001
	tagFloat      = 0x0003
	tagExtensible = 0xFFFE
)
