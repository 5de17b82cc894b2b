package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"quern/rig"
	"quern/rig/score"
)

// RangeBar draws the places a unit may have: a bar over the range, a thinner one over the simulated places,
// and its own place as a tick.
func RangeBar(l score.Standing, n int) template.HTML {
	const w, h = 120.0, 18.0
	step := w / float64(max(n, 1))
	at := func(place int) float64 { return float64(place-1) * step }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="places" width="%g" height="%g" viewBox="0 0 %g %g" aria-hidden="true">`, w, h, w, h)
	for i := range n {
		fmt.Fprintf(&b, `<path class="slot" d="M%.1f %gh%.1f"/>`, float64(i)*step+1, h/2, step-2)
	}
	if l.Stability.Low > 0 {
		fmt.Fprintf(&b, `<rect class="simulated" x="%.1f" y="%g" width="%.1f" height="4"/>`, at(l.Stability.Low)+1, h/2-2, at(l.Stability.High+1)-at(l.Stability.Low)-2)
	}
	fmt.Fprintf(&b, `<rect class="range" x="%.1f" y="2" width="%.1f" height="%g"/>`, at(l.Range.Best)+1, at(l.Range.Worst+1)-at(l.Range.Best)-2, h-4)
	if l.Place > 0 {
		fmt.Fprintf(&b, `<path class="place" d="M%.1f 0v%g"/>`, at(l.Place)+step/2, h)
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// PointsBar draws points of 0 to 10 with their interval.
func PointsBar(v float64, half rig.Figure) template.HTML {
	const w, h = 120.0, 18.0
	x := func(p float64) float64 { return math.Max(0, math.Min(10, p)) / 10 * w }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="points" width="%g" height="%g" viewBox="0 0 %g %g" aria-hidden="true"><path class="slot" d="M0 %gh%g"/><rect class="bar" x="0" y="5" width="%.1f" height="%g"/>`,
		w, h, w, h, h-2, w, x(v), h-9)
	if half.OK {
		fmt.Fprintf(&b, `<path class="whisker" d="M%.1f %gH%.1fM%.1f 2v%gM%.1f 2v%g"/>`, x(v-half.V), h/2, x(v+half.V), x(v-half.V), h-4, x(v+half.V), h-4)
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}
