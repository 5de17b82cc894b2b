package overlay

import (
	"image"
	"math"
)

// piece is a text where it stands.
type piece struct {
	lettering
	text   string
	x, y   float64 // of the pen, on the baseline
	lines  int     // below it
	atLeft bool    // false: the pen is where the text ends
}

// The proportions are those of the on-camera page, in its em: a 64th of the width of 16:9, a 30th of that of 9:16.
const (
	nameEm, sideEm   = 2.0, 1.6
	labelEm, largeEm = 1.6, 4.4
	smallShare       = 0.42 // beside the clock
	besideShare      = 0.32 // beside the state
	ribbonEm         = 3.3
	wordEm           = 0.93 // below the ribbon
	wordRows         = 2
	leastShare       = 0.6 // smaller letters are not read: rather cut
)

// places is where everything stands, for one size of picture.
type places struct {
	em, scale float64 // px; scale is 1 where the em is 30 px, that of 1920x1080
	tall      bool
	inner     image.Rectangle // within the margin

	name, word, clock, reads, ribbon image.Rectangle // what each may fill, the glow around it included
	nameY, wordY, clockY             float64         // baselines
	labelY, valueY                   float64
	pitch                            float64 // between the reads
	bandTop, bandHeight              float64
	rowHeight                        float64
}

func (l Look) places() places {
	w, h := float64(l.Width), float64(l.Height)
	p := places{tall: 1.2*h > w}
	free := 1 - 2*l.Margin
	if p.tall {
		p.em = min(w/30, h/40) // a square has no room for the words of 9:16
	} else {
		p.em = min(w, h*16/9) / 64
	}
	p.em *= min(1, free/0.9) // the page's margin is a twentieth; a wider one leaves less for the words
	p.scale = p.em / 30
	p.inner = image.Rect(int(math.Ceil(w*l.Margin)), int(math.Ceil(h*l.Margin)), int(math.Floor(w*(1-l.Margin))), int(math.Floor(h*(1-l.Margin))))
	em := p.em
	glow := int(math.Ceil(0.5 * em))
	left, right, top, bottom := p.inner.Min.X, p.inner.Max.X, float64(p.inner.Min.Y), float64(p.inner.Max.Y)
	across := func(x0, x1 int, y0, y1 float64) image.Rectangle {
		return image.Rect(x0-glow, int(math.Floor(y0)), x1+glow, int(math.Floor(y1)))
	}

	p.bandHeight = ribbonEm * em
	p.rowHeight = (wordEm + 0.2) * em
	foot := 0.25*em + wordRows*p.rowHeight
	p.bandTop = bottom - foot - p.bandHeight
	ribbonTop := p.bandTop - 0.35*em
	p.ribbon = across(left, right, ribbonTop, bottom+0.35*em)

	p.valueY = p.bandTop - 2*em
	p.labelY = p.valueY - (0.72*largeEm+0.75)*em
	readsTop := p.labelY - 1.35*em
	p.reads = across(left, right, readsTop, ribbonTop)
	p.pitch = max(2.4*largeEm+4, 0) * em

	p.clockY = readsTop - 1.75*em
	clockTop := p.clockY - 0.78*largeEm*em
	p.wordY = p.clockY
	wordRight, clockLeft := left+p.inner.Dx()/2, left+p.inner.Dx()/2
	if p.tall {
		p.wordY = clockTop - 1.3*em
		wordRight, clockLeft = right, left
	}
	p.clock = across(clockLeft+glow, right, clockTop, readsTop)
	p.word = across(left, wordRight-glow, p.wordY-0.85*largeEm*em, p.wordY+1.35*em)
	if p.tall {
		p.clock = across(left, right, clockTop, readsTop)
		p.word = across(left, right, p.wordY-0.85*largeEm*em, clockTop)
	}

	p.nameY = top + 0.76*nameEm*em
	p.name = across(left, right, top-0.3*em, p.nameY+2.6*em)
	return p
}

// nameText lays the unit and the procedure, which takes a line of its own where there is no room beside.
func (p *places) nameText(t *typesetter, unit, procedure string) []piece {
	room := float64(p.inner.Dx())
	x := float64(p.inner.Min.X)
	l, s := t.fit(lettering{px: nameEm * p.em, bold: true}, unit, room, leastShare)
	out := []piece{{lettering: l, text: s, x: x, y: p.nameY, atLeft: true}}
	side := lettering{px: sideEm * p.em}
	wide := t.width(l, s) + 0.8*p.em
	if fits := plain(procedure); wide+t.width(side, fits) <= room {
		return append(out, piece{lettering: side, text: fits, x: x + wide, y: p.nameY, atLeft: true})
	}
	side, s = t.fit(side, procedure, room, leastShare)
	return append(out, piece{lettering: side, text: s, x: x, y: p.nameY + 2*p.em, atLeft: true})
}

// wordText lays the state.
func (p *places) wordText(t *typesetter, m *moment) []piece {
	x := float64(p.inner.Min.X)
	l := lettering{px: largeEm * p.em, bold: true, tight: tightness}
	out := []piece{{lettering: l, text: m.word, x: x, y: p.wordY, lines: m.lines, atLeft: true}}
	if m.beside != "" {
		small := lettering{px: besideShare * largeEm * p.em}
		out = append(out, piece{lettering: small, text: m.beside, x: x + t.width(l, m.word) + 0.4*p.em, y: p.wordY, atLeft: true})
	}
	return out
}

// clockText lays the run clock and its limit: at the right edge, or in tall pictures at the left.
func (p *places) clockText(t *typesetter, m *moment) []piece {
	if m.clock == "" {
		return nil
	}
	l := lettering{px: largeEm * p.em, bold: true, tight: tightness}
	small := lettering{px: smallShare * largeEm * p.em}
	gap := 0.9 * p.em
	room := float64(p.inner.Dx())
	if !p.tall {
		room /= 2
	}
	if wide := t.width(l, m.clock) + gap + t.width(small, m.of); wide > room-p.em {
		share := math.Floor(100*(room-p.em)/wide) / 100
		l.px, small.px, gap = l.px*share, small.px*share, gap*share
	}
	if p.tall {
		x := float64(p.inner.Min.X)
		return []piece{{lettering: l, text: m.clock, x: x, y: p.clockY, atLeft: true},
			{lettering: small, text: m.of, x: x + t.width(l, m.clock) + gap, y: p.clockY, atLeft: true}}
	}
	x := float64(p.inner.Max.X)
	if m.of == "" {
		return []piece{{lettering: l, text: m.clock, x: x, y: p.clockY}}
	}
	return []piece{{lettering: small, text: m.of, x: x, y: p.clockY},
		{lettering: l, text: m.clock, x: x - t.width(small, m.of) - gap, y: p.clockY}}
}

// readsText lays the figures with their names, as many as there is room for.
func (p *places) readsText(t *typesetter, reads []read) []piece {
	var out []piece
	for i, r := range reads {
		x := float64(p.inner.Min.X) + float64(i)*p.pitch
		room := min(p.pitch-p.em, float64(p.inner.Max.X)-x)
		if room < 2.2*largeEm*p.em {
			break
		}
		label, s := t.fit(lettering{px: labelEm * p.em}, r.label, room, leastShare)
		out = append(out, piece{lettering: label, text: s, x: x, y: p.labelY, atLeft: true})
		value, v := t.fit(lettering{px: largeEm * p.em, bold: true, tight: tightness}, r.value, room, leastShare)
		out = append(out, piece{lettering: value, text: v, x: x, y: p.valueY, atLeft: true})
	}
	return out
}
