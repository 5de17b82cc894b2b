package recording

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"quern/rig"
)

// HandRun is one row of a table of results that were taken by hand.
type HandRun struct {
	Line      int
	Unit      string
	Procedure string
	Date      time.Time // of a day without a time of day: its midnight, UTC
	Timed     bool      // the table gives the time of day too
	Who       string
	Note      string
	Measures  []HandMeasure
}

// HandMeasure is one cell of it.
type HandMeasure struct {
	Name string
	Text string // a number, as it was written
}

// Columns of the table beside those of measures; who and note may be missing.
var handColumns = []string{"unit", "procedure", "date", "who", "note"}

const maxHandBytes = 16 << 20

// ReadHandRuns reads a table of results taken by hand: a header of unit, procedure, date, who, note and
// names of measures, then a run a row. An empty cell is a value that was not taken. Errors are of type
// *rig.FileError.
func ReadHandRuns(r io.Reader, name string) ([]HandRun, error) {
	c := csv.NewReader(io.LimitReader(r, maxHandBytes))
	c.FieldsPerRecord, c.Comment = -1, '#'
	t := &handTable{name: name, csv: c}
	if err := t.header(); err != nil {
		return nil, err
	}
	var out []HandRun
	for {
		run, err := t.row()
		if err == io.EOF {
			if len(out) == 0 {
				return nil, t.fail("no row", "at least one run", "")
			}
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		out = append(out, run)
	}
}

type handTable struct {
	name   string
	csv    *csv.Reader
	line   int
	column []string
}

func (t *handTable) fail(found, want, do string) error {
	return &rig.FileError{File: t.name, Line: t.line, Byte: -1, Found: found, Want: want, Do: do}
}

func (t *handTable) read() ([]string, error) {
	row, err := t.csv.Read()
	if err == io.EOF {
		return nil, err
	}
	var p *csv.ParseError
	if errors.As(err, &p) {
		t.line = p.Line
		return nil, t.fail("what is no CSV ("+p.Err.Error()+")", "fields separated by commas", "save the table as CSV with commas")
	}
	if err != nil {
		return nil, t.fail(rig.Closed(err), "a table", "name a CSV file")
	}
	t.line, _ = t.csv.FieldPos(0)
	return row, nil
}

func (t *handTable) header() error {
	row, err := t.read()
	if err == io.EOF {
		t.line = 1
		return t.fail("an empty file", "a header such as unit,procedure,date,who,note,run_time_s,left_share", "")
	}
	if err != nil {
		return err
	}
	if len(row) > 0 {
		row[0] = strings.TrimPrefix(row[0], "\ufeff")
	}
	for _, c := range row {
		c = strings.TrimSpace(c)
		m, ok := rig.FindMeasure(c)
		switch {
		case slices.Contains(t.column, c):
			return t.fail("column "+quote([]byte(c))+" twice", "each column once", "remove one of the two")
		case !slices.Contains(handColumns, c) && (!ok || m.Part == rig.OfHand):
			return t.fail("column "+quote([]byte(c)), "unit, procedure, date, who, note or the name of a measure, such as run_time_s", "rename or remove the column")
		}
		t.column = append(t.column, c)
	}
	for _, need := range handColumns[:3] {
		if !slices.Contains(t.column, need) {
			return t.fail("no column "+need, "unit, procedure, date and measures", "add the column")
		}
	}
	return nil
}

func (t *handTable) row() (HandRun, error) {
	row, err := t.read()
	if err != nil {
		return HandRun{}, err
	}
	run := HandRun{Line: t.line}
	if len(row) != len(t.column) {
		return run, t.fail(fmt.Sprintf("%d fields", len(row)), fmt.Sprintf("%d, as in the header", len(t.column)), "leave a cell empty for a value that was not taken")
	}
	for i, cell := range row {
		cell = strings.TrimSpace(cell)
		switch c := t.column[i]; c {
		case "unit":
			run.Unit = cell
		case "procedure":
			run.Procedure = cell
		case "who":
			if run.Who = cell; len(cell) > rig.LongestWord {
				return run, t.fail(fmt.Sprintf("a name of %d bytes", len(cell)), fmt.Sprintf("at most %d", rig.LongestWord), "shorten it")
			}
		case "note":
			if run.Note = cell; len(cell) > rig.LongestText {
				return run, t.fail(fmt.Sprintf("a note of %d bytes", len(cell)), fmt.Sprintf("at most %d", rig.LongestText), "shorten it")
			}
		case "date":
			if run.Date, run.Timed, err = date(cell); err != nil {
				return run, t.fail("date "+quote([]byte(cell)), "a day such as 2024-05-31, or a time such as 2024-05-31T10:00:00Z", "")
			}
		default:
			if cell == "" {
				continue
			}
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
				return run, t.fail(c+" "+quote([]byte(cell)), "a number such as 12.4", "use a decimal point and no unit; leave the cell empty if it was not taken")
			}
			if m, _ := rig.FindMeasure(c); m.Fits(v) != nil {
				want := "0 or more"
				switch {
				case m.Share():
					want = "a share such as 0.05 for 5 %"
				case math.Abs(v) > rig.MostNumber:
					want = fmt.Sprintf("at most %.0f", rig.MostNumber)
				}
				return run, t.fail(c+" "+quote([]byte(cell)), want, "correct it, or leave the cell empty if it was not taken")
			}
			run.Measures = append(run.Measures, HandMeasure{c, cell})
		}
	}
	if len(run.Measures) == 0 {
		return run, t.fail("a row without any measure", "at least one", "remove the row")
	}
	return run, nil
}

func date(s string) (t time.Time, timed bool, err error) {
	if d, err := time.Parse(time.DateOnly, s); err == nil {
		return d, false, nil
	}
	t, err = time.Parse(time.RFC3339, s)
	return t, true, err
}
