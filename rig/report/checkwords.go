package report

import (
	"fmt"
	"math"

	"quern/config"
	"quern/rig"
	"quern/rig/score/gum"
)

// CheckWords says what a check showed and, where it was not what it should have been, by how much and what follows
// from that: to whoever stands at the bench and can still do something about it.
func CheckWords(k rig.Check, b *config.Bench) string {
	unit := CheckUnit(k.Kind)
	text := fmt.Sprintf("check of the %s, %g %s", checked[k.Kind], k.Found.V, unit)
	if !k.Nominal.OK {
		return text
	}
	text += fmt.Sprintf(" where %g %s should be", k.Nominal.V, unit)
	off := k.Found.V - k.Nominal.V
	if slip(k, off) {
		return text + ": if that was a slip, put it on record again"
	}
	switch k.Kind {
	case rig.CheckScale:
		e := b.Scale.VerificationG
		if e == 0 {
			e = b.Scale.DivisionG
		}
		most, err := gum.MPE(b.Scale.Class, e, math.Abs(k.Nominal.V), b.Scale.InService)
		if err == nil && math.Abs(off) > most+1e-9 {
			return text + fmt.Sprintf(": %+g g off, and a scale of class %s may be %g g off there (OIML R 76): look at it before anything is weighed", math.Round(off*1000)/1000, b.Scale.Class, most)
		}
	case rig.CheckSound:
		if d := -off; math.Abs(d) >= soundStepDB && b.Microphone.Device.Kind != "meter" {
			return text + fmt.Sprintf(": with microphone.full_scale_db at %g instead of %g it would be right", tenth(b.Microphone.FullScaleDB+d), b.Microphone.FullScaleDB)
		}
	}
	return text
}

// checked says what is checked in each kind of check.
var checked = map[rig.CheckKind]string{rig.CheckSound: "microphone", rig.CheckScale: "scale", rig.CheckClamp: "clamp", rig.CheckSupply: "supply", rig.CheckWater: "water"}

// soundStepDB is how far a calibrator may be shown wrong before the full scale is worth setting anew: half a decibel
// is what good practice lets pass (common practice).
const soundStepDB = 0.5

// slip says whether a value is so far off that it was rather mistyped, or read in another unit: more than 10 dB, or half of
// what it should be.
func slip(k rig.Check, off float64) bool {
	if k.Kind == rig.CheckSound {
		return math.Abs(off) > 10
	}
	return math.Abs(off) > math.Abs(k.Nominal.V)/2
}

func tenth(v float64) float64 { return math.Round(v*10) / 10 }
