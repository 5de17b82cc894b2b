package run

import (
	"math"
	"slices"
)

// A motor hums and rumbles; water hisses, and impacts crack. C-weighting lets through what A-weighting takes away
// below some 500 Hz, so what a C-weighted exposure has more than an A-weighted one is rumble.
const (
	hissShare = 0.75 // C-weighted over A-weighted exposure of what hisses and cracks above 1 kHz, at most about
	silentDB  = 25.0 // dB, least rumble that is reckoned with: less is left over from a difference
	rumblesDB = 8.0  // dB of rumble over the background's that may be a motor
)

// rumbleDB returns the level of what the C-weighting has more than the A-weighting, dB.
func rumbleDB(la, lc float64) float64 {
	return max(levelDB((math.Pow(10, lc/10)-hissShare*math.Pow(10, la/10))*20e-6*20e-6), silentDB)
}

// quantile of the last hundred values.
func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.Inf(-1)
	}
	s := slices.Clone(v[max(0, len(v)-100):])
	slices.Sort(s)
	return s[int(q*float64(len(s)-1))]
}
