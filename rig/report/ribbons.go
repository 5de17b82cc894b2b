package report

import (
	"cmp"
	"slices"

	"quern/rig"
)

// Ribbons is a plot of the ribbons of many runs, small: a row for each unit, a column for each run of a
// procedure, one scale of time.
type Ribbons struct {
	Title  string
	LimitS float64 // of the procedure; 0: none
	Rows   []RibbonRow
}

// RibbonRow is the runs of one unit.
type RibbonRow struct {
	Name string
	Runs []*rig.Run // nil: nothing was detected
	Note []string   // beside each run, such as its outcome
}

func (r Ribbons) words() string { return r.Title + ": the ribbons of all runs" }

const (
	smallRibbon  = 16.0 // pt
	smallRowHigh = 34.0
)

// longest is the time that every cell covers, s: that of the longest run, or of the limit if that is near.
func (r Ribbons) longest() float64 {
	most := 1.0
	for _, row := range r.Rows {
		for _, run := range row.Runs {
			if run == nil {
				continue
			}
			if a, b, ok := extent(*run); ok {
				most = max(most, b-a)
			}
		}
	}
	if r.LimitS > 0 && r.LimitS < 3*most {
		most = max(most, r.LimitS)
	}
	return most
}

func (r Ribbons) columns() int {
	n := 1
	for _, row := range r.Rows {
		n = max(n, len(row.Runs))
	}
	return n
}

func (r Ribbons) plan(p *pen) func() {
	p.wide = 720
	p.height = 44 + smallRowHigh*float64(len(r.Rows)) + 50 + p.legendHeight() + 26
	return func() {
		p.fill(paper, corners(box{x1: p.wide, y1: p.height})...)
		title := letters{12, true, ink}
		p.write(title, 14, p.height-22, start, p.fit(title, r.Title, p.wide-28))
		p.legend(14 + p.legendHeight())
		const names, gap = 150.0, 14.0
		n := r.columns()
		wide := (p.wide - names - 14 - gap*float64(n-1)) / float64(n)
		longest := 1.04 * r.longest()
		bottom := p.height - 50 - smallRowHigh*float64(len(r.Rows))
		for c := range n {
			x0 := names + float64(c)*(wide+gap)
			t := axis{from: 0, to: longest, p0: x0, p1: x0 + wide}
			ticks, _ := timeTicks(t, max(1, int(wide/52)))
			for _, k := range ticks {
				p.line(stroke{0.5, faint, nil}, point{t.at(k.at), bottom}, point{t.at(k.at), p.height - 40})
				p.write(letters{8, false, soft}, t.at(k.at), bottom-11, middle, minutesShort(k.at))
			}
			p.line(stroke{0.7, soft, nil}, point{x0, bottom}, point{x0 + wide, bottom})
			for i, row := range r.Rows {
				if c < len(row.Runs) {
					y := p.height - 44 - smallRowHigh*float64(i+1)
					r.cell(p, row, c, t, y)
				}
			}
		}
		p.write(letters{8.5, true, soft}, names-24, bottom-11, end, "time, m:ss")
		for i, row := range r.Rows {
			y := p.height - 44 - smallRowHigh*float64(i+1)
			l := letters{9.5, true, ink}
			p.write(l, names-8, y+15, end, p.fit(l, row.Name, names-20))
		}
	}
}

// minutesShort prints whole seconds as m:ss.
func minutesShort(s float64) string { return minutes(s)[:len(minutes(s))-2] }

func (r Ribbons) cell(p *pen, row RibbonRow, c int, t axis, y float64) {
	small := letters{8, false, soft}
	run := row.Runs[c]
	if c < len(row.Note) && row.Note[c] != "" {
		p.write(small, t.p0, y+1, start, p.fit(small, row.Note[c], t.p1-t.p0))
	}
	mid := y + 12 + smallRibbon/2
	if run == nil {
		p.write(small, t.p0, mid-3, start, p.fit(small, "nothing was detected", t.p1-t.p0))
		return
	}
	from, to, ok := extent(*run)
	if !ok {
		return
	}
	b := box{y0: y + 12, y1: y + 12 + smallRibbon}
	all := stretches([]rig.Run{*run}, from, to)
	slices.SortStableFunc(all, func(a, b stretch) int { return cmp.Compare(gravity(a.state), gravity(b.state)) })
	for _, s := range all {
		b.x0, b.x1 = t.at(s.fromS-from), t.at(s.toS-from)
		if gravity(s.state) > 1 {
			b.x1 = max(b.x1, b.x0+2.5)
		}
		if s.state == rig.Tripped {
			p.fill(paper, corners(b)...)
			continue
		}
		p.band(s.state, b, nil)
	}
	for _, e := range run.Events {
		if at, ok := e.AtS.Value(); ok && e.Kind == rig.Trip && at >= from && at <= to+1e-9 {
			p.cross(t.at(at-from)+1, mid)
		}
	}
	if at, ok := LimitAt(*run, r.LimitS); ok && t.holds(at-from) {
		p.line(stroke{1.4, ink, nil}, point{t.at(at - from), b.y0 - 2}, point{t.at(at - from), b.y1 + 2})
		for q := b.y0; q < b.y1; q += 5 {
			p.line(stroke{0.7, ink, nil}, point{t.at(at - from), q + 4}, point{t.at(at-from) + 3, q})
		}
	}
}
