package run

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// moved tells what rose or fell at an instant: the A-level, with its floor, or where something louder came or went meanwhile,
// the floor alone, which is what a start or a stop is told by.
func (l *Listener) moved(fl []octaveDB, atS float64, way string) string {
	was, is := l.medianDB(atS-1, atS-0.1), l.medianDB(atS+0.5, atS+1.5)
	sign := 1.0
	if way == "fell" {
		sign = -1
	}
	if sign*(is-was) >= 1 {
		return fmt.Sprintf("the sound %s from %.0f to %.0f dB(A), and its floor stayed there", way, was, is)
	}
	text := "the floor of the sound " + way
	if by := sign * l.floorBy(fl, atS); by > 0 {
		text += fmt.Sprintf(" by %.0f dB in the middle octave of the motor's", by)
	}
	if was == was && is == is {
		text += fmt.Sprintf(" and stayed there; what else was heard hides it in the level, %.0f dB(A) before and %.0f after", was, is)
	}
	return text
}

// floorBy is by how much the floors of the octaves in which the motor stands out moved at an instant, dB, in the median of
// them; NaN: not known.
func (l *Listener) floorBy(fl []octaveDB, atS float64) float64 {
	at := int(atS/hopS) - l.floors.first
	ks := func(fromS, toS float64) (out []int) {
		for k := max(0, at+int(fromS/hopS)); k < min(len(fl), at+int(toS/hopS)); k++ {
			out = append(out, k)
		}
		return out
	}
	before, after := ks(-1, -floorHops*hopS), ks(0.5, 1.5)
	var by []float64
	for b, use := range l.spectra.use {
		if d := floorQuantile(fl, after, b, 0.5) - floorQuantile(fl, before, b, 0.5); use && d == d {
			by = append(by, d)
		}
	}
	if len(by) == 0 {
		return math.NaN()
	}
	slices.Sort(by)
	return by[len(by)/2]
}

// medianDB is the median A-level of the frames between two instants; NaN: there are none.
func (l *Listener) medianDB(fromS, toS float64) float64 {
	var las []float64
	i := sort.Search(len(l.frames), func(i int) bool { return l.frames[i].EndS > fromS })
	for ; i < len(l.frames) && l.frames[i].StartS < toS; i++ {
		if f := &l.frames[i]; !f.Missing {
			las = append(las, levelDB(f.EA/(f.EndS-f.StartS)))
		}
	}
	if len(las) == 0 {
		return math.NaN()
	}
	slices.Sort(las)
	return las[len(las)/2]
}
