package report

import (
	"bytes"
	"fmt"
	"html"
	"image/color"
	"image/png"
	"io"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// canvas is what a pen draws on. Places are in pt from the lower left corner.
type canvas interface {
	stroke(s stroke, pts []point)
	fill(c color.Color, pts []point)
	text(l letters, f font.Face, at point, wide float64, s string)
}

// Plot is a picture that can be drawn.
type Plot interface {
	// plan lays the picture out and sets the size of the pen's page; draw draws it.
	plan(p *pen) (draw func())
	// words tell in a sentence what it shows, to whoever does not see it.
	words() string
}

// The forms in which a plot is drawn.
const (
	SVG    = "svg"    // a file by itself: black on white, text as text
	PNG    = "png"    // 96 pixels an inch
	Inline = "inline" // an element of a page of HTML; its shades are classes that the page's style gives a colour
)

// Render draws a plot in one of the forms. Nothing is written if an error is found before it is whole.
func Render(w io.Writer, form string, plot Plot) error {
	p := newPen()
	draw := plot.plan(p)
	if form == PNG {
		c := vgimg.NewWith(vgimg.UseWH(vg.Length(p.wide), vg.Length(p.height)), vgimg.UseDPI(pixelsPerInch))
		p.c = rasterCanvas{c, box{x1: p.wide, y1: p.height}}
		draw()
		e := png.Encoder{CompressionLevel: png.BestSpeed}
		var b bytes.Buffer
		if err := e.Encode(&b, indexed(c.Image())); err != nil {
			return err
		}
		_, err := w.Write(b.Bytes())
		return err
	}
	c := &svgCanvas{high: p.height, themed: form == Inline}
	p.c = c
	draw()
	c.flush()
	var head string
	switch form {
	case SVG:
		head = fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" width="%gpt" height="%gpt" viewBox="0 0 %g %g" font-family="'Liberation Sans',Arial,Helvetica,sans-serif"><title>%s</title>`,
			p.wide, p.height, p.wide, p.height, html.EscapeString(Clean(plot.words())))
	case Inline:
		head = fmt.Sprintf(`<svg class="plot" width="%.0f" height="%.0f" viewBox="0 0 %g %g" role="img" aria-label="%s">`,
			p.wide*4/3, p.height*4/3, p.wide, p.height, html.EscapeString(Clean(plot.words())))
	default:
		return fmt.Errorf("draw: found format %q, expected %s, %s or %s", form, SVG, PNG, Inline)
	}
	_, err := io.WriteString(w, head+"\n"+c.b.String()+"</svg>\n")
	return err
}

// rasterCanvas draws pixels.
type rasterCanvas struct {
	c    *vgimg.Canvas
	page box // white to begin with
}

func (r rasterCanvas) path(pts []point) vg.Path {
	var p vg.Path
	for i, q := range pts {
		at := vg.Point{X: vg.Length(q.x), Y: vg.Length(q.y)}
		if i == 0 {
			p.Move(at)
		} else {
			p.Line(at)
		}
	}
	return p
}

func (r rasterCanvas) stroke(s stroke, pts []point) {
	r.c.SetColor(s.color)
	r.c.SetLineWidth(vg.Length(s.width))
	var dash []vg.Length
	for _, d := range s.dash {
		dash = append(dash, vg.Length(d))
	}
	r.c.SetLineDash(dash, 0)
	// Strokes of thousands of points cost a rasterizer far more than the same in pieces.
	const piece = 100
	for ; len(pts) > piece; pts = pts[piece-1:] {
		r.c.Stroke(r.path(pts[:piece]))
	}
	r.c.Stroke(r.path(pts))
}

func (r rasterCanvas) fill(c color.Color, pts []point) {
	if c == paper && slices.Equal(pts, corners(r.page)) {
		return
	}
	q := r.path(pts)
	q.Close()
	r.c.SetColor(c)
	r.c.Fill(q)
}

