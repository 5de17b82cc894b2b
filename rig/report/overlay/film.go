package overlay

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"strings"
)

// Film draws the frames of one session. It is for one goroutine.
type Film struct {
	story  *story
	look   Look
	places places
	set    *typesetter
	frame  *image.NRGBA
	said   [5]string // what each part of the picture shows: a part is painted when it says something else
	nowX   float64   // how far it has come
	ticks  []tick
	c      canvas
	glow   glow
	pieces []piece // of the last part painted, for tests
}

// Parts of the picture, none of which overlaps another.
const (
	partName = iota
	partWord
	partClock
	partReads
	partRibbon
)

// NewFilm lays a session out for a size of picture.
func NewFilm(sc Scene, look Look) (*Film, error) {
	if err := look.Check(); err != nil {
		return nil, err
	}
	f := &Film{story: newStory(sc), look: look, places: look.places(), set: newTypesetter(),
		frame: image.NewNRGBA(image.Rect(0, 0, look.Width, look.Height))}
	f.wipe(f.frame.Rect)
	return f, nil
}

// Pix returns the frame that was drawn last: rows from the top, four bytes a pixel: red, green, blue,
// alpha. It is overwritten by the next Draw.
func (f *Film) Pix() []uint8 { return f.frame.Pix }

// Draw draws the frame of an instant of the session, s, and tells whether anything changed since the
// last. Before the session the frame is empty; after it the figures of its runs stand.
func (f *Film) Draw(atS float64) (changed bool) {
	m := f.story.at(atS)
	p := &f.places
	if m.empty {
		changed = f.text(partName, "", p.name, nil)
	} else {
		changed = f.text(partName, f.story.Unit+"\x00"+f.story.Procedure, p.name, func() []piece {
			return p.nameText(f.set, f.story.Unit, f.story.Procedure)
		})
	}
	changed = f.text(partWord, m.word, p.word, func() []piece { return p.wordText(f.set, &m) }) || changed
	changed = f.text(partClock, m.clock+"\x00"+m.of, p.clock, func() []piece { return p.clockText(f.set, &m) }) || changed
	changed = f.text(partReads, readsKey(m.reads), p.reads, func() []piece { return p.readsText(f.set, m.reads) }) || changed
	return f.ribbon(m.band) || changed
}

func readsKey(reads []read) string {
	var b strings.Builder
	for _, r := range reads {
		b.WriteString(r.label + "\x00" + r.value + "\x00")
	}
	return b.String()
}

// text paints a part of the picture that holds words, if they are others than before.
func (f *Film) text(part int, key string, r image.Rectangle, lay func() []piece) bool {
	if f.said[part] == key {
		return false
	}
	f.said[part] = key
	f.pieces = nil
	if strings.Trim(key, "\x00") != "" && lay != nil {
		f.pieces = lay()
	}
	f.c.reset(r)
	largest := 0.0
	for _, t := range f.pieces {
		f.c.piece(f.set, t)
		largest = max(largest, t.px)
	}
	f.glow.lay(&f.c, int(math.Round(0.035*largest)), 2.3)
	f.put(r)
	return true
}

// piece paints a text and the lines below it.
func (c *canvas) piece(t *typesetter, p piece) {
	s := t.set(p.lettering, p.text)
	x := p.x
	if !p.atLeft {
		x -= s.wide
	}
	left, base := int(math.Round(x)), int(math.Round(p.y))
	c.stamp(s.mask, left+s.mask.Rect.Min.X, base+s.mask.Rect.Min.Y, white)
	thick := 0.05 * p.px
	for i := range p.lines {
		y := float64(base) + (0.12+0.1*float64(i))*p.px
		from := 0.0
		for _, gap := range append(s.below(y-float64(base), thick, 0.03*p.px), [2]float64{s.wide, s.wide}) {
			c.rect(float64(left)+from, y, float64(left)+max(gap[0], from), y+thick, white)
			from = max(from, gap[1])
		}
	}
}

