package exam

import (
	"fmt"
	"io"
	"math"
	"slices"

	"quern/rig"
)

// Book gathers the cards of many sessions.
type Book struct {
	Sessions int
	Failed   int // sessions with any event missed or made up
	found    map[rig.Kind]int
	missed   map[rig.Kind]int
	made     map[rig.Kind]int
	timing   map[rig.Kind][]float64
	errors   map[string][]float64
	absent   map[string]int
}

// NewBook returns an empty book.
func NewBook() *Book {
	return &Book{found: map[rig.Kind]int{}, missed: map[rig.Kind]int{}, made: map[rig.Kind]int{},
		timing: map[rig.Kind][]float64{}, errors: map[string][]float64{}, absent: map[string]int{}}
}

// Add enters a card.
func (b *Book) Add(c Card) {
	b.Sessions++
	if len(c.Misses) > 0 {
		b.Failed++
	}
	for k, ds := range c.Hits {
		b.found[k] += len(ds)
		b.timing[k] = append(b.timing[k], ds...)
	}
	for _, m := range c.Misses {
		if m.Made {
			b.made[m.Kind]++
		} else {
			b.missed[m.Kind]++
		}
	}
	for name, ds := range c.Errors {
		b.errors[name] = append(b.errors[name], ds...)
	}
	for _, name := range c.Absent {
		b.absent[name]++
	}
}

// Recall is the share of true events of a kind that were found; absent if none occurred.
func (b *Book) Recall(k rig.Kind) rig.Figure {
	return share(b.found[k], b.missed[k], "none-occurred")
}

// Precision is the share of found events of a kind that are true; absent if none was found.
func (b *Book) Precision(k rig.Kind) rig.Figure { return share(b.found[k], b.made[k], "none-found") }

func share(hits, others int, why string) rig.Figure {
	if hits+others == 0 {
		return rig.Absent(why)
	}
	return rig.Fig(float64(hits) / float64(hits+others))
}

// Timing returns the median and the worst of the timing errors of a kind, s.
func (b *Book) Timing(k rig.Kind) (median, worst float64) { return spread(b.timing[k]) }

// Error returns the median and the worst of the errors of a figure.
func (b *Book) Error(name string) (median, worst float64) { return spread(b.errors[name]) }

// spread returns the median and the largest of the magnitudes.
func spread(v []float64) (median, worst float64) {
	if len(v) == 0 {
		return 0, 0
	}
	m := make([]float64, len(v))
	for i, x := range v {
		m[i] = math.Abs(x)
	}
	slices.Sort(m)
	return m[len(m)/2], m[len(m)-1]
}

// Print writes the book as two tables.
func (b *Book) Print(w io.Writer) error {
	p := &printer{w: w}
	p.line("%d sessions, %d with an event missed or made up", b.Sessions, b.Failed)
	p.line("%-22s %6s %7s %7s %9s %9s %12s %12s", "event", "true", "missed", "made up", "recall", "precision", "median, s", "worst, s")
	kinds := slices.Clone(rig.Kinds)
	for _, m := range []map[rig.Kind]int{b.missed, b.made} {
		for k := range m {
			if !slices.Contains(kinds, k) {
				kinds = append(kinds, k)
			}
		}
	}
	slices.Sort(kinds[len(rig.Kinds):])
	for _, k := range kinds {
		median, worst := "-", "-"
		if b.found[k] > 0 {
			m, w := b.Timing(k)
			median, worst = fmt.Sprintf("%.4f", m), fmt.Sprintf("%.4f", w)
		}
		recall, precision := p.share(b.Recall(k)), p.share(b.Precision(k))
		p.line("%-22s %6d %7d %7d %9s %9s %12s %12s", k, b.found[k]+b.missed[k], b.missed[k], b.made[k], recall, precision, median, worst)
	}
	if p.absent {
		p.line("-: nothing to take a share or a time of. A recall is absent where none occurred, a precision where none was")
		p.line("found, and a time where no true one was found. More seeds, or --difficulty hostile, have more kinds in them.")
	}
	p.line("")
	p.line("%-22s %6s %7s %12s %12s", "figure", "n", "absent", "median error", "worst error")
	var names []string
	for name := range b.errors {
		names = append(names, name)
	}
	for name := range b.absent {
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	for _, name := range names {
		median, worst := "-", "-" // of none that was measured
		if len(b.errors[name]) > 0 {
			m, w := b.Error(name)
			median, worst = fmt.Sprintf("%.4f", m), fmt.Sprintf("%.4f", w)
		}
		p.line("%-22s %6d %7d %12s %12s", name, len(b.errors[name]), b.absent[name], median, worst)
	}
	return p.err
}

type printer struct {
	w      io.Writer
	err    error
	absent bool // a share was
}

func (p *printer) share(f rig.Figure) string {
	v, ok := f.Value()
	if !ok {
		p.absent = true
		return "-"
	}
	return fmt.Sprintf("%.4f", v)
}

func (p *printer) line(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format+"\n", args...)
	}
}
