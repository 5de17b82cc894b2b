package report

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"

	"quern/rig"
)

// Picture is what Draw draws.
type Picture struct {
	Title    string // heads the picture; "": the session's name
	Result   rig.Result
	Run      int     // index of the run to show; -1: the whole session
	Level    Series  // A-weighted equivalent level of every 100 ms, dB re 20 µPa
	LevelMax Series  // greatest level A, F within every 100 ms, dB re 20 µPa
	Current  Series  // half-cycle RMS, A
	Mass     Series  // indication of the scale, g
	Extra    []Extra // further channels, a panel each
	LimitS   float64 // longest run that the procedure allows, on the clock of RunTimeS; 0: none
	WidthPt  float64 // of the picture, 480 to 1200, and about 0.72 times as high; 0: 1200
	LevelIs  string  // what Level is, if it is not LAeq of every 100 ms
}

func (pic Picture) plan(p *pen) func() {
	if pic.WidthPt > 0 {
		p.wide = pic.WidthPt
	}
	l := p.layout(pic)
	p.height = l.height
	return func() { p.page(l) }
}

func (pic Picture) words() string {
	s := "Level, current, mass and the motor's states over time"
	if pic.Title != "" {
		s = pic.Title + ": " + s
	}
	return s
}

// Extra is a further channel to be drawn.
type Extra struct {
	Name, Unit string
	Series
}

// The picture is 1600 by at most 900 pixels, at 96 an inch.
const (
	pageWidth, pageHeight = 1200.0, 675.0 // pt
	pixelsPerInch         = 96

	leftMargin, rightMargin = 62.0, 100.0 // pt; the right one holds what begins at the last instant
	ribbonHeight            = 46.0        // pt
	labelHeight             = 12.0        // pt
	labelRows               = 9
	timesY, ribbonY         = 38.0, 82.0 // pt
	panelHead, panelGap     = 19.0, 6.0  // pt
	panelHighest            = 260.0      // pt
	panelLeast              = 72.0       // pt; a page grows rather than have its numbers run together
	highestDB               = 4.0        // pt for 1 dB: so 10 dB are never longer than 14 mm
)

// Draw draws a session, or one run of it, over one time axis: panels of level, current and mass,
// and below them the ribbon, whose thickness and pattern tell what the motor did, with the events in
// words. A channel without values has no panel, and a line says why. The format is "svg" (text as
// text) or "png" (1600 pixels wide, at most 900 high).
// Nothing is written if an error is found before the picture is whole.
func Draw(w io.Writer, format string, p Picture) error {
	if p.Run < -1 || p.Run >= len(p.Result.Runs) {
		return fmt.Errorf("draw: found run %d, expected -1 (the whole session) or an index below the number of runs, %d", p.Run, len(p.Result.Runs))
	}
	if format != "svg" && format != "png" {
		return fmt.Errorf("draw: found format %q, expected svg or png", format)
	}
	return Render(w, format, p)
}

// layout is where everything stands.
type layout struct {
	pic    Picture
	time   axis
	ticks  []tick
	unit   string // of the times
	absent []string
	panels []panel
	frames []box // of the panels
	ribbon box
	labels []label
	height float64
}

// layout lays a picture out from the bottom: legend, times, ribbon, labels, panels, heads. A page is
// lower than pageHeight if its panels would be stretched.
func (p *pen) layout(pic Picture) layout {
	l := layout{pic: pic, time: timeAxis(pic)}
	l.time.p0, l.time.p1 = leftMargin, p.wide-rightMargin
	for _, s := range []*Series{&l.pic.Level, &l.pic.LevelMax, &l.pic.Current, &l.pic.Mass} {
		*s = s.within(l.time)
	}
	l.pic.Extra = slices.Clone(l.pic.Extra)
	for i := range l.pic.Extra {
		l.pic.Extra[i].Series = l.pic.Extra[i].Series.within(l.time)
	}
	l.panels, l.absent = panelsOf(l.pic)
	l.ticks, l.unit = timeTicks(l.time, int((l.time.p1-l.time.p0)/74))
	low := ribbonY + p.legendHeight()
	l.ribbon = box{x0: l.time.p0, y0: low, x1: l.time.p1, y1: low + ribbonHeight}
	l.labels = p.labelsOf(l.pic, l.time)
	y := l.ribbon.y1 + 12
	for _, a := range l.labels {
		y = max(y, labelY(l.ribbon, a)+labelHeight+8)
	}
	shares := 0.0
	for _, f := range l.panels {
		shares += f.share
	}
	high := pageHeight
	if pic.WidthPt > 0 {
		high = min(high, 0.72*pic.WidthPt)
	}
	room := high - y - p.headsHeight(l.pic, l.absent) - float64(len(l.panels))*(panelHead+panelGap)
	for i := len(l.panels) - 1; i >= 0; i-- {
		f := l.panels[i]
		h := min(max(room*f.share/shares, panelLeast), f.highest)
		l.panels[i].ticks = spaced(f.ticks, h/(f.axis.to-f.axis.from))
		l.frames = append([]box{{x0: l.time.p0, y0: y, x1: l.time.p1, y1: y + h}}, l.frames...)
		y += h + panelHead + panelGap
	}
	l.height = math.Ceil(y + p.headsHeight(l.pic, l.absent))
	return l
}

// spaced leaves out every second tick until the numbers do not run together; a unit of the axis is per pt long.
func spaced(ticks []tick, per float64) []tick {
	const least = 11.0 // pt
	for len(ticks) > 2 && (ticks[1].at-ticks[0].at)*per < least {
		var half []tick
		for i := len(ticks) % 2; i < len(ticks); i += 2 {
			half = append(half, ticks[i])
		}
		ticks = half
	}
	return ticks
}

