package hid

import (
	"fmt"
	"math"

	"quern/rig"
)

// Weight is what a report says: a mass in grams, or why there is none (None), or neither with Other set
// for a report that carries no weight at all.
type Weight struct {
	MassG  float64
	Stable rig.Mark
	None   string // the scale has no weight to tell, and why: for people
	Other  bool   // a report of another kind
}

// gramsPerUnit by usage; USB-IF HID Usage Tables, page 0x8D, and NIST SP 811
// (testdata/reference/hid_scale.csv). Taels have no single value.
func gramsPerUnit(usage uint32) (float64, bool) {
	switch usage - firstUnit + 1 {
	case 1: // milligram
		return 0.001, true
	case 2: // gram
		return 1, true
	case 3: // kilogram
		return 1000, true
	case 4: // metric carat
		return 0.2, true
	case 6: // grain
		return 0.06479891, true
	case 7: // pennyweight
		return 1.55517384, true
	case 8: // metric ton
		return 1e6, true
	case 9: // avoirdupois ton of 2000 lb
		return 907184.74, true
	case 10: // troy ounce
		return 31.1034768, true
	case 11: // avoirdupois ounce
		return 28.349523125, true
	case 12: // avoirdupois pound
		return 453.59237, true
	}
	return 0, false
}

// Status codes: the usage less 0x70; USB-IF HID Usage Tables, page 0x8D.
const (
	statusFault = 1 + iota
	statusZero
	statusMotion
	statusStable
	statusUnderZero
	statusOver
	statusCalibrate
	statusRezero
)

// mostExponent bounds the power of ten that is believed: from micrograms of a ton to tons of a microgram.
const mostExponent = 12

// Report reads one report as it comes from the device: with its id first if the device numbers them. The
// error tells why it cannot be taken for a weighing.
func (l Layout) Report(b []byte) (Weight, error) {
	if l.numbered {
		if len(b) == 0 {
			return Weight{}, fmt.Errorf("an empty report, expected report %d", l.id)
		}
		if b[0] != l.id {
			return Weight{Other: true}, nil
		}
		b = b[1:]
	}
	if len(b)*8 < l.bits {
		return Weight{}, fmt.Errorf("a report of %d bytes, expected %d", len(b), (l.bits+7)/8)
	}
	status, code := l.status.of(b)
	if status < firstStatus || status > lastStatus {
		return Weight{}, fmt.Errorf("status code %d, expected 1 to 8", code)
	}
	raw := l.weight.of(b)
	var w Weight
	switch status - firstStatus + 1 {
	case statusFault:
		return Weight{None: "the scale reports a fault: switch it off and on, and look at its display"}, nil
	case statusOver:
		return Weight{None: "the load is above the scale's limit: take some off"}, nil
	case statusCalibrate:
		return Weight{None: "the scale asks to be calibrated: do it as its manual says"}, nil
	case statusRezero:
		return Weight{None: "the scale asks to be set to zero: empty the pan and press zero"}, nil
	case statusZero:
		w.Stable = rig.Yes
		if raw == 0 { // whatever unit it is shown in
			return w, nil
		}
	case statusStable:
		w.Stable = rig.Yes
	case statusMotion:
		w.Stable = rig.No
	case statusUnderZero:
		if raw == 0 {
			return Weight{None: "the load is below zero, and the scale does not say how far: empty the pan and press zero"}, nil
		}
		raw = -abs(raw) // a weight without sign tells how far below
	}
	usage, code := l.unit.of(b)
	grams, ok := gramsPerUnit(usage)
	if !ok {
		return Weight{}, fmt.Errorf("unit code %d, expected one that stands for one mass: set the scale to grams", code)
	}
	exponent := l.exponent
	if l.parts&hasScaling != 0 {
		exponent = int(l.scaling.of(b))
	}
	if exponent < -mostExponent || exponent > mostExponent {
		return Weight{}, fmt.Errorf("power of ten %d, expected -%d to %d", exponent, mostExponent, mostExponent)
	}
	// Powers of ten up to 22 are exact, so there are two roundings at most.
	if exponent < 0 {
		w.MassG = float64(raw) / math.Pow10(-exponent) * grams
	} else {
		w.MassG = float64(raw) * math.Pow10(exponent) * grams
	}
	return w, nil
}

func abs(v int64) int64 {
	if v < 0 {
		return -v
	}
	return v
}

// of returns the number; the report is long enough.
func (f field) of(b []byte) int64 {
	var v uint64
	for i := range f.bits {
		at := f.at + i
		v |= uint64(b[at/8]>>(at%8)&1) << i
	}
	if f.signed && f.bits > 0 && f.bits < 64 {
		return int64(v<<(64-f.bits)) >> (64 - f.bits)
	}
	return int64(v)
}

// of returns the usage that is chosen, 0 for none, and the number that stands in the report. Of several
// flags the last counts: faults and limits follow stable and in motion in the page's order.
func (c choice) of(b []byte) (usage uint32, code int64) {
	for _, f := range c.flags {
		if f.field.of(b) != 0 {
			usage = max(usage, f.usage)
			code = int64(usage & 0xF)
		}
	}
	if len(c.flags) > 0 {
		return usage, code
	}
	code = c.field.of(b)
	if i := code - c.least; i >= 0 && i < int64(len(c.usages)) {
		usage = c.usages[i]
	}
	return usage, code
}
