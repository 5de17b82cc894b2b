package wave

import (
	"encoding/binary"
	"math"
)

// decode fills dst with every stride-th sample of b, the first at b[0]. It returns how many were
// not finite numbers (they become 0) and the index of the first of them.
func decode(dst []float64, b []byte, stride int, enc Encoding) (bad, first int) {
	switch enc {
	case PCM8:
		for i := range dst {
			dst[i] = float64(int(b[i*stride])-128) * (1.0 / (1 << 7))
		}
	case PCM16:
		if stride == 2 {
			decode16(dst, b)
			return 0, 0
		}
		for i := range dst {
			dst[i] = float64(int16(binary.LittleEndian.Uint16(b[i*stride:]))) * (1.0 / (1 << 15))
		}
	case PCM24:
		if stride == 3 {
			decode24(dst, b)
			return 0, 0
		}
		for i := range dst {
			p := b[i*stride : i*stride+3]
			v := int32(uint32(p[0])<<8|uint32(p[1])<<16|uint32(p[2])<<24) >> 8
			dst[i] = float64(v) * (1.0 / (1 << 23))
		}
	case PCM32:
		for i := range dst {
			dst[i] = float64(int32(binary.LittleEndian.Uint32(b[i*stride:]))) * (1.0 / (1 << 31))
		}
	case Float32:
		const inf = 0x7F80_0000 // the exponent of infinities and NaN
		for i := range dst {
			u := binary.LittleEndian.Uint32(b[i*stride:])
			if u&inf == inf {
				if bad == 0 {
					first = i
				}
				bad++
				u = 0
			}
			dst[i] = float64(math.Float32frombits(u))
		}
	case Float64:
		const inf = 0x7FF0_0000_0000_0000
		for i := range dst {
			u := binary.LittleEndian.Uint64(b[i*stride:])
			if u&inf == inf {
				if bad == 0 {
					first = i
				}
				bad++
				u = 0
			}
			dst[i] = math.Float64frombits(u)
		}
	}
	return bad, first
}

// decode24 and decode16 are the path of nearly all recordings, one channel of 24 or 16 bits, four samples a step.
func decode24(dst []float64, b []byte) {
	const k = 1.0 / (1 << 23)
	for len(dst) >= 4 && len(b) >= 12 {
		u, v := binary.LittleEndian.Uint64(b), binary.LittleEndian.Uint64(b[4:]) // bytes 0 to 7 and 4 to 11
		dst[0] = float64(int64(u<<40)>>40) * k
		dst[1] = float64(int64(u<<16)>>40) * k
		dst[2] = float64(int64(v<<24)>>40) * k
		dst[3] = float64(int64(v)>>40) * k
		dst, b = dst[4:], b[12:]
	}
	for i := range dst {
		p := b[3*i : 3*i+3]
		dst[i] = float64(int32(uint32(p[0])<<8|uint32(p[1])<<16|uint32(p[2])<<24)>>8) * k
	}
}

func decode16(dst []float64, b []byte) {
	const k = 1.0 / (1 << 15)
	for len(dst) >= 4 && len(b) >= 8 {
		v := binary.LittleEndian.Uint64(b)
		dst[0] = float64(int16(v)) * k
		dst[1] = float64(int16(v>>16)) * k
		dst[2] = float64(int16(v>>32)) * k
		dst[3] = float64(int16(v>>48)) * k
		dst, b = dst[4:], b[8:]
	}
	for i := range dst {
		dst[i] = float64(int16(binary.LittleEndian.Uint16(b[2*i:]))) * k
	}
}
