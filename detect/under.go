package detect

import (
	"fmt"
	"math"

	"quern/detect/sound"
	"quern/rig"
)

// grain finds the step of a recording's digits: the least change from one sample to the next in its first seconds. A
// file of 24 bits from a converter of 16 has the converter's step. Where the quiet hardly moves by more than a step, its level is
// that of the digits and not of the room.
type grain struct {
	left  int // samples still to be looked at
	last  float64
	begun bool
	step  float64 // fraction of full scale; 0: nothing changed yet
}

// grainS is how much of a recording is looked at for its step, s.
const grainS = 5.0

func (g *grain) look(x []float64) {
	n := min(len(x), g.left)
	g.left -= n
	for _, v := range x[:n] {
		if d := math.Abs(v - g.last); g.begun && d > 0 && (g.step == 0 || d < g.step) {
			g.step = d
		}
		g.last, g.begun = v, true
	}
}

// levelDB is the A-weighted level of what rounding to a step adds: white up to half the sample rate, with a mean square of a
// twelfth of the step's square (W. R. Bennett, Spectra of quantized signals, Bell System Technical Journal 27, 1948).
// fullScaleDB is the level of a sine whose peak is full scale.
func (g *grain) levelDB(rateHz, fullScaleDB float64) rig.Figure {
	if g.step == 0 {
		return rig.Absent("microphone-silent")
	}
	const parts = 2000
	weight := 0.0
	for i := range parts {
		weight += math.Pow(10, sound.AWeightDB((float64(i)+0.5)/parts*rateHz/2)/10) / parts
	}
	return rig.Fig(fullScaleDB + 10*math.Log10(g.step*g.step/12*2*weight)) // a full-scale sine has a mean square of a half
}

// linearDB is by how much a floor may lift a level before it counts as under-range: the deviation from linearity that class 1
// allows (IEC 61672-1:2013, 5.6.5).
const linearDB = 0.8

// lifts says whether a floor accounts for more of a level than linearDB: what is left without it.
func lifts(floorDB, levelDB float64) bool {
	return floorDB > levelDB+10*math.Log10(1-math.Pow(10, -linearDB/10))
}

// belowDB is by how much less than what rounding makes says that the input hardly moved by a step now and then: what is
// left of it is no level.
const belowDB = 3.0

// underRange warns where the background of a run is the instrument's own and not the room's. Where it is less than even
// rounding makes it is absent, and atMost is what the room's is at most.
func (a *Analysis) underRange(background rig.Figure, i int) (known, atMost rig.Figure) {
	m := &a.set.Bench.Microphone
	atMost = rig.Absent("background-not-seen")
	if !background.OK {
		return background, atMost
	}
	const so = "the room may be quieter than that, and the correction for it larger than it should be"
	if a.meter != nil {
		floor := a.grain.levelDB(a.meter.RateHz(), m.FullScaleDB)
		const do = "raise the input gain and calibrate again, or record with more bits"
		switch {
		case floor.OK && background.V < floor.V-belowDB:
			a.warnOf(i, "microphone-under-range", fmt.Sprintf("before run %d the input moved by less than the recording's own steps, whose rounding makes %.1f dB at full_scale_db = %g: the background is no more than that, and not known; %s", i+1, floor.V, m.FullScaleDB, do))
			return rig.Absent("microphone-under-range"), floor
		case floor.OK && lifts(floor.V, background.V):
			a.warnOf(i, "microphone-under-range", fmt.Sprintf("the background of run %d (%.1f dB) is hardly above what rounding to the recording's own steps makes (%.1f dB at full_scale_db = %g): %s; %s",
				i+1, background.V, floor.V, m.FullScaleDB, so, do))
		}
	}
	if m.SelfNoiseDB > 0 && lifts(m.SelfNoiseDB, background.V) {
		a.warnOf(i, "microphone-under-range", fmt.Sprintf("the background of run %d (%.1f dB) is hardly above the microphone's own noise (self_noise_db = %g): %s; a quieter microphone tells more", i+1, background.V, m.SelfNoiseDB, so))
	}
	return background, atMost
}
