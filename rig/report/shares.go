package report

import (
	"fmt"

	"quern/rig"
)

// Balance is a plot of where the charge of each run was found.
type Balance struct {
	Title string
	Runs  []BalanceRun
	Mass  MassUnit
}

// BalanceRun is the mass balance of one run, net masses in g. What was not weighed is absent.
type BalanceRun struct {
	Name                                   string
	InputG, LeftG, CoarseG, FineG, PassedG rig.Figure
}

// parts of a bar, from the left.
var balanceParts = []struct {
	word string
	of   func(BalanceRun) rig.Figure
}{
	{"left in the chamber", func(r BalanceRun) rig.Figure { return r.LeftG }},
	{"on the coarse sieve", func(r BalanceRun) rig.Figure { return r.CoarseG }},
	{"on the fine sieve", func(r BalanceRun) rig.Figure { return r.FineG }},
	{"through both sieves, collected", func(r BalanceRun) rig.Figure { return r.PassedG }},
}

const restWord = "not weighed: went down the drain"

func (b Balance) words() string { return b.Title + ": where the charge of each run was found" }

// part draws part i of a bar, by pattern first and shade second.
func (b Balance) part(p *pen, i int, at box) {
	p.fill(paper, corners(at)...)
	switch i {
	case 0:
		p.fill(blue, corners(at)...)
	case 1:
		p.rule(stroke{0.9, ink, nil}, at, 5, 1)
		p.rule(stroke{0.9, ink, nil}, at, 5, -1)
	case 2:
		p.rule(stroke{0.9, ink, nil}, at, 5, 1)
	case 3:
		p.fill(sky, corners(at)...)
	default:
		p.outline(stroke{0.8, soft, []float64{1.5, 2.5}}, at)
		return
	}
	p.outline(stroke{0.8, ink, nil}, at)
}

// extents returns the greatest share of the input that any bar reaches, at least 1.
func (b Balance) extent() float64 {
	most := 1.0
	for _, r := range b.Runs {
		in, ok := r.InputG.Value()
		if !ok || in <= 0 {
			continue
		}
		sum := 0.0
		for _, k := range balanceParts {
			if v, ok := k.of(r).Value(); ok {
				sum += v
			}
		}
		most = max(most, min(sum/in, 3))
	}
	return most
}

func (b Balance) plan(p *pen) func() {
	const barHigh, gap, low = 18.0, 12.0, 60.0
	p.wide = 720
	n := float64(len(b.Runs))
	p.height = low + n*(barHigh+gap) + 56
	x := axis{from: 0, to: 1.02 * b.extent(), p0: 150, p1: p.wide - 92}
	return func() {
		p.fill(paper, corners(box{x1: p.wide, y1: p.height})...)
		title, small := letters{12, true, ink}, letters{9, false, ink}
		p.write(title, 14, p.height-22, start, p.fit(title, b.Title, p.wide-28))
		bottom, top := low, low+n*(barHigh+gap)
		for _, k := range ticksOf(x, 0.2, func(v float64) string { return fixed(100*v, 0) }) {
			p.line(stroke{0.5, faint, nil}, point{x.at(k.at), bottom}, point{x.at(k.at), top})
			p.line(stroke{0.7, ink, nil}, point{x.at(k.at), bottom}, point{x.at(k.at), bottom - 4})
			p.write(small, x.at(k.at), bottom-15, middle, k.text)
		}
		p.line(stroke{0.7, ink, nil}, point{x.p0, bottom}, point{x.p1, bottom})
		p.write(letters{9.5, true, ink}, x.p1+8, bottom-15, start, "% of the charge")
		for i, r := range b.Runs {
			y := top - float64(i+1)*(barHigh+gap) + gap/2
			p.write(small, x.p0-8, y+5, end, p.fit(small, r.Name, x.p0-20))
			b.bar(p, r, x, y, barHigh)
		}
		p.line(stroke{1.2, ink, nil}, point{x.at(1), bottom}, point{x.at(1), top + 4})
		p.write(small, x.at(1), top+8, middle, "all of it")
		b.legend(p)
	}
}

func (b Balance) bar(p *pen, r BalanceRun, x axis, y, high float64) {
	small := letters{9, false, ink}
	in, ok := r.InputG.Value()
	if !ok || in <= 0 {
		p.write(small, x.p0+4, y+5, start, "the charge was not weighed")
		return
	}
	at := 0.0
	for i, k := range balanceParts {
		v, ok := k.of(r).Value()
		if !ok || v <= 0 {
			continue
		}
		to := min(at+v/in, x.to)
		b.part(p, i, box{x0: x.at(at), y0: y, x1: max(x.at(to), x.at(at)+0.8), y1: y + high})
		at = to
	}
	if _, collected := r.PassedG.Value(); !collected && at < 1 {
		b.part(p, len(balanceParts), box{x0: x.at(at), y0: y, x1: x.at(1), y1: y + high})
	}
	p.write(small, x.p1+8, y+5, start, fmt.Sprintf("in: %s", Style{Mass: b.Mass}.grams(in)))
}

func (b Balance) legend(p *pen) {
	l := letters{9, false, ink}
	x, y := 14.0, 26.0
	for i := range len(balanceParts) + 1 {
		word := restWord
		if i < len(balanceParts) {
			word = balanceParts[i].word
		}
		w := 26 + slack*p.width(l, word)
		if x+w > p.wide-8 {
			x, y = 14, y-17
		}
		b.part(p, i, box{x0: x, y0: y - 2, x1: x + 20, y1: y + 8})
		p.write(l, x+25, y, start, word)
		x += w + 14
	}
}
