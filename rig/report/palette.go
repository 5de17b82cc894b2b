package report

import (
	"image"
	"image/color"
	"sync"
)

// A plot has few colours and what lies between each and the paper, so its pixels are kept as numbers of a
// palette: a third of the bytes, and of the time that an encoder takes.

const paletteSteps = 35 // shades from the paper to a colour

// palette returns the colours, and the nearest of them for each colour told to five bits a channel.
var palette = sync.OnceValue(func() (out struct {
	colours color.Palette
	nearest [1 << 15]uint8
}) {
	out.colours = color.Palette{color.RGBA{R: paper.R, G: paper.G, B: paper.B, A: 255}}
	for _, c := range []color.NRGBA{ink, soft, blue, sky, orange, red} {
		for i := 1; i <= paletteSteps; i++ {
			mix := func(from, to uint8) uint8 { return uint8((int(from)*(paletteSteps-i) + int(to)*i) / paletteSteps) }
			out.colours = append(out.colours, color.RGBA{R: mix(paper.R, c.R), G: mix(paper.G, c.G), B: mix(paper.B, c.B), A: 255})
		}
	}
	for _, c := range []color.NRGBA{faint, blue, sky, orange, red} { // and what lies between each and ink
		for i := range 4 {
			mix := func(of uint8) uint8 { return uint8(int(of) * (4 - i) / 4) }
			out.colours = append(out.colours, color.RGBA{R: mix(c.R), G: mix(c.G), B: mix(c.B), A: 255})
		}
	}
	for k := range out.nearest {
		wide := func(five int) uint8 { return uint8(five<<3 | five>>2) }
		out.nearest[k] = uint8(out.colours.Index(color.RGBA{R: wide(k >> 10), G: wide(k >> 5 & 31), B: wide(k & 31), A: 255}))
	}
	return out
})

// indexed returns a picture whose pixels are numbers of the palette.
func indexed(from image.Image) image.Image {
	in, ok := from.(*image.RGBA)
	if !ok {
		return from
	}
	p := palette()
	out := image.NewPaletted(in.Rect, p.colours)
	for y := range in.Rect.Dy() {
		src, dst := in.Pix[y*in.Stride:], out.Pix[y*out.Stride:][:in.Rect.Dx()]
		for x := range dst {
			c := src[4*x : 4*x+3 : 4*x+3]
			dst[x] = p.nearest[int(c[0]>>3)<<10|int(c[1]>>3)<<5|int(c[2]>>3)]
		}
	}
	return out
}
