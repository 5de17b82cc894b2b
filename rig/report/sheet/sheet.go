// Package sheet makes pages that are published, printed, or sent to a maker who disputes: of a unit, of the
// standings, and of one session.
//
// A page is one file of HTML that opens from disk: it holds its style and its plots, has no script and names
// no other host. Beside it every plot lies as a file of its own, NAME.svg and NAME.png in the folder plots.
// Curves come from the series that rig/report/series keeps, events and states from the stored analyses,
// numbers from rig/score: nothing is measured here. A value that could not be measured stands as a dash with
// the reason.
//
// A public name that has not been released on the day of the page is in none of its bytes, whatever people
// wrote in remarks or called a session; see package veil.
package sheet

import (
	"context"
	"errors"
	"fmt"

	"quern/rig"
	"quern/rig/report"
	"quern/rig/report/veil"
	"quern/rig/score"
)

// Options is what a page is made with.
type Options struct {
	Out    string            // folder for the page and its plots; made if it is missing
	Day    string            // of the page, 2026-12-01: by it names are released
	Dirs   map[string]string // folders of the sessions, by session
	Rules  string            // what the sessions were analysed under, in words
	Tool   string            // the program and its version
	Masked bool              // a unit's page holds nothing of other units
	Style  report.Style
	// Result returns the whole result of a record, of which scoring keeps a part.
	Result func(rec *rig.Record) (rig.Result, error)
}

// Made is what was written.
type Made struct {
	Page  string   // file of HTML
	Title string   // of the page
	Files []string // all files, the page first
}

// Unit makes the page of a unit. s is the ranking that the unit stands in.
func Unit(ctx context.Context, o Options, s *score.Standings, id string) (Made, error) {
	var line *score.Standing
	for i := range s.Lines {
		if s.Lines[i].Unit.Unit.ID == id {
			line = &s.Lines[i]
		}
	}
	if line == nil {
		return Made{}, fmt.Errorf("report: found unit %q, expected one that is scored", id)
	}
	b := newBook(o, s.Campaign, id)
	p, err := b.unit(ctx, s, line)
	if err != nil {
		return Made{}, err
	}
	return b.finish(ctx, id, "unit.html", p.Title, p)
}

// Standings makes the page of a ranking. Of moves, which may be nil, old is the ranking before them, and
// against says in words what it is.
func Standings(ctx context.Context, o Options, s, old *score.Standings, moves []score.Move, against string) (Made, error) {
	b := newBook(o, s.Campaign, "")
	p, err := b.standings(ctx, s, old, moves, against)
	if err != nil {
		return Made{}, err
	}
	return b.finish(ctx, "standings", "standings.html", p.Title, p)
}

// Session makes the page of one session.
func Session(ctx context.Context, o Options, c *score.Campaign, name string) (Made, error) {
	b := newBook(o, c, "")
	p, err := b.session(ctx, name)
	if err != nil {
		return Made{}, err
	}
	return b.finish(ctx, fileStem(b.veil.Text(name)), "session.html", p.Title, p)
}

// errNoRun is for a session that nothing can be said of.
var errNoRun = errors.New("no run of it is under the rules of the lab")

// book is a page while it is made.
type book struct {
	Options
	c     *score.Campaign
	veil  veil.Veil
	plots []*figure // to be drawn
	names map[string]int
}

// newBook begins a page; id is the unit that it is of, "" if it is of all.
func newBook(o Options, c *score.Campaign, id string) *book {
	b := &book{Options: o, c: c, names: map[string]int{}}
	b.veil = veil.New(c.Lab, o.Day, id, o.Masked && id != "")
	return b
}

// pair is a name and a value.
type pair struct{ Name, Value string }