func (r rasterCanvas) text(l letters, f font.Face, at point, _ float64, s string) {
	r.c.SetColor(l.color)
	r.c.FillString(f, vg.Point{X: vg.Length(at.x), Y: vg.Length(at.y)}, s)
}

// svgCanvas writes elements of SVG. Neighbours drawn alike become one element.
type svgCanvas struct {
	high   float64
	themed bool // shades are classes; otherwise colours
	b      bytes.Buffer
	style  string // of the element that is open
	d      []byte // its path
}

// shades name the colours of a plot for a page's style sheet.
var shades = map[color.Color]string{ink: "ink", soft: "soft", faint: "faint", paper: "paper", blue: "blue", sky: "sky", orange: "orange", red: "red"}

// shade returns the attribute that gives a shape its colour; part is "stroke" or "fill".
func (c *svgCanvas) shade(part string, of color.Color) string {
	if name, ok := shades[of]; ok && c.themed {
		return ` class="` + part[:1] + "-" + name + `"`
	}
	r, g, b, _ := of.RGBA()
	return fmt.Sprintf(` %s="#%02x%02x%02x"`, part, r>>8, g>>8, b>>8)
}

func (c *svgCanvas) flush() {
	if len(c.d) > 0 {
		c.b.WriteString("<path" + c.style + ` d="`)
		c.b.Write(c.d)
		c.b.WriteString("\"/>\n")
		c.d = c.d[:0]
	}
}

// begin opens an element of a style, or goes on with the one that is open.
func (c *svgCanvas) begin(style string) {
	if style != c.style {
		c.flush()
		c.style = style
	}
}

// number appends a length to a tenth of a point.
func number10(b []byte, v float64) []byte {
	t := math.Round(v * 10)
	if !(math.Abs(t) < 1e7) { // no page is that large
		t = math.Copysign(1e7, t)
	}
	return strconv.AppendFloat(b, t/10, 'f', -1, 64)
}

func (c *svgCanvas) at(p point) {
	c.d = number10(c.d, p.x)
	if c.high-p.y >= 0 {
		c.d = append(c.d, ' ')
	}
	c.d = number10(c.d, c.high-p.y)
}

func (c *svgCanvas) path(pts []point) {
	for i, p := range pts {
		switch i {
		case 0:
			c.d = append(c.d, 'M')
		case 1:
			c.d = append(c.d, 'L')
		default:
			c.d = append(c.d, ' ')
		}
		c.at(p)
	}
}

func (c *svgCanvas) stroke(s stroke, pts []point) {
	style := fmt.Sprintf(`%s fill="none" stroke-width="%g"`, c.shade("stroke", s.color), s.width)
	if len(s.dash) > 0 {
		style += ` stroke-dasharray="`
		for i, d := range s.dash {
			if i > 0 {
				style += " "
			}
			style += strconv.FormatFloat(d, 'g', -1, 64)
		}
		style += `"`
	}
	c.begin(style)
	c.path(pts)
}

func (c *svgCanvas) fill(of color.Color, pts []point) {
	c.begin(c.shade("fill", of))
	c.path(pts)
	c.d = append(c.d, 'Z')
}

// text is set to its measured width, so that it stands as it was laid out in whatever font there is.
func (c *svgCanvas) text(l letters, _ font.Face, at point, wide float64, s string) {
	c.flush()
	c.style = ""
	weight := ""
	if l.bold {
		weight = ` font-weight="bold"`
	}
	var b []byte
	b = append(b, `<text x="`...)
	b = number10(b, at.x)
	b = append(b, `" y="`...)
	b = number10(b, c.high-at.y)
	b = append(b, `" textLength="`...)
	b = number10(b, max(wide, 0.1))
	c.b.Write(b)
	fmt.Fprintf(&c.b, `" lengthAdjust="spacingAndGlyphs" font-size="%g"%s%s>%s</text>`+"\n", l.size, weight, c.shade("fill", l.color), html.EscapeString(s))
}
