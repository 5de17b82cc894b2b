package overlay

// glow is the edge of ink around what is painted, so that paper words can be read on a white background.
type glow struct {
	mask []uint8 // alpha of black, by pixel of the canvas
	a, b []int32
}

// lay makes the glow of a canvas: its alpha, spread twice by a square of 2*radius+1 pixels, times gain.
// A pixel's glow follows from the pixels within 2*radius of it.
func (g *glow) lay(c *canvas, radius int, gain float64) {
	w, h := c.r.Dx(), c.r.Dy()
	n := w * h
	if cap(g.mask) < n {
		g.mask, g.a, g.b = make([]uint8, n), make([]int32, n), make([]int32, n)
	}
	g.mask, g.a, g.b = g.mask[:n], g.a[:n], g.b[:n]
	for i := range n {
		g.a[i] = int32(c.pix[4*i+3])
	}
	for range 2 {
		spread(g.b, g.a, w, h, radius, 1, w)
		spread(g.a, g.b, h, w, radius, w, 1)
	}
	side := float64(2*radius + 1)
	scale := gain / (side * side * side * side)
	for i, v := range g.a {
		g.mask[i] = uint8(min(float64(v)*scale, 255))
	}
}

// spread sums 2*radius+1 neighbours along lines of n values, step apart; the lines are lines in number and
// next apart.
func spread(dst, src []int32, n, lines, radius, step, next int) {
	for l := range lines {
		base := l * next
		var sum int32
		for i := range min(radius, n) {
			sum += src[base+i*step]
		}
		for i := range n {
			if i+radius < n {
				sum += src[base+(i+radius)*step]
			}
			if i-radius-1 >= 0 {
				sum -= src[base+(i-radius-1)*step]
			}
			dst[base+i*step] = sum
		}
	}
}
