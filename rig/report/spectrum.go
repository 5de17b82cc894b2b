package report

import (
	"math"
	"strconv"
)

// Spectrum is a plot of third-octave levels: what runs came to, and the background they were measured in.
type Spectrum struct {
	Title      string
	BandsHz    []float64   // nominal frequencies, rising
	RunsDB     [][]float64 // unweighted equivalent level of each band, dB re 20 µPa, by run; NaN: not measured
	Background []float64   // of the room before the first start, the same way; nil: not measured
	Why        string      // why there is no background
}

// The proportions of a plot of levels over frequency are those of IEC 60263 (from memory): a decade is as
// long as 50 dB.
const (
	bandWide   = 18.0 // pt; ten bands are a decade
	bandLeast  = 12   // bands that the axis holds at least
	dbPerBands = 50.0 / 10
)

// possible tells whether a level can be one: outside this range it is no measurement.
func possible(levelDB float64) bool { return levelDB >= -100 && levelDB <= 250 }

// mean returns the energy mean of the runs in band i with the least and the greatest; false: no run has it.
func (s Spectrum) mean(i int) (mean, lo, hi float64, ok bool) {
	lo, hi = math.Inf(1), math.Inf(-1)
	sum, n := 0.0, 0
	for _, r := range s.RunsDB {
		if i < len(r) && possible(r[i]) {
			sum += math.Pow(10, r[i]/10)
			lo, hi, n = min(lo, r[i]), max(hi, r[i]), n+1
		}
	}
	return 10 * math.Log10(sum/float64(n)), lo, hi, n > 0
}

// levels returns the range of all that is shown.
func (s Spectrum) levels() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for i := range s.BandsHz {
		if _, a, b, ok := s.mean(i); ok {
			lo, hi = min(lo, a), max(hi, b)
		}
		if i < len(s.Background) && possible(s.Background[i]) {
			lo, hi = min(lo, s.Background[i]), max(hi, s.Background[i])
		}
	}
	if !(lo <= hi) {
		return 0, 50
	}
	return lo, hi
}

func (s Spectrum) words() string {
	return s.Title + ": third-octave spectrum of the runs and of the background"
}

func (s Spectrum) plan(p *pen) func() {
	bands := max(len(s.BandsHz), bandLeast)
	lo, hi := s.levels()
	y := levelAxis(lo, hi)
	x0 := leftMargin
	x1 := x0 + bandWide*float64(bands)
	p.wide = max(x1+20, 480)
	high := (y.to - y.from) / dbPerBands * bandWide
	low := 46.0
	p.height = low + high + 78
	y.p0, y.p1 = low, low+high
	return func() {
		p.fill(paper, corners(box{x1: p.wide, y1: p.height})...)
		top := p.height - 22
		p.write(letters{12, true, ink}, leftMargin, top, start, p.fit(letters{12, true, ink}, s.Title, p.wide-leftMargin-10))
		s.legend(p, top-20)
		small := letters{9, false, ink}
		for _, k := range ticksOf(y, 10, func(v float64) string { return fixed(v, 0) }) {
			p.line(stroke{0.5, faint, nil}, point{x0, y.at(k.at)}, point{x1, y.at(k.at)})
			p.write(small, x0-6, y.at(k.at)-3, end, k.text)
		}
		for i, hz := range s.BandsHz {
			x := x0 + bandWide*(float64(i)+0.5)
			tick := 3.0
			if i%3 == 0 {
				tick = 6
				p.write(small, x, low-17, middle, nominal(hz))
			}
			p.line(stroke{0.7, ink, nil}, point{x, low}, point{x, low - tick})
		}
		s.draw(p, x0, y)
		p.outline(stroke{0.8, ink, nil}, box{x0: x0, y0: low, x1: x1, y1: low + high})
		p.write(letters{9.5, true, ink}, (x0+x1)/2, 8, middle, "third-octave band, nominal frequency, Hz (k: 1000)")
		p.write(letters{9.5, true, ink}, 8, low+high+8, start, "unweighted level, dB re 20 µPa")
	}
}

// draw draws the runs as steps over a shade, their range, and the background as a dashed step.
func (s Spectrum) draw(p *pen, x0 float64, y axis) {
	var outline []point
	flush := func() {
		if len(outline) > 1 {
			p.line(stroke{1.7, blue, nil}, outline...)
		}
		outline = nil
	}
	for i := range s.BandsHz {
		m, lo, hi, ok := s.mean(i)
		if !ok {
			flush()
			continue
		}
		a, b := x0+bandWide*float64(i), x0+bandWide*float64(i+1)
		at := y.at(y.clip(m))
		p.fill(sky, point{a + 3, y.p0}, point{a + 3, at}, point{b - 3, at}, point{b - 3, y.p0})
		outline = append(outline, point{a, at}, point{b, at})
		if hi-lo > 0.05 {
			c := (a + b) / 2
			p.line(stroke{1, ink, nil}, point{c, y.at(y.clip(lo))}, point{c, y.at(y.clip(hi))})
			p.line(stroke{1, ink, nil}, point{c - 3, y.at(y.clip(lo))}, point{c + 3, y.at(y.clip(lo))})
			p.line(stroke{1, ink, nil}, point{c - 3, y.at(y.clip(hi))}, point{c + 3, y.at(y.clip(hi))})
		}
	}
	flush()
	var step []point
	for i, v := range s.Background {
		if i >= len(s.BandsHz) || !possible(v) {
			p.line(stroke{1.4, ink, []float64{4, 2}}, step...)
			step = nil
			continue
		}
		at := y.at(y.clip(v))
		step = append(step, point{x0 + bandWide*float64(i), at}, point{x0 + bandWide*float64(i+1), at})
	}
	p.line(stroke{1.4, ink, []float64{4, 2}}, step...)
}

func (s Spectrum) legend(p *pen, at float64) {
	l := letters{9, false, ink}
	x := leftMargin
	p.fill(sky, corners(box{x0: x, y0: at - 2, x1: x + 16, y1: at + 7})...)
	p.line(stroke{1.7, blue, nil}, point{x - 1, at + 7}, point{x + 17, at + 7})
	word := "motor on"
	if n := len(s.RunsDB); n > 1 {
		word = "motor on, energy mean of " + strconv.Itoa(n) + " runs"
	}
	p.write(l, x+22, at, start, word)
	x += 22 + slack*p.width(l, word) + 16
	if len(s.RunsDB) > 1 {
		p.line(stroke{1, ink, nil}, point{x + 4, at - 2}, point{x + 4, at + 8})
		p.line(stroke{1, ink, nil}, point{x + 1, at - 2}, point{x + 7, at - 2})
		p.line(stroke{1, ink, nil}, point{x + 1, at + 8}, point{x + 7, at + 8})
		p.write(l, x+13, at, start, "least to greatest")
		x += 13 + slack*p.width(l, "least to greatest") + 16
	}
	if s.Background != nil {
		p.line(stroke{1.4, ink, []float64{4, 2}}, point{x, at + 3}, point{x + 22, at + 3})
		p.write(l, x+27, at, start, "background")
	} else if s.Why != "" {
		p.write(l, x, at, start, p.fit(l, "no background: "+s.Why, p.wide-x-8))
	}
}

// nominal prints a nominal frequency: 31.5, 100, 1k, 12.5k.
func nominal(hz float64) string {
	if hz >= 1000 {
		return strconv.FormatFloat(hz/1000, 'f', -1, 64) + "k"
	}
	return strconv.FormatFloat(hz, 'f', -1, 64)
}
