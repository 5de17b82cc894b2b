package report

import (
	"cmp"
	"fmt"
	"slices"

	"quern/rig"
)

// ribbon draws the motor's states, their names below where there is room, and the runs.
func (p *pen) ribbon(pic Picture, b box, t axis) {
	head := letters{9.5, true, ink}
	p.write(head, b.x0-7, (b.y0+b.y1)/2-3, end, "motor")
	all := stretches(pic.Result.Runs, t.from, t.to)
	if len(all) == 0 {
		p.write(letters{10, false, soft}, (b.x0+b.x1)/2, (b.y0+b.y1)/2-3, middle, "no run was found")
		return
	}
	cols := int(t.p1 - t.p0)
	var load func(x float64) float64
	if at := loadOf(all, pic.Result.Runs, pic.Current, cols, t.from, t.to); at != nil {
		load = func(x float64) float64 { return at(t.from + (x-t.p0)/(t.p1-t.p0)*(t.to-t.from)) }
	}
	// What is rare and grave is drawn last and never thinner than can be seen.
	slices.SortStableFunc(all, func(a, b stretch) int { return cmp.Compare(gravity(a.state), gravity(b.state)) })
	word := letters{8.5, false, ink}
	var words []box
	for _, s := range all {
		x := box{x0: t.at(s.fromS), y0: b.y0, x1: t.at(s.toS), y1: b.y1}
		if gravity(s.state) > 1 {
			x.x1 = max(x.x1, x.x0+2.5)
		}
		p.band(s.state, x, load)
		if w := p.width(word, string(s.state)); s.run >= 0 && x.x1-x.x0 > w+6 {
			m := (x.x0 + x.x1) / 2
			words = append(words, box{x0: m - w/2 - 2, y0: b.y0 - 12, x1: m + w/2 + 2, y1: b.y0 - 2, w: string(s.state)})
		}
	}
	for i, w := range words {
		// A grave state widened to be seen may come to lie under a neighbour's name.
		if !slices.ContainsFunc(words[i+1:], w.overlaps) {
			p.write(word, (w.x0+w.x1)/2, w.y0+2, middle, w.w)
		}
	}
	for i, r := range pic.Result.Runs {
		p.runSpan(i, r, b, t)
	}
}

// gravity orders the states for drawing.
func gravity(s rig.State) int {
	switch s {
	case rig.Off:
		return 0
	case rig.Overloaded:
		return 2
	case rig.Tripped:
		return 3
	case rig.Stalled:
		return 4
	}
	return 1
}

// runSpan draws the span of a run below the ribbon, with its number, and the mark of a trip that
// ends it.
func (p *pen) runSpan(i int, r rig.Run, b box, t axis) {
	from, to, ok := extent(r)
	if !ok || to < t.from || from > t.to {
		return
	}
	for _, e := range r.Events {
		if at, ok := e.AtS.Value(); ok && e.Kind == rig.Trip && t.holds(at) {
			x := t.at(at)
			mid := (b.y0 + b.y1) / 2
			p.fill(paper, corners(box{x0: x + 0.8, y0: mid - 6, x1: x + 14, y1: mid + 6})...)
			p.cross(x+3, mid)
		}
	}
	l := letters{8.5, false, soft}
	x0, x1, y := t.at(t.clip(from)), t.at(t.clip(to)), b.y0-19
	s := stroke{0.8, soft, nil}
	word := fmt.Sprintf("run %d", i+1)
	w := p.width(l, word)
	if x1-x0 < w+20 {
		p.line(s, point{x0, y}, point{x1, y})
	} else {
		p.line(s, point{x0, y}, point{(x0+x1-w)/2 - 4, y})
		p.line(s, point{(x0+x1+w)/2 + 4, y}, point{x1, y})
		p.write(l, (x0+x1)/2, y-3, middle, word)
	}
	p.line(s, point{x0, y - 3}, point{x0, y + 3})
	p.line(s, point{x1, y - 3}, point{x1, y + 3})
}

