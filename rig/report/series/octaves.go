package series

import (
	"math"
	"sync"

	"quern/detect/sound"
)

// peakPa returns the peak of a sine of a level, Pa.
func peakPa(levelDB float64) float64 {
	return math.Sqrt2 * sound.RefPa * math.Pow(10, levelDB/20)
}

// levelDB returns the level of a mean square, Pa²; NaN for none, and for silence, which has no level.
func levelDB(meanSquare float32) float32 {
	if !(meanSquare > 0) {
		return float32(math.NaN())
	}
	return float32(sound.LevelDB(float64(meanSquare)))
}

// Octaves is the third-octave spectrum over time: DB[k][b] is the level of band b in column k.
type Octaves struct {
	BandsHz      []float64
	FromS, StepS float64
	DB           [][]float32 // dB re 20 µPa; NaN: a gap, or not derived yet
	Progress     float64
}

// A cell of the spectrogram: finer ones would tell nothing of the low bands. A long recording has longer
// ones.
const (
	cellS     = 0.125
	mostCells = 1 << 15
)

// octaves gathers the exposures of the bands in cells of equal length.
type octaves struct {
	job   *Job
	bands int // how many can be measured at the recording's rate

	mu       sync.RWMutex // guards what follows until the job is over
	stepS    float64
	exposure []float32 // Pa² s, by cell and band
	covered  []float32 // s
}

func newOctaves() *octaves { return &octaves{job: NewJob(), stepS: cellS} }

func (o *octaves) cells() int {
	if o.bands == 0 {
		return 0
	}
	return len(o.covered) / o.bands
}

// add spreads a frame of a group of bands over the cells that it touches.
func (o *octaves) add(fromS, toS float64, first int, exposure []float64) {
	if !(toS > fromS) || fromS < 0 || first >= o.bands {
		return
	}
	exposure = exposure[:min(len(exposure), o.bands-first)]
	for toS > o.stepS*mostCells {
		o.double()
	}
	for n := int(math.Ceil(toS / o.stepS)); o.cells() < n; {
		o.exposure = append(o.exposure, make([]float32, o.bands)...)
		o.covered = append(o.covered, make([]float32, o.bands)...)
	}
	for c := int(fromS / o.stepS); c < o.cells(); c++ {
		d := min(toS, float64(c+1)*o.stepS) - max(fromS, float64(c)*o.stepS)
		if d <= 0 {
			break
		}
		for b, e := range exposure {
			o.exposure[c*o.bands+first+b] += float32(e * d / (toS - fromS))
			o.covered[c*o.bands+first+b] += float32(d)
		}
	}
}

// double joins the cells two by two.
func (o *octaves) double() {
	n := (o.cells() + 1) / 2
	for c := range n {
		for b := range o.bands {
			for _, v := range [][]float32{o.exposure, o.covered} {
				x := v[2*c*o.bands+b]
				if k := (2*c+1)*o.bands + b; k < len(v) {
					x += v[k]
				}
				v[c*o.bands+b] = x
			}
		}
	}
	o.exposure, o.covered, o.stepS = o.exposure[:n*o.bands], o.covered[:n*o.bands], 2*o.stepS
}

// view returns at most points columns of whole cells that cover the time from fromS to toS.
func (o *octaves) view(fromS, toS float64, points int) Octaves {
	out := Octaves{BandsHz: append([]float64{}, sound.NominalHz[:o.bands]...), DB: [][]float32{}, Progress: o.job.Reached()}
	o.mu.RLock()
	defer o.mu.RUnlock()
	first, last := int(math.Floor(fromS/o.stepS)), int(math.Ceil(toS/o.stepS))
	first, last = max(first, 0), max(last, 0)
	per := max(1, (last-first+points-1)/points)
	if per > 1 {
		first -= first % per // columns stay where they are while one moves along
		for (last-first+per-1)/per > points {
			per++
			first -= first % per
		}
	}
	out.FromS, out.StepS = float64(first)*o.stepS, float64(per)*o.stepS
	for c := first; c < last; c += per {
		column := make([]float32, o.bands)
		for b := range column {
			var e, s float64
			for i := c; i < min(c+per, o.cells()); i++ {
				e += float64(o.exposure[i*o.bands+b])
				s += float64(o.covered[i*o.bands+b])
			}
			column[b] = float32(math.NaN())
			if s >= 0.5*out.StepS {
				column[b] = levelDB(float32(e / s))
			}
		}
		out.DB = append(out.DB, column)
	}
	return out
}