// below returns where letters reach into a line below the text, from left to right: there it stops, room px
// before and behind them.
func (s *sprite) below(y, thick, room float64) (gaps [][2]float64) {
	r := s.mask.Rect
	lo, hi := max(int(y-room), r.Min.Y), min(int(math.Ceil(y+thick+room)), r.Max.Y)
	for x := r.Min.X; x < r.Max.X; x++ {
		for row := lo; row < hi; row++ {
			if s.mask.AlphaAt(x, row).A > 0 {
				gaps = append(gaps, [2]float64{float64(x) - room, float64(x+1) + room})
				break
			}
		}
	}
	return gaps
}

// reach is how far, in px at 1920x1080, what the head of the ribbon touches is away from it.
const reach = 14

// ribbon paints what is new of the ribbon: nothing, the columns about its head, or all of it.
func (f *Film) ribbon(b *band) bool {
	p := &f.places
	if b == nil {
		if f.said[partRibbon] == "" {
			return false
		}
		f.said[partRibbon] = ""
		f.wipe(p.ribbon)
		return true
	}
	q := p.pen(&f.c, f.story, b)
	x := min(q.at(b.nowS), q.x1)
	key := fmt.Sprint(b.fromS, b.toS, b.limitS, b.events, b.lulls, b.nowS >= b.use.endS, len(b.stretches()))
	r := p.ribbon
	if f.said[partRibbon] == key {
		if x == f.nowX {
			return false
		}
		lo, hi := min(x, f.nowX)-reach*p.scale, max(x, f.nowX)+reach*p.scale
		r = r.Intersect(image.Rect(int(lo), r.Min.Y, int(hi)+1, r.Max.Y))
		if r.Empty() {
			f.nowX = x
			return false
		}
	} else {
		f.ticks = p.ticks(f.set, q)
	}
	f.said[partRibbon], f.nowX = key, x
	radius := max(1, int(math.Round(2*p.scale)))
	f.c.reset(image.Rect(r.Min.X-2*radius-1, r.Min.Y, r.Max.X+2*radius+1, r.Max.Y))
	q.ribbon()
	q.words(f.set, p.tickLetters(), f.ticks)
	f.glow.lay(&f.c, radius, 2.6)
	f.put(r)
	return true
}

// put brings what is painted to the frame, with its glow, over the background.
func (f *Film) put(r image.Rectangle) {
	r = r.Intersect(f.frame.Rect)
	bg := f.look.Background
	for y := r.Min.Y; y < r.Max.Y; y++ {
		i := (y-f.c.r.Min.Y)*f.c.r.Dx() + r.Min.X - f.c.r.Min.X
		o := f.frame.PixOffset(r.Min.X, y)
		for range r.Dx() {
			dst := f.frame.Pix[o : o+4 : o+4]
			o += 4
			h := uint32(f.glow.mask[i])
			src := f.c.pix[4*i : 4*i+4 : 4*i+4]
			i++
			a := uint32(src[3])
			a += (h*(255-a) + 127) / 255
			switch {
			case a == 0:
				dst[0], dst[1], dst[2], dst[3] = bg.R, bg.G, bg.B, bg.A
			case bg.A == 255:
				for k, v := range [3]uint8{bg.R, bg.G, bg.B} {
					dst[k] = src[k] + uint8((uint32(v)*(255-a)+127)/255)
				}
				dst[3] = 255
			case a == 255:
				copy(dst, src[:3])
				dst[3] = 255
			default:
				for k := range 3 {
					dst[k] = uint8(min(uint32(src[k])*255/a, 255))
				}
				dst[3] = uint8(a)
			}
		}
	}
}

// wipe makes a part of the frame the background.
func (f *Film) wipe(r image.Rectangle) {
	r = r.Intersect(f.frame.Rect)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		row := f.frame.Pix[f.frame.PixOffset(r.Min.X, y):f.frame.PixOffset(r.Max.X, y)]
		if bg := f.look.Background; bg != (color.NRGBA{}) {
			for i := 0; i < len(row); i += 4 {
				row[i], row[i+1], row[i+2], row[i+3] = bg.R, bg.G, bg.B, bg.A
			}
		} else {
			clear(row)
		}
	}
}
