package report

import (
	"fmt"
	"strings"

	"quern/rig"
)

// headsHeight is the height of what heads writes, and of the room below it.
func (p *pen) headsHeight(pic Picture, absent []string) float64 {
	return 26 + 17*float64(len(p.wrap(figureLetters, summary(pic), p.headsWide()))) + 14*float64(len(absent))
}

var figureLetters = letters{10, false, ink}

func (p *pen) headsWide() float64 { return p.wide - leftMargin - 20 }

// wrap sets parts in as many lines as they need, with points between them.
func (p *pen) wrap(l letters, parts []string, wide float64) (lines []string) {
	const between = " · "
	for _, s := range parts {
		if n := len(lines) - 1; n >= 0 && p.width(l, Clean(lines[n]+between+s)) <= wide {
			lines[n] += between + s
		} else {
			lines = append(lines, s)
		}
	}
	return lines
}

// heads writes the title, a line of figures, and the sentences on what is absent.
func (p *pen) heads(pic Picture, absent []string) {
	title, note := letters{15, true, ink}, letters{9.5, false, soft}
	full := p.headsWide()
	s := pic.Title
	if strings.TrimSpace(s) == "" {
		s = pic.Result.Session
	}
	if strings.TrimSpace(s) == "" {
		s = "untitled"
	}
	y := p.height - 24
	p.write(title, leftMargin, y, start, p.fit(title, s, full))
	for _, line := range p.wrap(figureLetters, summary(pic), full) {
		y -= 17
		p.write(figureLetters, leftMargin, y, start, p.fit(figureLetters, line, full))
	}
	for _, a := range absent {
		y -= 14
		p.write(note, leftMargin, y, start, p.fit(note, a, full))
	}
}

// summary tells in a few words each what is shown.
func summary(pic Picture) []string {
	res := pic.Result
	var parts []string
	if res.Unit != "" {
		parts = append(parts, "unit: "+res.Unit)
	}
	if res.Procedure != "" {
		parts = append(parts, "procedure: "+res.Procedure)
	}
	add := func(name string, f rig.Figure, print func(float64) string, unit string) {
		if v, ok := f.Value(); ok {
			parts = append(parts, name+" "+print(v)+unit)
		}
	}
	switch n := len(res.Runs); {
	case pic.Run >= 0 || n == 1:
		r := res.Runs[max(pic.Run, 0)]
		if n > 1 {
			parts = append(parts, fmt.Sprintf("run %d of %d", max(pic.Run, 0)+1, n))
		}
		add("run time", r.RunTimeS, minutes, "")
		add("LAeq", r.Sound.LAeqDB, decibels, " dB")
		add("LAFmax", r.Sound.LAFmaxDB, decibels, " dB")
		add("LCpeak", r.Sound.LCpeakDB, decibels, " dB")
		add("mean", r.Motor.MeanA, amperes, " A")
		add("max", r.Motor.MaxA, amperes, " A")
	case n == 0:
		parts = append(parts, "no run was found")
	default:
		parts = append(parts, fmt.Sprintf("%d runs", n))
	}
	if pic.LimitS > 0 {
		add("limit", rig.Fig(pic.LimitS), minutes, "")
	}
	switch n := len(res.Warnings); {
	case n == 1:
		parts = append(parts, "1 warning")
	case n > 1:
		parts = append(parts, fmt.Sprintf("%d warnings", n))
	}
	return parts
}

// patterns are what the legend tells.
var patterns = []struct {
	state rig.State
	word  string
}{
	{rig.Off, "off"}, {rig.Starting, "starting"}, {rig.NoLoad, "no-load"}, {rig.Loaded, "loaded: thicker for more current"},
	{rig.Overloaded, "overloaded"}, {rig.Stalled, "stalled"}, {rig.Tripped, "tripped (presumed)"}, {rig.Unknown, "unknown"},
}

const (
	patternWide = 30.0 // pt
	legendStep  = 18.0 // pt, from line to line
)

var legendLetters = letters{9, false, ink}

// legendAt returns where each pattern of the legend stands, from the left of the page and lines below the
// first, and how many lines there are.
func (p *pen) legendAt() (at []point, lines int) {
	x, line := leftMargin, 0
	for i, s := range patterns {
		w := patternWide + 6 + slack*p.width(legendLetters, s.word)
		if i > 0 && x+w > p.wide-10 {
			x, line = leftMargin, line+1
		}
		at = append(at, point{x, float64(line)})
		x += w + 20
	}
	return at, line + 1
}

// legendHeight is what the lines of the legend below its first take.
func (p *pen) legendHeight() float64 {
	_, lines := p.legendAt()
	return legendStep * float64(lines-1)
}

// legend tells the patterns of the ribbon; its first line is at y.
func (p *pen) legend(y float64) {
	at, _ := p.legendAt()
	for i, s := range patterns {
		x, y := at[i].x, y-legendStep*at[i].y
		var rising func(float64) float64
		if s.state == rig.Loaded {
			rising = func(at float64) float64 { return (at - x) / patternWide }
		}
		p.band(s.state, box{x0: x, y0: y - 4, x1: x + patternWide, y1: y + 11}, rising)
		if s.state == rig.Tripped { // a gap shows only between its neighbours
			p.line(stroke{0.8, soft, nil}, point{x - 8, y + 3.5}, point{x - 2, y + 3.5})
			p.line(stroke{0.8, soft, nil}, point{x + 20, y + 3.5}, point{x + patternWide, y + 3.5})
		}
		p.write(legendLetters, x+patternWide+6, y, start, s.word)
	}
}
