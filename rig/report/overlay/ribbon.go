package overlay

import (
	"image"
	"math"
	"slices"

	"quern/rig"
)

// Shares of the ribbon's height that a state's band takes, as on the page and in print.
const (
	noLoadShare  = 0.34
	loadedShare  = 0.46 // of the least load; the greatest takes fullShare
	fullShare    = 0.92
	unknownShare = 0.66
)

// pen paints a ribbon. Lengths that do not follow the size of the picture by themselves are given for
// 1920x1080 and multiplied by scale.
type pen struct {
	*canvas
	*story
	b           *band
	at          func(s float64) float64 // the place of an instant
	when        func(x float64) float64 // the instant of a place
	scale       float64
	x0, x1      float64
	top, height float64
	mid, half   float64
}

func (p *places) pen(c *canvas, s *story, b *band) pen {
	x0, x1 := float64(p.inner.Min.X), float64(p.inner.Max.X)
	wide := (x1 - x0) / (b.toS - b.fromS)
	return pen{canvas: c, story: s, b: b, scale: p.scale, x0: x0, x1: x1, top: p.bandTop, height: p.bandHeight,
		mid: p.bandTop + p.bandHeight/2, half: p.bandHeight / 2,
		at:   func(t float64) float64 { return x0 + (t-b.fromS)*wide },
		when: func(x float64) float64 { return b.fromS + (x-x0)/wide }}
}

// ribbon paints all but the words.
func (p pen) ribbon() {
	now := p.at(max(p.b.nowS, p.b.fromS))
	p.dots(max(now, p.x0), p.x1, p.mid, 1.5*p.scale, 3*p.scale, 9*p.scale, soft)
	all := p.b.stretches()
	// What is rare and grave comes last, and is never too thin to be seen.
	for _, rare := range []bool{false, true} {
		for _, s := range all {
			if grave(s.state) != rare || p.b.nowS < p.b.fromS {
				continue
			}
			least := 0.5
			if rare {
				least = 2
			}
			x0, x1 := max(p.at(s.fromS), p.x0), p.at(s.toS)
			to := min(x1, max(now, x0+least*p.scale), p.x1)
			if to > x0 && to > float64(p.r.Min.X)-40*p.scale && x0 < float64(p.r.Max.X)+40*p.scale {
				p.state(s.state, x0, to, x1)
			}
		}
	}
	if p.b.nowS > p.b.fromS {
		p.rect(now-p.scale, p.top-2*p.scale, now+p.scale, p.top+p.height+2*p.scale, white)
	}
	if x := p.at(p.b.limitS); x <= p.x1 {
		p.limit(x)
	}
}

// bar fills and outlines a share of the height.
func (p pen) bar(x0, x1, share float64) (y0, y1 float64) {
	return p.mid - share*p.half, p.mid + share*p.half
}

// state paints a stretch from x0 as far as it has come, x1; whole is where it will end.
func (p pen) state(s rig.State, x0, x1, whole float64) {
	k := p.scale
	switch s {
	case rig.Starting:
		p.wedge(x0, x1, whole)
	case rig.NoLoad:
		y0, y1 := p.bar(x0, x1, noLoadShare)
		p.rect(x0, y0, x1, y1, paper)
		p.outline(x0, y0, x1, y1, 1.4*k, white)
	case rig.Loaded:
		p.loaded(x0, x1)
	case rig.Overloaded:
		y0, y1 := p.bar(x0, x1, fullShare)
		p.rect(x0, y0, x1, y1, paper)
		p.rule(x0, y0, x1, y1, 7*k, 2*k, 1, overloaded)
		p.outline(x0, y0, x1, y1, 1.6*k, overloaded)
	case rig.Stalled:
		y0, y1 := p.bar(x0, x1, 1)
		p.rect(x0, y0, x1, y1, paper)
		p.rule(x0, y0, x1, y1, 7*k, 1.8*k, 1, stalled)
		p.rule(x0, y0, x1, y1, 7*k, 1.8*k, -1, stalled)
		p.outline(x0, y0, x1, y1, 2.4*k, stalled)
	case rig.Tripped:
		y0, y1 := p.bar(x0, x1, 1)
		p.rect(x0, y0, x1, y1, paper)
		const r = 8
		a, b := x0+4*k, x0+(4+2*r)*k
		p.stroke(a, p.mid-r*k, b, p.mid+r*k, 3*k, stalled)
		p.stroke(a, p.mid+r*k, b, p.mid-r*k, 3*k, stalled)
	case rig.Unknown:
		y0, y1 := p.bar(x0, x1, unknownShare)
		for _, y := range []float64{y0, y1} {
			p.dots(x0, x1, y, 1.2*k, 1.5*k, 3*k, soft)
		}
		p.rect(x0, y0, x0+1.2*k, y1, soft)
	default:
		p.rect(x0, p.mid-0.6*k, x1, p.mid+0.6*k, soft)
	}
}

