// Package export writes what a campaign came to, and what it came from, as tables: one file a table, as CSV, JSON, line
// protocol or Parquet, and a stretch of a recording as WAV.
//
// The tables and their columns are fixed: [Tables] lists them with unit and meaning, the table columns says the same in
// every export, and a test holds them to what earlier versions wrote. A column may be added at the end of a table; none
// changes its name, type, unit or meaning without a new [Format].
//
// Times named _s count seconds from the session's start; utc is the same instant by the bench's clock, a label. What
// could not be measured is absent (null, an empty cell, no field), and a column says why. A text that is empty is
// absent too.
package export

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"quern/rig"
	"quern/rig/intact"
	"quern/rig/score"
)

// Format is the version of the tables.
const Format = 1

// Options is what an export is made of.
type Options struct {
	Campaign *score.Campaign
	Records  []rig.Record // of which it was made, those too that no run could be made of
	Hand     []rig.HandValue
	Dirs     map[string]string // folder of each session, by its name
	Day      string            // by which names are released, such as 2026-03-31
	Sums     []string          // which rules and facts made it, in words
	Tables   []string          // names of tables; see Select
	Forms    []string          // of Forms
	Mass     string            // a further unit of mass for reading; "" or "g": none
	StepS    float64           // of series; 0: each at its own pace
	BOM      bool              // CSV begins with a byte order mark
	Step     func(done, of int)
}

// Forms lists the forms of tables, in the order in which help names them.
var Forms = []string{"csv", "json", "parquet", "line"}

var endings = map[string]string{"csv": ".csv", "json": ".json", "parquet": ".parquet", "line": ".lp"}

// writer writes one table in one form.
type writer interface {
	row(cells []Cell) error
	// close writes what is left.
	close() error
}

func newWriter(form string, w io.Writer, t Table, bom bool) (writer, error) {
	switch form {
	case "csv":
		return newCSV(w, t, bom)
	case "json":
		return newJSON(w, t), nil
	case "line":
		return newLines(w, t), nil
	}
	return newParquet(w, t)
}

// Write writes the tables into the folder out, which must not be there or be empty. It appears whole or not at all.
func Write(ctx context.Context, out string, o Options) error {
	out, err := filepath.Abs(out)
	if err != nil {
		return err
	}
	if entries, err := os.ReadDir(out); err == nil && len(entries) > 0 || err != nil && !errors.Is(err, os.ErrNotExist) {
		return &rig.FileError{File: out, Byte: -1, Found: "something there already", Want: "a folder that is not there, or is empty", Do: "name another"}
	}
	return intact.Folder(out, func(begun string) error {
		if err := write(ctx, begun, o); err != nil {
			return err
		}
		if err := os.Remove(out); err != nil && !errors.Is(err, os.ErrNotExist) { // an empty folder: nothing else is taken away
			return err
		}
		return nil
	})
}

func write(ctx context.Context, dir string, o Options) (err error) {
	in := &input{Options: o}
	chosen, err := tablesOf(o.Tables)
	if err != nil {
		return err
	}
	series := map[string]func([]Cell) error{}
	var open []*sheet
	defer func() {
		for _, s := range open {
			err = errors.Join(err, s.abandon())
		}
	}()
	for _, t := range chosen {
		s, err := openSheet(dir, t, o)
		if err != nil {
			return err
		}
		open = append(open, s)
		if t.Series {
			series[t.Name] = s.row
			continue
		}
		if err := t.rows(in, s.row); err != nil {
			return fmt.Errorf("table %s: %w", t.Name, err)
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
	}
	if len(series) > 0 {
		if err := in.walk(ctx, series); err != nil {
			return err
		}
	}
	for _, s := range open {
		if err := s.close(); err != nil {
			return err
		}
	}
	open = nil
	return nil
}

// sheet is a table being written, in all forms at once.
type sheet struct {
	table   Table // as it is written
	mass    []massColumn
	files   []*os.File
	writers []writer
}

func openSheet(dir string, t Table, o Options) (*sheet, error) {
	s := &sheet{}
	s.table, s.mass = t.withMass(o.Mass)
	for _, form := range o.Forms {
		f, err := os.Create(filepath.Join(dir, t.Name+endings[form]))
		if err != nil {
			return s, errors.Join(err, s.abandon())
		}
		s.files = append(s.files, f)
		w, err := newWriter(form, f, s.table, o.BOM)
		if err != nil {
			return s, errors.Join(err, s.abandon())
		}
		s.writers = append(s.writers, w)
	}
	return s, nil
}

func (s *sheet) row(cells []Cell) error {
	if len(cells)+len(s.mass) != len(s.table.Columns) {
		return fmt.Errorf("table %s has %d columns, a row of it %d cells", s.table.Name, len(s.table.Columns), len(cells)+len(s.mass))
	}
	for _, m := range s.mass {
		cells = append(cells, m.of(cells))
	}
	for i := range cells {
		if !cells[i].fits(s.table.Columns[i]) {
			return fmt.Errorf("table %s, column %s: a cell of another type", s.table.Name, s.table.Columns[i].Name)
		}
	}
	for _, w := range s.writers {
		if err := w.row(cells); err != nil {
			return err
		}
	}
	return nil
}

func (s *sheet) close() error {
	for _, w := range s.writers {
		if err := w.close(); err != nil {
			return err
		}
	}
	for _, f := range s.files {
		if err := errors.Join(f.Sync(), f.Close()); err != nil {
			return err
		}
	}
	s.files = nil
	return nil
}

func (s *sheet) abandon() error {
	for _, f := range s.files {
		_ = f.Close() // it is thrown away
	}
	s.files = nil
	return nil
}

// Words that stand for several tables.
const (
	AllTables = "all"
	NoSeries  = "tables"
	AllSeries = "series"
)

// Select returns the names of the tables that words name: tables, and groups of them (tables, series, all). The table
// columns is always among them.
func Select(words []string) ([]string, error) {
	var out []string
	for _, w := range words {
		found := false
		for _, t := range Tables() {
			if w == t.Name || w == AllTables || w == AllSeries && t.Series || w == NoSeries && !t.Series {
				found = true
				if !slices.Contains(out, t.Name) {
					out = append(out, t.Name)
				}
			}
		}
		if !found {
			var names []string
			for _, t := range Tables() {
				names = append(names, t.Name)
			}
			return nil, fmt.Errorf("found table %q, expected %s, %s, %s, or some of %s", w, NoSeries, AllSeries, AllTables, strings.Join(names, ", "))
		}
	}
	if !slices.Contains(out, "columns") {
		out = append(out, "columns")
	}
	return out, nil
}

func tablesOf(names []string) ([]Table, error) {
	var out []Table
	for _, t := range Tables() {
		if slices.Contains(names, t.Name) {
			out = append(out, t)
		}
	}
	if len(out) == 0 {
		return nil, errors.New("no table is chosen")
	}
	return out, nil
}

// input is what tables are made from.
type input struct{ Options }

// utc is an instant of a session as a label.
func utc(started time.Time, atS float64) Cell {
	return Cell{kind: Instant, n: started.Add(time.Duration(atS * 1e9)).UTC().Round(time.Millisecond).UnixNano()}
}

// released says what a unit may be called.
func (in *input) released(unit string) Cell {
	if u := in.Campaign.Lab.Unit(unit); u != nil {
		return text(u.Shown(in.Day))
	}
	return text(unit)
}
