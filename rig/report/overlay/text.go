package overlay

import (
	"image"
	"math"
	"strings"
	"sync"

	xfont "golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"

	"quern/rig/report"
)

// lettering is a size and weight of type.
type lettering struct {
	px    float64 // size of the em
	bold  bool
	tight float64 // letter spacing as a share of the em; negative: closer
}

// tightness is that of large figures and words on the page.
const tightness = -0.02

// sprite is a line of text as a mask. Its pen begins at x = 0 on the baseline y = 0.
type sprite struct {
	mask *image.Alpha
	wide float64 // advance
}

// typesetter keeps faces and what was set in them.
type typesetter struct {
	faces   map[lettering]xfont.Face
	sprites map[lettering]map[string]*sprite
	n       int
}

// keptSprites bounds what is kept: a clock says something else every second.
const keptSprites = 400

func newTypesetter() *typesetter {
	return &typesetter{faces: map[lettering]xfont.Face{}, sprites: map[lettering]map[string]*sprite{}}
}

var fonts = sync.OnceValues(func() (regular, bold *opentype.Font) {
	c := font.NewCache(liberation.Collection())
	f := font.Font{Typeface: "Liberation", Variant: "Sans"}
	regular = c.Lookup(f, 12).Face
	f.Weight = xfont.WeightBold
	return regular, c.Lookup(f, 12).Face
})

func (t *typesetter) face(l lettering) xfont.Face {
	if f := t.faces[l]; f != nil {
		return f
	}
	of, bold := fonts()
	if l.bold {
		of = bold
	}
	f, err := opentype.NewFace(of, &opentype.FaceOptions{Size: l.px, DPI: 72})
	if err != nil {
		panic("overlay: the font of the program does not open: " + err.Error()) // it is built in
	}
	t.faces[l] = f
	return f
}

// plain is text without what cannot be printed.
func plain(s string) string { return strings.TrimSpace(report.Clean(s)) }

// pens calls f with each letter and where its pen stands, and returns where the last ends.
func (t *typesetter) pens(l lettering, s string, f func(r rune, x fixed.Int26_6)) float64 {
	face := t.face(l)
	var x fixed.Int26_6
	last := rune(-1)
	for _, r := range s {
		if last >= 0 {
			x += face.Kern(last, r) + fixed.Int26_6(math.Round(64*l.tight*l.px))
		}
		if f != nil {
			f(r, x)
		}
		wide, _ := face.GlyphAdvance(r)
		x, last = x+wide, r
	}
	return float64(x) / 64
}

func (t *typesetter) width(l lettering, s string) float64 { return t.pens(l, s, nil) }

// set returns a line of text as a mask.
func (t *typesetter) set(l lettering, s string) *sprite {
	if p := t.sprites[l][s]; p != nil {
		return p
	}
	if t.n++; t.n > keptSprites {
		t.n, t.sprites = 0, map[lettering]map[string]*sprite{}
	}
	face := t.face(l)
	box := image.Rectangle{}
	wide := t.pens(l, s, func(r rune, x fixed.Int26_6) {
		if dr, _, _, _, ok := face.Glyph(fixed.Point26_6{X: x}, r); ok {
			box = box.Union(dr)
		}
	})
	m := image.NewAlpha(box)
	t.pens(l, s, func(r rune, x fixed.Int26_6) {
		dr, mask, at, _, ok := face.Glyph(fixed.Point26_6{X: x}, r)
		if !ok {
			return
		}
		for y := range dr.Dy() {
			for x := range dr.Dx() {
				_, _, _, a := mask.At(at.X+x, at.Y+y).RGBA()
				i := m.PixOffset(dr.Min.X+x, dr.Min.Y+y)
				m.Pix[i] = max(m.Pix[i], uint8(a>>8))
			}
		}
	})
	p := &sprite{m, wide}
	if t.sprites[l] == nil {
		t.sprites[l] = map[string]*sprite{}
	}
	t.sprites[l][s] = p
	return p
}

// fit returns text that is no wider than there is room: in smaller letters down to the given share, then
// cut, with an ellipsis.
func (t *typesetter) fit(l lettering, s string, room, least float64) (lettering, string) {
	s = plain(s)
	wide := t.width(l, s)
	if wide <= room || s == "" {
		return l, s
	}
	l.px *= max(math.Floor(100*room/wide)/100, least)
	if t.width(l, s) <= room {
		return l, s
	}
	r := []rune(s)
	cut := func(n int) string { return strings.TrimSpace(string(r[:n])) + "…" }
	lo, hi := 0, len(r) // the longest beginning that fits
	for lo < hi {
		if m := (lo + hi + 1) / 2; t.width(l, cut(m)) <= room {
			lo = m
		} else {
			hi = m - 1
		}
	}
	if lo == 0 {
		return l, ""
	}
	return l, cut(lo)
}