// wedge narrows from the full height: the inrush dies away.
func (p pen) wedge(x0, x1, whole float64) {
	edge := max(1, p.scale)
	for x := int(math.Floor(x0)); float64(x) < x1; x++ {
		share := noLoadShare
		if whole > x0 {
			share = 1 - (1-noLoadShare)*min(max((float64(x)+0.5-x0)/(whole-x0), 0), 1)
		}
		y0, y1 := p.bar(x0, x1, share)
		p.column(x, x0, x1, y0, y1, starting)
		p.column(x, x0, x1, y0, y0+edge, white)
		p.column(x, x0, x1, y1-edge, y1, white)
	}
	p.rect(x0, p.top, min(x0+edge, x1), p.top+p.height, white)
}

// loaded is solid, and the thicker the greater the load.
func (p pen) loaded(x0, x1 float64) {
	from := max(int(math.Floor(x0)), p.r.Min.X)
	for x := from; float64(x) < min(x1, float64(p.r.Max.X)); x++ {
		share := (loadedShare + fullShare) / 2
		a, b := p.when(float64(x)), p.when(float64(x)+1)
		if l := p.load(p.b.use, a, b); !math.IsNaN(l) {
			share = loadedShare + (fullShare-loadedShare)*min(max(l, 0), 1)
		}
		y0, y1 := p.bar(x0, x1, share)
		p.column(x, x0, x1, y0, y1, loaded)
	}
}

// limit is an edge with teeth on the far side.
func (p pen) limit(x float64) {
	k := p.scale
	y0, y1 := p.top-2*k, p.top+p.height+2*k
	p.rect(x-1.5*k, y0, x+1.5*k, y1, white)
	for y := y0; y < y1-2*k; y += 7 * k {
		p.stroke(x+k, y, x+8*k, y+7*k, 1.6*k, white)
	}
}

// tick is an event on the ribbon, with its word if there was room.
type tick struct {
	x    float64
	word string
	at   image.Point // of the word: left, baseline
	row  int
}

// ticks places the words of the events so far below the band; the newest is never left out.
func (p *places) ticks(t *typesetter, q pen) []tick {
	l := p.tickLetters()
	texts, lines := make([][][2]float64, wordRows), make([][]float64, wordRows)
	var out []tick
	for _, e := range slices.Backward(q.b.use.run.Events) {
		if !q.b.happened(e) {
			continue
		}
		k := tick{x: q.at(e.AtS.V), row: -1}
		if k.x < q.x0 || k.x > q.x1 {
			continue
		}
		word := eventWords(e)
		wide := t.set(l, word).wide
		if row, x, ok := p.room(texts, lines, k.x, wide, q); ok {
			k.row, k.word = row, word
			k.at = image.Pt(int(math.Round(x)), int(math.Round(p.bandTop+p.bandHeight+0.2*p.em+float64(row)*p.rowHeight+0.8*l.px)))
			texts[row] = append(texts[row], [2]float64{x, x + wide})
			for r := range row + 1 {
				lines[r] = append(lines[r], k.x)
			}
		}
		out = append(out, k)
	}
	return out
}

func (p *places) tickLetters() lettering { return lettering{px: wordEm * p.em} }

// room finds where a word fits: right of its tick or left of it, in the highest row. Neither word nor tick
// crosses another.
func (p *places) room(texts [][][2]float64, lines [][]float64, at, wide float64, q pen) (row int, left float64, ok bool) {
	k := p.scale
	for row := range texts {
		for _, r := range texts[:row] {
			if slices.ContainsFunc(r, func(w [2]float64) bool { return at > w[0]-4*k && at < w[1]+4*k }) {
				return 0, 0, false
			}
		}
		for _, x := range []float64{at + 5*k, at - 5*k - wide} {
			if x < q.x0 || x+wide > q.x1 {
				continue
			}
			beside := func(w [2]float64) bool { return x <= w[1]+9*k && x+wide >= w[0]-9*k }
			under := func(l float64) bool { return l >= x-4*k && l <= x+wide+4*k && math.Abs(l-at) >= 0.5 }
			if !slices.ContainsFunc(texts[row], beside) && !slices.ContainsFunc(lines[row], under) {
				return row, x, true
			}
		}
	}
	return 0, 0, false
}

// words paints ticks and words.
func (p pen) words(t *typesetter, l lettering, ticks []tick) {
	k := p.scale
	faded := white
	faded.A = 140
	bottom := p.top + p.height + 2*k
	for _, e := range ticks {
		p.rect(e.x-0.75*k, p.top-2*k, e.x+0.75*k, bottom, white)
		if e.word == "" {
			continue
		}
		p.rect(e.x-0.75*k, bottom, e.x+0.75*k, float64(e.at.Y)+0.1*l.px, faded)
		m := t.set(l, e.word).mask
		p.stamp(m, e.at.X+m.Rect.Min.X, e.at.Y+m.Rect.Min.Y, white)
	}
}
