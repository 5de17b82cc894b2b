package report

import (
	"fmt"
	"math"
	"strconv"
)

// axis maps a range of values to a range of places.
type axis struct {
	from, to float64 // values
	p0, p1   float64 // places, pt
}

func (a axis) at(v float64) float64 { return a.p0 + (v-a.from)/(a.to-a.from)*(a.p1-a.p0) }

func (a axis) holds(v float64) bool { return v >= a.from && v <= a.to }

// clip returns the nearest value on the axis.
func (a axis) clip(v float64) float64 { return min(max(v, a.from), a.to) }

// tick is a place on an axis and what stands there.
type tick struct {
	at   float64
	text string
}

// step125 returns the smallest of 1, 2, 5, 10, 20, ... (times any power of ten) that is at least v.
func step125(v float64) float64 {
	if !(v > 0) {
		return 1
	}
	e := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if m*e >= v*(1-1e-9) {
			return m * e
		}
	}
	return 10 * e
}

// ticksOf returns the multiples of a step on an axis. At most a hundred: no range may hang it.
func ticksOf(a axis, step float64, print func(float64) string) []tick {
	var ts []tick
	first := math.Ceil(a.from/step - 1e-9)
	for i := range 100 {
		v := (first + float64(i)) * step
		if v > a.to+1e-9*step {
			break
		}
		ts = append(ts, tick{v, print(v)})
	}
	return ts
}

// decimalsOf returns the decimals that tell multiples of a step apart.
func decimalsOf(step float64) int { return int(max(0, -math.Floor(math.Log10(step)+1e-9))) }

// levelAxis returns an axis of levels in whole tens of dB. What fixes the proportions of level plots
// is IEC 60263 (formerly 263; from memory): a decade of frequency as long as 10, 25 or 50 dB. It says
// nothing of time, but its purpose holds: a ripple must not be blown up to fill a panel. So the
// axis never spans less than 50 dB, nor more than 100, below which is the meter's noise.
func levelAxis(lo, hi float64) axis {
	top := 10 * math.Ceil((hi+1)/10)
	bottom := 10 * math.Floor(lo/10)
	return axis{from: min(max(bottom, top-100), top-50), to: top}
}

// amountAxis returns an axis from 0 (or below, if values are) to a little above hi, and its step.
func amountAxis(lo, hi float64) (axis, float64) {
	lo, hi = min(lo, 0), max(hi, 0)
	if !(hi > lo) {
		hi = lo + 1
	}
	step := step125((hi - lo) / 5)
	a := axis{from: step * math.Floor(lo/step), to: step * math.Ceil(hi/step)}
	if a.to-hi < 0.03*(a.to-a.from) {
		a.to += step / 2
	}
	return a, step
}

// timeTicks returns the ticks of a time axis, at most n, and what its numbers are: "s", "m:ss",
// "m:ss.s" or "h:mm".
func timeTicks(a axis, n int) ([]tick, string) {
	span := a.to - a.from
	step := 0.0
	for _, s := range []float64{10, 15, 20, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400} {
		if step = s; span/s <= float64(n) {
			break
		}
	}
	switch fine := step125(span / float64(n)); {
	case fine < 10:
		step = fine
	case span/step > float64(n):
		step = 3600 * step125(span/3600/float64(n))
	}
	unit, print := "m:ss", func(s float64) string { return fmt.Sprintf("%.0f:%02.0f", math.Floor(s/60), s-60*math.Floor(s/60)) }
	switch {
	case a.to <= 120:
		d := decimalsOf(step)
		unit, print = "s", func(s float64) string { return strconv.FormatFloat(s, 'f', d, 64) }
	case step >= 60 && a.to > 2*3600:
		unit, print = "h:mm", func(s float64) string {
			m := math.Round(s / 60)
			return fmt.Sprintf("%.0f:%02.0f", math.Floor(m/60), m-60*math.Floor(m/60))
		}
	case step < 1:
		unit, print = "m:ss.s", minutes
	}
	return ticksOf(a, step, print), unit
}
