package overlay

import (
	"image"
	"image/color"
	"math"
)

// canvas is a part of the picture that is being painted. Shades are multiplied by alpha. What a pixel gets
// follows from its place alone, so that a part painted by itself is the same as within the whole.
type canvas struct {
	r   image.Rectangle
	pix []uint8
}

// reset makes the canvas an empty one of another part.
func (c *canvas) reset(r image.Rectangle) {
	c.r = r
	n := 4 * r.Dx() * r.Dy()
	if cap(c.pix) < n {
		c.pix = make([]uint8, n)
	}
	c.pix = c.pix[:n]
	clear(c.pix)
}

// over lays a shade over a pixel; share is the part of it that is covered, 0 to 1.
func (c *canvas) over(i int, s color.NRGBA, share float64) {
	a := uint32(float64(s.A)*min(max(share, 0), 1) + 0.5)
	if a == 0 {
		return
	}
	p := c.pix[i : i+4 : i+4]
	if a == 255 {
		p[0], p[1], p[2], p[3] = s.R, s.G, s.B, 255
		return
	}
	left := 255 - a
	for k, v := range [4]uint8{s.R, s.G, s.B, 255} {
		p[k] = uint8((uint32(v)*a + uint32(p[k])*left + 127) / 255)
	}
}

// cover returns how much of the pixel from i to i+1 lies between two edges.
func cover(i int, from, to float64) float64 {
	return max(min(float64(i)+1, to)-max(float64(i), from), 0)
}

// inside returns the pixels between two edges that the canvas has.
func inside(from, to float64, lo, hi int) (int, int) {
	return max(int(math.Floor(max(from, float64(lo)-1))), lo), min(int(math.Ceil(min(to, float64(hi)+1))), hi)
}

// rect fills a rectangle.
func (c *canvas) rect(x0, y0, x1, y1 float64, s color.NRGBA) {
	c.each(x0, y0, x1, y1, s, func(int, int) float64 { return 1 })
}

// each fills a rectangle with what share says of each of its pixels.
func (c *canvas) each(x0, y0, x1, y1 float64, s color.NRGBA, share func(x, y int) float64) {
	xa, xb := inside(x0, x1, c.r.Min.X, c.r.Max.X)
	ya, yb := inside(y0, y1, c.r.Min.Y, c.r.Max.Y)
	for y := ya; y < yb; y++ {
		row := cover(y, y0, y1)
		i := 4 * ((y-c.r.Min.Y)*c.r.Dx() + xa - c.r.Min.X)
		for x := xa; x < xb; x++ {
			if k := share(x, y); k > 0 {
				c.over(i, s, row*cover(x, x0, x1)*k)
			}
			i += 4
		}
	}
}

// outline draws the inner edge of a rectangle.
func (c *canvas) outline(x0, y0, x1, y1, width float64, s color.NRGBA) {
	width = min(width, (x1-x0)/2, (y1-y0)/2)
	c.rect(x0, y0, x1, y0+width, s)
	c.rect(x0, y1-width, x1, y1, s)
	c.rect(x0, y0+width, x0+width, y1-width, s)
	c.rect(x1-width, y0+width, x1, y1-width, s)
}

// dots draws a dotted horizontal line; the dots stand still when it grows.
func (c *canvas) dots(x0, x1, y, width, on, off float64, s color.NRGBA) {
	step := on + off
	for k := math.Floor(x0 / step); k*step < x1; k++ {
		if a, b := max(k*step, x0), min(k*step+on, x1); b > a && b > float64(c.r.Min.X)-1 && a < float64(c.r.Max.X)+1 {
			c.rect(a, y-width/2, b, y+width/2, s)
		}
	}
}

// column fills one column of pixels from y0 to y1, if it lies between the edges x0 and x1.
func (c *canvas) column(x int, x0, x1, y0, y1 float64, s color.NRGBA) {
	c.rect(max(float64(x), x0), y0, min(float64(x)+1, x1), y1, s)
}

// rule fills a rectangle with slanted lines, gap apart along x; way is 1 (rising) or -1 (falling).
func (c *canvas) rule(x0, y0, x1, y1, gap, width float64, way float64, s color.NRGBA) {
	half := width / 2
	c.each(x0, y0, x1, y1, s, func(x, y int) float64 {
		along := (float64(x) + 0.5 + way*(float64(y)+0.5)) / gap
		d := math.Abs(along-math.Round(along)) * gap * math.Sqrt2 / 2 // to the middle of the nearest line
		return min(half+0.5-d, 1)
	})
}

// stroke draws a straight line with blunt ends.
func (c *canvas) stroke(ax, ay, bx, by, width float64, s color.NRGBA) {
	long := math.Hypot(bx-ax, by-ay)
	if long == 0 {
		return
	}
	ux, uy := (bx-ax)/long, (by-ay)/long
	reach := width/2 + 1
	c.each(math.Floor(min(ax, bx)-reach), math.Floor(min(ay, by)-reach), math.Ceil(max(ax, bx)+reach), math.Ceil(max(ay, by)+reach), s, func(x, y int) float64 {
		px, py := float64(x)+0.5-ax, float64(y)+0.5-ay
		along, off := px*ux+py*uy, math.Abs(px*uy-py*ux)
		return min(width/2+0.5-off, 1) * min(max(min(along, long-along)+0.5, 0), 1)
	})
}

// stamp lays a mask in a shade with its upper left corner at x, y.
func (c *canvas) stamp(m *image.Alpha, x, y int, s color.NRGBA) {
	at := m.Rect.Add(image.Pt(x, y).Sub(m.Rect.Min))
	r := at.Intersect(c.r)
	for py := r.Min.Y; py < r.Max.Y; py++ {
		from := m.Pix[(py-at.Min.Y)*m.Stride+r.Min.X-at.Min.X:]
		i := 4 * ((py-c.r.Min.Y)*c.r.Dx() + r.Min.X - c.r.Min.X)
		for k := range r.Dx() {
			if v := from[k]; v > 0 {
				c.over(i+4*k, s, float64(v)/255)
			}
		}
	}
}
