package report

import (
	"image/color"
	"math"
	"strings"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/vg"
)

// Lengths on the picture are in points (1/72 inch), from the lower left corner.

// point is a place on the picture.
type point struct{ x, y float64 }

// box is a rectangle on the picture; w names the text in it, if any.
type box struct {
	x0, y0, x1, y1 float64
	w              string
}

func (b box) overlaps(c box) bool {
	return b.x0 < c.x1 && c.x0 < b.x1 && b.y0 < c.y1 && c.y0 < b.y1
}

// Shades. The lightness alone tells them apart in grey; the hues are those that colour-blind readers
// tell apart best (Okabe and Ito's palette, from memory).
var (
	ink    = color.NRGBA{A: 255}
	soft   = color.NRGBA{R: 90, G: 90, B: 90, A: 255}
	faint  = color.NRGBA{R: 222, G: 222, B: 222, A: 255}
	paper  = color.NRGBA{R: 255, G: 255, B: 255, A: 255}
	blue   = color.NRGBA{G: 74, B: 128, A: 255}
	sky    = color.NRGBA{R: 120, G: 180, B: 220, A: 255}
	orange = color.NRGBA{R: 190, G: 110, A: 255}
	red    = color.NRGBA{R: 170, G: 50, A: 255}
)

// pen draws on a canvas and remembers where it wrote.
type pen struct {
	c      canvas  // may be nil as long as text is only measured
	wide   float64 // of the page, pt
	height float64 // of the page, pt
	fonts  *font.Cache
	texts  []box
}

func newPen() *pen { return &pen{wide: pageWidth, fonts: font.NewCache(liberation.Collection())} }

type stroke struct {
	width float64
	color color.Color
	dash  []float64
}

func (p *pen) line(s stroke, pts ...point) {
	if len(pts) > 1 && drawable(pts) {
		p.c.stroke(s, pts)
	}
}

func (p *pen) fill(c color.Color, pts ...point) {
	if len(pts) > 2 && drawable(pts) {
		p.c.fill(c, pts)
	}
}

// drawable tells whether all points are places: a rasterizer never comes back from one that is not.
func drawable(pts []point) bool {
	for _, q := range pts {
		if !(math.Abs(q.x) < 1e6 && math.Abs(q.y) < 1e6) {
			return false
		}
	}
	return true
}

func corners(b box) []point {
	return []point{{b.x0, b.y0}, {b.x1, b.y0}, {b.x1, b.y1}, {b.x0, b.y1}}
}

func (p *pen) outline(s stroke, b box) {
	q := corners(b)
	p.line(s, append(q, q[0])...)
}

// rule draws slanted lines across a rectangle, gap apart; slope is 1 (rising) or -1 (falling). The
// lines of neighbouring rectangles meet.
func (p *pen) rule(s stroke, b box, gap, slope float64) {
	// A line is y = slope*x + k with k a multiple of the gap.
	lo := min(b.y0-slope*b.x0, b.y0-slope*b.x1)
	hi := max(b.y1-slope*b.x0, b.y1-slope*b.x1)
	n := int((hi - lo) / gap)
	first := math.Ceil(lo / gap)
	for i := range n + 1 {
		k := (first + float64(i)) * gap
		xa, xb := (b.y0-k)/slope, (b.y1-k)/slope
		x0, x1 := max(min(xa, xb), b.x0), min(max(xa, xb), b.x1)
		if x0 < x1 {
			p.line(s, point{x0, slope*x0 + k}, point{x1, slope*x1 + k})
		}
	}
}

// slack is the room left beside a text that something follows: where an SVG is shown in another
// font, it may be wider than measured.
const slack = 1.15

// ends says which end of a text is set at the place given.
type ends int

const (
	start ends = iota
	middle
	end
)

type letters struct {
	size  float64 // pt
	bold  bool
	color color.Color
}

func (p *pen) face(l letters) font.Face {
	f := font.Font{Typeface: "Liberation", Variant: "Sans"}
	if l.bold {
		f.Weight = xfont.WeightBold
	}
	return p.fonts.Lookup(f, vg.Length(l.size))
}

func (p *pen) width(l letters, s string) float64 {
	f := p.face(l)
	return float64(f.Width(s))
}

// write sets a line of text with its baseline at y.
func (p *pen) write(l letters, x, y float64, e ends, s string) {
	s = strings.TrimSpace(Clean(s))
	if s == "" {
		return
	}
	w := p.width(l, s)
	switch e {
	case middle:
		x -= w / 2
	case end:
		x -= w
	}
	p.c.text(l, p.face(l), point{x, y}, w, s)
	p.texts = append(p.texts, box{x, y - 0.22*l.size, x + w, y + 0.75*l.size, s})
}

// fit shortens text with an ellipsis until it is no wider than w; "" if nothing fits.
func (p *pen) fit(l letters, s string, w float64) string {
	s = strings.TrimSpace(Clean(s))
	if p.width(l, s) <= w {
		return s
	}
	r := []rune(s)
	lo, hi := 0, len(r) // the longest beginning that fits
	for lo < hi {
		m := (lo + hi + 1) / 2
		if p.width(l, string(r[:m])+"…") <= w {
			lo = m
		} else {
			hi = m - 1
		}
	}
	if lo == 0 {
		return ""
	}
	return strings.TrimSpace(string(r[:lo])) + "…"
}
