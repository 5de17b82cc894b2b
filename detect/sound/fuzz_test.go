package sound

import (
	"encoding/binary"
	"math"
	"reflect"
	"testing"

	"quern/rig"
)

// Whatever the samples, rate and cuts: nothing panics, the whole gives what the drip gives, and no
// figure is negative or no number.
func FuzzMeter(f *testing.F) {
	f.Add(uint32(48000), uint16(7), uint16(3), []byte{1, 2, 3, 4, 5, 6, 7, 8})
	f.Add(uint32(1000), uint16(1), uint16(900), []byte{0, 0, 0, 0, 0, 0, 0xf8, 0x7f, 0, 0, 0, 0, 0, 0, 0xf0, 0x3f})
	f.Add(uint32(8000), uint16(80), uint16(2000), []byte{0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xef, 0x7f})
	f.Add(uint32(44100), uint16(441), uint16(100), []byte{0, 0, 0, 0, 0, 0, 0xf0, 0x3f, 0, 0, 0, 0, 0, 0, 0xf0, 0xbf})
	f.Fuzz(func(t *testing.T, rate uint32, cut, repeat uint16, b []byte) {
		hz := rig.MinRateHz + math.Mod(float64(rate), rig.MaxRateHz-rig.MinRateHz)
		var x []float64
		for i := 0; i+8 <= len(b) && i < 4000; i += 8 {
			x = append(x, math.Float64frombits(binary.LittleEndian.Uint64(b[i:])))
		}
		one := x
		for range repeat % 3000 {
			if len(x) > 20000 {
				break
			}
			x = append(x, one...)
		}
		whole, drip := hear(t, hz, x, 0), hear(t, hz, x, int(cut)+1)
		if !reflect.DeepEqual(whole, drip) {
			t.Fatalf("%g Hz, %d samples, cut %d: whole and drip differ", hz, len(x), cut)
		}
		for _, fr := range whole.frames {
			for _, v := range []float64{fr.EA, fr.EC, fr.EZ, fr.ET, fr.FMax, fr.FEnd, fr.SMax, fr.SEnd, fr.CPeak} {
				if !(v >= 0) || math.IsInf(v, 0) {
					t.Fatalf("%g Hz: %+v", hz, fr)
				}
			}
		}
		for _, bf := range whole.bands {
			for _, v := range bf.E {
				if !(v >= 0) || math.IsInf(v, 0) {
					t.Fatalf("%g Hz: %+v", hz, bf)
				}
			}
		}
	})
}
