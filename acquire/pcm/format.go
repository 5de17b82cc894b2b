package pcm

import (
	"encoding/binary"
	"fmt"
	"math"
)

// format is how a sample stands in the bytes of a card.
type format struct {
	bytes int
	value func(b []byte) float64 // fraction of full scale
}

// formatOf knows the forms of config.ALSA.Format. Whole numbers become multiples of 2^-(bits-1), which a
// float64 holds exactly.
func formatOf(name string) (format, error) {
	switch name {
	case "S16_LE":
		return format{2, func(b []byte) float64 { return float64(int16(binary.LittleEndian.Uint16(b))) / (1 << 15) }}, nil
	case "S24_3LE":
		return format{3, int24}, nil
	case "S24_LE": // the fourth byte is padding
		return format{4, int24}, nil
	case "S32_LE":
		return format{4, func(b []byte) float64 { return float64(int32(binary.LittleEndian.Uint32(b))) / (1 << 31) }}, nil
	case "FLOAT_LE":
		// NaN passes, to be told of. What is beyond full scale was clipped there.
		return format{4, func(b []byte) float64 {
			return max(-1, min(1, float64(math.Float32frombits(binary.LittleEndian.Uint32(b)))))
		}}, nil
	}
	return format{}, fmt.Errorf("format %q: expected S16_LE, S24_3LE, S24_LE, S32_LE or FLOAT_LE: set microphone.device.alsa.format to one that the card takes", name)
}

func int24(b []byte) float64 {
	return float64(int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24)>>8) / (1 << 23)
}

// pick takes channel n, from 0, of whole frames in b and appends it to out. sane is false if a sample is
// no number.
func (f format) pick(out []float64, b []byte, channels, n int) (samples []float64, sane bool) {
	frame := f.bytes * channels
	sane = true
	for at := n * f.bytes; at+f.bytes <= len(b); at += frame {
		v := f.value(b[at:])
		sane = sane && !math.IsNaN(v)
		out = append(out, v)
	}
	return out, sane
}
