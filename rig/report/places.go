package report

import (
	"fmt"

	"quern/rig"
)

// Places is a plot of a ranking and of how sure it is: points with their interval, and the places that each
// unit may have.
type Places struct {
	Title string
	Lines []PlacesLine // in the order of places
}

// PlacesLine is one unit of a ranking.
type PlacesLine struct {
	Place        int
	Name         string
	Points, Half rig.Figure // 0 to 10
	Best, Worst  int        // range of places for all units together; 0: not told
	Low, High    int        // places in 95 % of simulated rankings; 0: not simulated
}

func (s Places) words() string {
	return s.Title + ": points with their interval, and the places that each unit may have"
}

const placesRowHigh = 24.0

func (s Places) plan(p *pen) func() {
	p.wide = 720
	n := len(s.Lines)
	p.height = 64 + placesRowHigh*float64(n) + 58
	return func() {
		p.fill(paper, corners(box{x1: p.wide, y1: p.height})...)
		title, small, bold := letters{12, true, ink}, letters{9, false, ink}, letters{9.5, true, ink}
		p.write(title, 14, p.height-22, start, p.fit(title, s.Title, p.wide-28))
		top, low := p.height-62, 58.0
		pts := axis{from: 0, to: 10, p0: 176, p1: 410}
		at := axis{from: 0.5, to: float64(max(n, 1)) + 0.5, p0: 462, p1: p.wide - 24}
		p.write(bold, pts.p0, top+10, start, "points, 0 to 10")
		p.write(bold, at.p0, top+10, start, "places that it may have")
		for _, k := range ticksOf(pts, 2, func(v float64) string { return fixed(v, 0) }) {
			p.line(stroke{0.5, faint, nil}, point{pts.at(k.at), low}, point{pts.at(k.at), top})
			p.write(small, pts.at(k.at), low-14, middle, k.text)
		}
		every := 1
		for float64(every)*(at.p1-at.p0)/float64(max(n, 1)) < 14 {
			every++
		}
		for i := 1; i <= n; i++ {
			if (i-1)%every == 0 {
				p.write(small, at.at(float64(i)), low-14, middle, fmt.Sprint(i))
			}
			p.line(stroke{0.5, faint, nil}, point{at.at(float64(i)), low}, point{at.at(float64(i)), top})
		}
		for i, l := range s.Lines {
			s.row(p, l, top-placesRowHigh*(float64(i)+0.5), pts, at)
		}
		s.legend(p, 16)
	}
}

func (s Places) row(p *pen, l PlacesLine, y float64, pts, at axis) {
	small, bold := letters{9, false, ink}, letters{9.5, true, ink}
	p.write(bold, 34, y-3, end, fmt.Sprint(l.Place))
	p.write(small, 42, y-3, start, p.fit(small, l.Name, pts.p0-50))
	if v, ok := l.Points.Value(); ok {
		c := pts.at(pts.clip(v))
		if h, ok := l.Half.Value(); ok {
			a, b := pts.at(pts.clip(v-h)), pts.at(pts.clip(v+h))
			p.line(stroke{1.4, ink, nil}, point{a, y}, point{b, y})
			p.line(stroke{1.4, ink, nil}, point{a, y - 4}, point{a, y + 4})
			p.line(stroke{1.4, ink, nil}, point{b, y - 4}, point{b, y + 4})
		}
		p.dot(c, y, 3.6, false)
		p.write(small, pts.p1+8, y-3, start, points(l.Points))
	}
	if l.Best > 0 {
		p.outline(stroke{1.3, ink, nil}, box{x0: at.at(float64(l.Best) - 0.42), y0: y - 8, x1: at.at(float64(l.Worst) + 0.42), y1: y + 8})
	}
	if l.Low > 0 {
		p.fill(blue, corners(box{x0: at.at(float64(l.Low) - 0.3), y0: y - 2.2, x1: at.at(float64(l.High) + 0.3), y1: y + 2.2})...)
	}
	c := at.at(float64(l.Place))
	p.line(stroke{2.6, ink, nil}, point{c, y - 9}, point{c, y + 9})
}

func (s Places) legend(p *pen, y float64) {
	l := letters{9, false, ink}
	x := 20.0
	say := func(word string) {
		p.write(l, x+26, y, start, word)
		x += 26 + slack*p.width(l, word) + 16
	}
	p.line(stroke{1.4, ink, nil}, point{x, y + 3}, point{x + 20, y + 3})
	p.dot(x+10, y+3, 3.6, false)
	say("points, interval")
	p.line(stroke{2.6, ink, nil}, point{x + 10, y - 4}, point{x + 10, y + 10})
	say("its place")
	p.outline(stroke{1.3, ink, nil}, box{x0: x, y0: y - 3, x1: x + 20, y1: y + 9})
	say("range that holds for all together")
	p.fill(blue, corners(box{x0: x, y0: y + 1, x1: x + 20, y1: y + 5})...)
	say("places in 95 % of simulated rankings")
}
