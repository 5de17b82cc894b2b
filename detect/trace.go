package detect

import (
	"math"

	"quern/detect/sound"
	"quern/rig"
)

// Trace receives series on their way past, for plots. Any of its functions may be nil.
type Trace struct {
	Level   func(atS, laeqDB, lafmaxDB float64) // LAeq and LAFmax of every 100 ms; NaN where the input was dead
	Current func(atS, rmsA float64)             // every half cycle or reading
	Mass    func(atS, massG float64)
	Extra   func(c rig.Channel, atS, value float64)
	// Bands is sound exposures of a stretch of time, Pa² s, of the third-octave bands from sound.NominalHz[first] on.
	// Those of low bands last longer and come later. Nothing is told of a gap.
	Bands func(fromS, toS float64, first int, exposure []float64)
}

// levelFrames is the number of 10 ms frames in a value of the level series.
const levelFrames = 10

// levels gathers frames into the 100 ms series.
type levels struct {
	n          int
	ea, s, top float64
	dead       bool
}

func (l *levels) add(f *sound.Frame, to func(atS, laeqDB, lafmaxDB float64)) {
	if to == nil {
		return
	}
	l.n++
	l.ea += f.EA
	l.s += f.EndS - f.StartS
	l.top = max(l.top, f.FMax)
	l.dead = l.dead || f.Still
	if l.n < levelFrames {
		return
	}
	la, lf := sound.LevelDB(l.ea/l.s), sound.LevelDB(l.top)
	if l.dead {
		la, lf = math.NaN(), math.NaN()
	}
	to(f.EndS-l.s/2, la, lf)
	*l = levels{}
}
