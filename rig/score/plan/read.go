package plan

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"

	"quern/rig"
)

// Keys of the comment lines that are more than words.
const (
	keySeed      = "seed"
	keyRevision  = "revision"
	keyProcedure = "procedure"
	keyControl   = "control"
	keyDay       = "day"
	keyUnplanned = "unplanned"
)

const maxFile = 16 << 20 // bytes

// Read reads a plan that Write wrote; name is the file's, for errors, which are of type
// [*rig.FileError]. It refuses a file from which lines are missing or in which they contradict each
// other.
func Read(r io.Reader, name string) (Plan, error) {
	text, err := io.ReadAll(io.LimitReader(r, maxFile+1))
	if err != nil {
		return Plan{}, &rig.FileError{File: name, Byte: int64(len(text)), Found: "an error while reading: " + err.Error(), Err: err}
	}
	if len(text) > maxFile {
		return Plan{}, &rig.FileError{File: name, Byte: maxFile, Found: "more than 16 MiB", Want: "a plan", Do: "name another file"}
	}
	f := &reading{name: name, lines: map[int]int{}, blocks: map[int]Slot{}, batches: map[string]Slot{}}
	f.csv = csv.NewReader(bytes.NewReader(bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))))
	f.csv.FieldsPerRecord = -1
	if err := f.all(); err != nil {
		return Plan{}, err
	}
	return f.plan, nil
}

// reading is a plan while its file is read.
type reading struct {
	name    string
	csv     *csv.Reader
	line    int
	plan    Plan
	seed    bool
	headed  bool
	lines   map[int]int     // of each slot's number
	blocks  map[int]Slot    // the first slot of each block
	batches map[string]Slot // and of each batch
}

// fault is an error at the present line.
func (f *reading) fault(found, want, do string) error { return f.faultAt(f.line, found, want, do) }

func (f *reading) faultAt(at int, found, want, do string) error {
	return &rig.FileError{File: f.name, Line: at, Byte: -1, Found: found, Want: want, Do: do}
}

func (f *reading) all() error {
	for {
		row, err := f.csv.Read()
		if errors.Is(err, io.EOF) {
			return f.whole()
		}
		var wrong *csv.ParseError
		if errors.As(err, &wrong) {
			return f.faultAt(wrong.Line, wrong.Err.Error(), "CSV", "quote cells with \" and double a \" inside one")
		}
		if err != nil {
			return f.fault(err.Error(), "CSV", "write the plan again")
		}
		f.line, _ = f.csv.FieldPos(0)
		if err := f.row(row); err != nil {
			return err
		}
	}
}

// row takes one line in. Spreadsheets fill lines up with empty cells to the longest one.
func (f *reading) row(row []string) error {
	for len(row) > 1 && row[len(row)-1] == "" && (len(row) > len(header) || strings.HasPrefix(row[0], "#")) {
		row = row[:len(row)-1]
	}
	switch {
	case strings.HasPrefix(row[0], "#"):
		key, rest, ok := strings.Cut(strings.TrimSpace(row[0][1:]), ": ")
		if !ok {
			return nil
		}
		return f.comment(key, strings.TrimSpace(rest))
	case !f.headed:
		return f.head(row)
	}
	return f.slot(row)
}

func (f *reading) head(row []string) error {
	if !slices.Equal(row, header) {
		do := "keep the header as it was written"
		if len(row) == 1 && strings.Contains(row[0], ";") {
			do = "save with commas between the cells"
		}
		return f.fault(strconv.Quote(strings.Join(row, ",")), strings.Join(header, ","), do)
	}
	f.headed = true
	return nil
}

func (f *reading) comment(key, text string) error {
	if !slices.Contains([]string{keySeed, keyRevision, keyProcedure, keyControl, keyDay, keyUnplanned}, key) {
		return nil // words
	}
	if f.headed {
		return f.fault("# "+key+" below the header", "it above", "move the line up")
	}
	switch key {
	case keySeed:
		n, err := strconv.ParseUint(text, 10, 64)
		if err != nil || f.seed {
			return f.fault(strconv.Quote(text), "one whole number as seed", "copy it from the plan's first printing")
		}
		f.plan.Seed, f.seed = n, true
		return nil
	case keyRevision:
		n, ok := number(text)
		if !ok || n < 1 || f.plan.Revision > 0 {
			return f.fault(strconv.Quote(text), "one number from 1 as revision", "")
		}
		f.plan.Revision = n
		return nil
	case keyProcedure:
		return f.procedure(text)
	case keyControl:
		return f.control(text)
	case keyDay:
		return f.day(text)
	}
	return f.unplanned(text)
}