// labelsOf returns the labels of the events and of the time limits in view, each in its row.
func (p *pen) labelsOf(pic Picture, t axis) []label {
	var ls []label
	for i, r := range pic.Result.Runs {
		if pic.Run >= 0 && pic.Run != i {
			continue
		}
		for _, e := range r.Events {
			if at, ok := e.AtS.Value(); ok && t.holds(at) {
				word := KindWords(e.Kind)
				if sure, ok := e.Sure.Value(); ok && sure < 0.5 {
					word += "?"
				}
				ls = append(ls, label{x: t.at(at), word: word, grave: grave(e.Kind)})
			}
		}
	}
	for _, at := range limitsOf(pic) {
		if t.holds(at) {
			ls = append(ls, label{x: t.at(at), word: "limit " + minutes(pic.LimitS), strong: true})
		}
	}
	slices.SortStableFunc(ls, func(a, b label) int { return cmp.Compare(a.x, b.x) })
	return place(ls, labelRows, func(s string) float64 { return p.width(labelLetters, Clean(s)) + 4 })
}

// grave says whether an event must not be lost among others.
func grave(k rig.Kind) bool {
	switch k {
	case rig.StallStart, rig.StallEnd, rig.OverloadStart, rig.OverloadEnd, rig.Trip:
		return true
	}
	return false
}

// labelY is the baseline of a label above the ribbon.
func labelY(ribbon box, l label) float64 { return ribbon.y1 + 8 + labelHeight*float64(l.row) }

var labelLetters = letters{9, false, ink}

// leaders draws the labels and their leaders, the ticks of the events.
func (p *pen) leaders(ls []label, b box) {
	for _, l := range ls {
		y := labelY(b, l)
		p.line(stroke{0.7, soft, nil}, point{l.x, b.y1 - 3}, point{l.x, y + 8})
		p.write(labelLetters, l.x+3, y, start, l.word)
	}
}

// limits draws the edge that a run may not pass, across the panels, and across the ribbon as high as
// its label.
func (p *pen) limits(ls []label, ribbon box, panels []box) {
	for _, l := range ls {
		if !l.strong {
			continue
		}
		edge, tooth := stroke{1.6, ink, nil}, stroke{0.8, ink, nil}
		p.line(edge, point{l.x, ribbon.y0}, point{l.x, labelY(ribbon, l) + 8})
		for _, b := range append([]box{ribbon}, panels...) {
			p.line(edge, point{l.x, b.y0}, point{l.x, b.y1})
			for y := b.y0 + 6; y <= b.y1; y += 10 {
				p.line(tooth, point{l.x, y}, point{l.x + 5, y - 5})
			}
		}
	}
}

// limitsOf returns the instants at which the runs shown reach the time limit, or would have, had
// they gone on; those that come after the next run began are left out.
func limitsOf(pic Picture) []float64 {
	var out []float64
	if !(pic.LimitS > 0) {
		return nil
	}
	runs := pic.Result.Runs
	for i, r := range runs {
		if pic.Run >= 0 && pic.Run != i {
			continue
		}
		at, ok := limitAt(r, pic.LimitS)
		if ok && i+1 < len(runs) {
			if next, _, known := extent(runs[i+1]); known && next < at {
				ok = false
			}
		}
		if ok {
			out = append(out, at)
		}
	}
	return out
}

// limitAt returns when the clock of a run's RunTimeS reaches the limit.
func limitAt(r rig.Run, limitS float64) (float64, bool) {
	from, to, ok := extent(r)
	if !ok {
		return 0, false
	}
	runTime, okRun := r.RunTimeS.Value()
	elapsed, okElapsed := r.ElapsedS.Value()
	if !okRun || !okElapsed || runTime == elapsed {
		return from + limitS, true // the clock goes on in pauses, or there were none
	}
	on, since, running := 0.0, 0.0, false
	for _, e := range r.Events {
		at, ok := e.AtS.Value()
		switch {
		case !ok:
		case e.Kind == rig.MotorStart && !running:
			since, running = at, true
		case (e.Kind == rig.MotorStop || e.Kind == rig.Trip) && running:
			if on+at-since >= limitS {
				return since + limitS - on, true
			}
			on, running = on+at-since, false
		}
	}
	return to + max(limitS-on, 0), true
}