// page draws a picture that is laid out.
func (p *pen) page(l layout) {
	p.fill(paper, corners(box{x1: p.wide, y1: l.height})...)
	p.heads(l.pic, l.absent)
	p.legend(14 + p.legendHeight())
	p.times(l.ticks, l.unit, l.time, timesY+p.legendHeight())
	for i, f := range l.panels {
		p.panel(f, l.frames[i], l.time, l.ticks)
	}
	p.ribbon(l.pic, l.ribbon, l.time)
	p.leaders(l.labels, l.ribbon)
	p.limits(l.labels, l.ribbon, l.frames)
}

// timeAxis returns the range of time that is shown.
func timeAxis(pic Picture) axis {
	if pic.Run >= 0 {
		if a, b, ok := extent(pic.Result.Runs[pic.Run]); ok {
			pad := max(1, 0.04*(b-a))
			return axis{from: max(min(a, 0), a-pad), to: b + pad}
		}
	}
	from, to := 0.0, 0.0
	for _, s := range []Series{pic.Level, pic.LevelMax, pic.Current, pic.Mass} {
		for _, at := range s.AtS {
			if finite(at) {
				from, to = min(from, at), max(to, at)
			}
		}
	}
	for _, r := range pic.Result.Runs {
		if a, b, ok := extent(r); ok {
			from, to = min(from, a), max(to, b)
		}
	}
	if !(to > from) || math.IsInf(to-from, 0) {
		from, to = 0, 1
	}
	return axis{from: from, to: to}
}

// panelsOf returns the panels that have something to show, and a sentence for each that has not.
func panelsOf(pic Picture) (panels []panel, absent []string) {
	ws := pic.Result.Warnings
	miss := func(what, why, otherwise string) {
		if why == "" {
			why = otherwise
		}
		absent = append(absent, "Not drawn: "+what+" ("+why+")")
	}
	possible := func(s Series) Series { // a level outside this range is no measurement
		out := Series{AtS: s.AtS}
		for _, v := range s.V {
			if !(v >= -100 && v <= 250) {
				v = math.NaN()
			}
			out.V = append(out.V, v)
		}
		return out
	}
	eq, top := possible(pic.Level), possible(pic.LevelMax)
	lo, hi, ok := Series{V: append(append([]float64{}, eq.V...), top.V...)}.bounds()
	if ok {
		f := panel{title: "A-weighted level, dB re 20 µPa", share: 5, axis: levelAxis(lo, hi)}
		f.highest = highestDB * (f.axis.to - f.axis.from)
		f.ticks = ticksOf(f.axis, 10, func(v float64) string { return fixed(v, 0) })
		for _, c := range []curve{{top, "LAFmax", stroke{0.8, sky, nil}}, {eq, cmp.Or(pic.LevelIs, "LAeq, 100 ms"), stroke{1.3, blue, nil}}} {
			if _, _, ok := c.bounds(); ok {
				f.curves = append(f.curves, c)
			}
		}
		panels = append(panels, f)
	} else {
		miss("sound level", reason(ws, "no-microphone", "microphone-silent"), "nothing was measured in this stretch of time")
	}
	if lo, hi, ok := pic.Current.bounds(); ok {
		f := amounts("current, A", pic.Current, "RMS", lo, max(hi, 1)) // noise must not fill the panel
		f.share = 4
		if pic.Run >= 0 {
			if v, ok := pic.Result.Runs[pic.Run].Motor.IdleA.Value(); ok {
				f.marks = []mark{{v, "no-load " + amperes(v) + " A"}}
			}
		}
		panels = append(panels, f)
	} else {
		miss("current", reason(ws, "clamp-saw-nothing", "clamp-saw-little", "no-clamp", "no-current", "scale-only"), "nothing was measured in this stretch of time")
	}
	if lo, hi, ok := pic.Mass.bounds(); ok {
		f := amounts("mass, g", pic.Mass, "indication of the scale", lo, max(hi, 10))
		f.share = 3
		panels = append(panels, f)
	} else {
		miss("mass", reason(ws, "no-scale"), "no reading of a scale in this stretch of time")
	}
	for _, x := range pic.Extra {
		if lo, hi, ok := x.bounds(); ok {
			f := amounts(x.Name+", "+x.Unit, x.Series, "reading", lo, max(hi, lo+1))
			f.share = 2
			panels = append(panels, f)
		} else {
			miss(x.Name, "", "no reading in this stretch of time")
		}
	}
	return panels, absent
}

func amounts(title string, s Series, name string, lo, hi float64) panel {
	a, step := amountAxis(lo, hi)
	d := decimalsOf(step)
	return panel{title: title, axis: a, highest: panelHighest, curves: []curve{{s, name, stroke{1.1, ink, nil}}},
		ticks: ticksOf(a, step, func(v float64) string {
			if s := fixed(v, d); len(s) <= 8 {
				return s
			}
			return fmt.Sprintf("%.1e", v)
		})}
}

// times writes the time axis.
func (p *pen) times(ts []tick, unit string, t axis, y float64) {
	l := letters{9.5, false, ink}
	for _, k := range ts {
		p.line(stroke{0.7, ink, nil}, point{t.at(k.at), y + 12}, point{t.at(k.at), y + 16})
		p.write(l, t.at(k.at), y, middle, k.text)
	}
	p.line(stroke{0.7, ink, nil}, point{t.p0, y + 16}, point{t.p1, y + 16})
	p.write(letters{9.5, true, ink}, t.p1+26, y, start, "time, "+unit)
}