// words splits a text into its words and checks that those that must be NAME=NUMBER are: names[i]
// names word i; "" leaves it as it is. ok is false if there are fewer words than names.
func words(text string, names ...string) (out []string, n []int, ok bool) {
	out = strings.Fields(text)
	if len(out) < len(names) {
		return nil, nil, false
	}
	n = make([]int, len(names))
	for i, name := range names {
		if name == "" {
			continue
		}
		value, found := strings.CutPrefix(out[i], name+"=")
		parse := number
		if name == "open" {
			parse = parseClock
		}
		if n[i], ok = parse(value); !found || !ok {
			return nil, nil, false
		}
	}
	return out, n, true
}

// number reads a whole number that is not negative.
func number(s string) (int, bool) {
	n, err := strconv.ParseUint(s, 10, 31)
	return int(n), err == nil && s[0] != '+'
}

func (f *reading) procedure(text string) error {
	w, n, ok := words(text, "", "repeats", "minutes", "rest_s", "batch")
	if !ok || len(w) != 5 {
		return f.fault(strconv.Quote(text), "such as mixed repeats=3 minutes=25 rest_s=1800 batch=12", "")
	}
	q := Procedure{ID: w[0], Repeats: n[1], Minutes: n[2], RestS: n[3], Batch: n[4]}
	if wrong := q.check(); len(wrong) > 0 {
		return f.fault(strconv.Quote(text), "a procedure that can be planned", wrong[0].Error())
	}
	if slices.ContainsFunc(f.plan.Procedures, func(o Procedure) bool { return o.ID == q.ID }) {
		return f.fault("procedure "+q.ID+" a second time", "each once", "delete one of the lines")
	}
	f.plan.Procedures = append(f.plan.Procedures, q)
	return nil
}

func (f *reading) control(text string) error {
	w, n, ok := words(text, "", "", "minutes", "rest_s")
	if !ok || len(w) != 4 || f.plan.Control.Unit != "" {
		return f.fault(strconv.Quote(text), "one control, such as unit-r balls minutes=15 rest_s=600", "")
	}
	f.plan.Control = Control{Unit: w[0], Procedure: w[1], Minutes: n[2], RestS: n[3]}
	if wrong := f.plan.Control.check(); len(wrong) > 0 {
		return f.fault(strconv.Quote(text), "a control that can be planned", wrong[0].Error())
	}
	return nil
}

func (f *reading) day(text string) error {
	w, n, ok := words(text, "", "open", "minutes", "")
	if !ok {
		return f.fault(strconv.Quote(text), "such as 2026-11-03 open=09:00 minutes=480 bench-1", "")
	}
	f.plan.Days = append(f.plan.Days, Day{Label: w[0], OpenMin: n[1], Minutes: n[2], Benches: w[3:]})
	if wrong := checkDays(f.plan.Days); len(wrong) > 0 {
		return f.fault(strconv.Quote(text), "a day that can be planned, after the one above", wrong[0].Error())
	}
	return nil
}

func (f *reading) unplanned(text string) error {
	w := strings.SplitN(text, " ", 6)
	u := Unplanned{StartMin: -1}
	if len(w) >= 5 {
		if n, ok := parseClock(w[4]); ok {
			u = Unplanned{Day: w[0], Bench: w[1], Unit: w[2], Procedure: w[3], StartMin: n}
		}
	}
	if len(w) == 6 {
		u.Note = w[5]
	}
	if err := f.plan.checkUnplanned(u); err != nil {
		return f.fault(strconv.Quote(text), "such as 2026-11-03 bench-1 unit-a mixed 14:20 and a note, below the days", err.Error())
	}
	f.plan.Unplanned = append(f.plan.Unplanned, u)
	return nil
}
