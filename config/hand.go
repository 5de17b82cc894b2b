package config

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"quern/rig"
)

// HandFile holds what was entered by hand about units; lines are added, never changed.
const HandFile = "hand.csv"

// handColumns are those of HandFile, in order.
var handColumns = []string{"unit", "name", "value", "u", "note", "who", "at"}

// HandHeader is the first line of a new HandFile.
func HandHeader() string { return strings.Join(handColumns, ",") + "\n" }

// HandLine writes a value as a line of HandFile.
func HandLine(v rig.HandValue) string {
	u := ""
	if v.U > 0 {
		u = strconv.FormatFloat(v.U, 'g', -1, 64)
	}
	var b strings.Builder
	w := csv.NewWriter(&b)
	w.Write([]string{v.Unit, v.Name, strconv.FormatFloat(v.Value, 'g', -1, 64), u, plainCell(v.Note), plainCell(v.Who), v.At.UTC().Format(time.RFC3339)})
	w.Flush()
	return b.String()
}

// plainCell keeps a text on one line and from being taken for a formula by a spreadsheet.
func plainCell(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if s != "" && strings.ContainsRune("=+-@", rune(s[0])) {
		s = "'" + s
	}
	return s
}

// ReadHand reads what was entered by hand; a lab without the file has nothing of the kind. Every unit must
// be one of the lab's, every name one of its scorecard's hand.NAME measures.
func (l *Lab) ReadHand(fsys fs.FS) ([]rig.HandValue, error) {
	f, err := fsys.Open(HandFile)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, unreadable(HandFile, "what was entered by hand", err)
	}
	defer f.Close()
	r := csv.NewReader(io.LimitReader(f, longest))
	r.FieldsPerRecord, r.Comment = -1, '#'
	var out []rig.HandValue
	for head := true; ; head = false {
		row, err := r.Read()
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return nil, csvFault(err)
		}
		line, _ := r.FieldPos(0)
		if head {
			if !slices.Equal(row, handColumns) {
				return nil, handFault(line, "the header "+strconv.Quote(clip(strings.Join(row, ","))), strings.TrimSpace(HandHeader()), "")
			}
			continue
		}
		v, err := l.handRow(row, line)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
}

func handFault(line int, found, want, do string) error {
	return &rig.FileError{File: HandFile, Line: line, Byte: -1, Found: found, Want: want, Do: do}
}

func csvFault(err error) error {
	var p *csv.ParseError
	if errors.As(err, &p) {
		return &rig.FileError{File: HandFile, Line: p.Line, Column: p.Column, Byte: -1, Found: "what is no CSV (" + p.Err.Error() + ")", Want: "fields separated by commas", Err: err}
	}
	return &rig.FileError{File: HandFile, Byte: -1, Found: err.Error(), Want: "a table", Err: err}
}

func (l *Lab) handRow(row []string, line int) (v rig.HandValue, err error) {
	if len(row) != len(handColumns) {
		return v, handFault(line, fmt.Sprintf("%d fields", len(row)), fmt.Sprintf("%d: %s", len(handColumns), strings.TrimSpace(HandHeader())), "")
	}
	v = rig.HandValue{Unit: row[0], Name: row[1], Note: row[4], Who: row[5]}
	if err := l.HandNamed(v.Unit, v.Name); err != nil {
		var e *rig.FileError
		if errors.As(err, &e) {
			e.File, e.Line = HandFile, line
		}
		return v, err
	}
	if v.Value, err = strconv.ParseFloat(row[2], 64); err != nil || math.IsNaN(v.Value) || math.IsInf(v.Value, 0) {
		return v, handFault(line, "value "+strconv.Quote(clip(row[2])), "a number", "")
	}
	if row[3] != "" {
		if v.U, err = strconv.ParseFloat(row[3], 64); err != nil || !(v.U >= 0) || math.IsInf(v.U, 0) {
			return v, handFault(line, "u "+strconv.Quote(clip(row[3])), "a standard uncertainty of 0 or more, or nothing", "")
		}
	}
	if v.At, err = time.Parse(time.RFC3339, row[6]); err != nil {
		return v, handFault(line, "at "+strconv.Quote(clip(row[6])), "a time such as 2026-03-01T10:00:00Z", "")
	}
	return v, nil
}

// HandNamed tells whether a value of that name may be entered for a unit.
func (l *Lab) HandNamed(unit, name string) error {
	var units, names []string
	for _, u := range l.Units {
		units = append(units, u.ID)
	}
	for _, c := range l.Scorecard.Criteria {
		if n, ok := strings.CutPrefix(c.Measure, rig.HandMeasure); ok && !slices.Contains(names, n) {
			names = append(names, n)
		}
	}
	if !slices.Contains(units, unit) {
		return missing("unit", "units.toml", unit, units)
	}
	if !slices.Contains(names, name) {
		if len(names) == 0 {
			return &rig.FileError{File: "scorecard.toml", Byte: -1, Found: "no criterion that is entered by hand", Want: `one with measure = "hand.NAME"`}
		}
		return missing("criterion entered by hand", "scorecard.toml", name, names)
	}
	return nil
}
