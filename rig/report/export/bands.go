package export

import (
	"math"

	"quern/config"
	"quern/detect/sound"
)

// bandsOf returns how many third-octave bands, from the lowest, a recording of a rate holds.
func bandsOf(rateHz float64, bench config.Bench) (int, error) {
	m, err := sound.New(rateHz, bench.Microphone.FullScaleDB, bench.Detect.Sound)
	if err != nil {
		return 0, err
	}
	n := 0
	for b := range sound.NominalHz {
		if m.Measurable(b) {
			n = b + 1
		}
	}
	return n, nil
}

// lateS is how long a band may be waited for, s: the stretches of the lowest last some seconds.
const lateS = 30

// bands gathers the exposures of third-octave bands in cells of equal length. A cell is told once all bands have
// passed it, so that those which come later are in it too.
type bands struct {
	count int
	stepS float64
	told  func(atS float64, band int, meanSquare float64) error

	first int64     // number of the first cell that is held
	cells [][]band  // from there on
	until []float64 // s: up to where each band is known
	last  float64   // the furthest of those
}

type band struct{ exposure, coveredS float64 }

func (b *bands) add(fromS, toS float64, first int, exposure []float64) error {
	if !(toS > fromS) || first >= b.count {
		return nil
	}
	if b.until == nil {
		b.until = make([]float64, b.count)
	}
	exposure = exposure[:min(len(exposure), b.count-first)]
	if b.last == 0 && b.cells == nil || fromS-b.last > lateS { // the beginning, or a long gap
		if err := b.finish(); err != nil {
			return err
		}
		b.first = max(b.first, int64(math.Floor(max(fromS, 0)/b.stepS)))
	}
	for int64(math.Ceil(toS/b.stepS)) > b.first+int64(len(b.cells)) {
		b.cells = append(b.cells, make([]band, b.count))
	}
	for k := max(int64(math.Floor(fromS/b.stepS)), b.first); k < b.first+int64(len(b.cells)); k++ {
		d := min(toS, float64(k+1)*b.stepS) - max(fromS, float64(k)*b.stepS)
		if d <= 0 {
			continue
		}
		for i, e := range exposure {
			c := &b.cells[k-b.first][first+i]
			c.exposure += e * d / (toS - fromS)
			c.coveredS += d
		}
	}
	for i := range exposure {
		b.until[first+i] = max(b.until[first+i], toS)
	}
	b.last = max(b.last, toS)
	return b.tell()
}

// tell tells the cells that are complete.
func (b *bands) tell() error {
	for len(b.cells) > 0 {
		end := float64(b.first+1) * b.stepS
		for _, u := range b.until {
			if u < end && b.last < end+lateS {
				return nil
			}
		}
		if err := b.tellOne(); err != nil {
			return err
		}
	}
	return nil
}

func (b *bands) tellOne() error {
	for i, c := range b.cells[0] {
		if c.coveredS < b.stepS/2 || !(c.exposure > 0) {
			continue
		}
		if err := b.told((float64(b.first)+0.5)*b.stepS, i, c.exposure/c.coveredS); err != nil {
			return err
		}
	}
	b.first++
	b.cells = append(b.cells[:0:0], b.cells[1:]...)
	return nil
}

// finish tells what is left.
func (b *bands) finish() error {
	for len(b.cells) > 0 {
		if err := b.tellOne(); err != nil {
			return err
		}
	}
	return nil
}
