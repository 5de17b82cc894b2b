package sound

import (
	"math"

	"quern/rig"
)

// RefPa is the reference sound pressure, 0 dB, in Pa (IEC 61672-1; ISO 1683).
const RefPa = 20e-6

// LevelDB returns the level of a mean square sound pressure in Pa², dB re 20 µPa. A mean square of
// zero is -Inf: silence has no level, and must not be told as one.
func LevelDB(meanSquarePa2 float64) float64 {
	return 10 * math.Log10(meanSquarePa2/(RefPa*RefPa))
}

// MeanSquarePa2 is the inverse of LevelDB.
func MeanSquarePa2(levelDB float64) float64 {
	return RefPa * RefPa * math.Pow(10, levelDB/10)
}

// SumDB returns the level of sources together that alone have the given levels: the energy sum.
// Without levels it is -Inf.
func SumDB(levelsDB ...float64) float64 {
	var sum float64
	for _, l := range levelsDB {
		sum += math.Pow(10, l/10)
	}
	return 10 * math.Log10(sum)
}

// MeanDB returns the energy mean of levels, absent without levels.
func MeanDB(levelsDB ...float64) rig.Figure {
	if len(levelsDB) == 0 {
		return rig.Absent("no-levels")
	}
	return rig.Fig(SumDB(levelsDB...) - 10*math.Log10(float64(len(levelsDB))))
}

// The margins between which a level is corrected for the background, dB. The formula and the upper
// one are those of ISO 3744:2010, 8.2.3; the lower one is that of ISO 3746:2010, 8.4.1.
const (
	CorrectFromDB  = 3.0
	CorrectUntilDB = 15.0
)

// Correct takes the background out of a level, both in dB: K1 = -10 lg(1 - 10^(-0.1 dL)) is
// subtracted where the margin dL is 3 to 15 dB, nothing above. Below 3 dB the corrected level is
// absent ("background-too-high") and boundDB is what it is at most: the level with the correction
// for 3 dB. Where the level is present boundDB equals it.
func Correct(levelDB, backgroundDB float64) (corrected rig.Figure, boundDB float64) {
	// The margin is a difference of two rounded numbers: 82.31 - 79.31 must count as 3.
	const slack = 1e-9
	margin := levelDB - backgroundDB
	switch {
	case margin > CorrectUntilDB+slack:
		return rig.Fig(levelDB), levelDB
	case margin >= CorrectFromDB-slack:
		l := levelDB - k1(margin)
		return rig.Fig(l), l
	}
	return rig.Absent("background-too-high"), levelDB - k1(CorrectFromDB)
}

func k1(marginDB float64) float64 { return -10 * math.Log10(1-math.Pow(10, -marginDB/10)) }
