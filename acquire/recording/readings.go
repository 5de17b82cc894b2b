package recording

import (
	"io"
	"math"

	"quern/rig"
)

// Bounds of what a table may say. They are far outside any bench: a number beyond them comes from a
// wrong column or a wrong unit.
const (
	maxTimeS    = 31 * 86400 // s, a month; refuses the time of day counted from 1970
	maxCurrentA = 1e6        // A
	maxMassG    = 1e9        // g
)

// maxReadings bounds one block where rows follow each other very closely.
const maxReadings = 4096

var (
	waveColumns  = columns{"time_s", "current_a"}
	rmsColumns   = columns{"time_s", "rms_a"}
	scaleColumns = columns{"time_s", "mass_g", "stable"}
)

// rows reads a table's times and values, and sees to it that time goes forward.
type rows struct {
	*table
	time, value, stable int // positions of the columns; stable is -1 without
	low, high           float64
	unit                string
	timeS               number // of the row read last
	begun               bool
}

func newRows(t *table, value string, low, high float64, unit string) (*rows, error) {
	r := &rows{table: t, stable: t.at("stable"), low: low, high: high, unit: unit}
	var err error
	if r.time, err = t.need("time_s"); err == nil {
		r.value, err = t.need(value)
	}
	return r, err
}

// next reads one row; at the end io.EOF.
func (r *rows) next() (rig.Reading, error) {
	if err := r.table.next(); err != nil {
		if err == io.EOF && !r.begun {
			r.line++
			err = r.fail("no rows", "at least one row after the header", "leave the file out, or record again")
		}
		return rig.Reading{}, err
	}
	t, err := r.number(r.time, 0, maxTimeS, "s since the recording's start")
	if err != nil {
		return rig.Reading{}, err
	}
	if r.begun && t.v <= r.timeS.v {
		return rig.Reading{}, r.fail("time_s "+decimal(t.v)+" after "+decimal(r.timeS.v), "a later time",
			"sort the rows by time, and give time_s enough decimals to tell them apart")
	}
	r.timeS, r.begun = t, true
	v, err := r.number(r.value, r.low, r.high, r.unit)
	if err != nil {
		return rig.Reading{}, err
	}
	out := rig.Reading{AtS: t.v, Value: v.v}
	if r.stable >= 0 {
		switch f := r.fields[r.stable]; string(f) {
		case "0":
			out.Stable = rig.No
		case "1":
			out.Stable = rig.Yes
		default:
			return rig.Reading{}, r.fail("stable "+quote(f), "0 or 1", "write 1 where the scale shows its stability mark")
		}
	}
	return out, nil
}

// readingFeed delivers the rows of a table as readings.
type readingFeed struct {
	rows  *rows
	ahead rig.Reading // the row that begins the next block
	more  bool        // there is one
	out   []rig.Reading
}

func openReadings(r *rows, form rig.Form, unit rig.Unit) (*track, error) {
	first, err := r.next()
	if err != nil {
		return nil, err
	}
	f := &readingFeed{rows: r, ahead: first, more: true}
	return &track{feed: f, stream: rig.Stream{Form: form, Unit: unit}, dueS: first.AtS}, nil
}

func openScaleTable(r io.ReaderAt, size int64, name string) (*track, error) {
	t, err := openTable(io.NewSectionReader(r, 0, size), name, scaleColumns)
	if err != nil {
		return nil, err
	}
	rows, err := newRows(t, "mass_g", -maxMassG, maxMassG, "g")
	if err != nil {
		return nil, err
	}
	return openReadings(rows, rig.Mass, rig.Gram)
}

// next gathers the rows up to the next multiple of the length of a block.
func (f *readingFeed) next() (rig.Block, float64, error) {
	if !f.more {
		return rig.Block{}, 0, io.EOF
	}
	untilS := (math.Floor(f.ahead.AtS/blockS) + 1) * blockS
	f.out = append(f.out[:0], f.ahead)
	for {
		r, err := f.rows.next()
		if err == io.EOF {
			f.more = false
			return rig.Block{Readings: f.out}, untilS, nil
		}
		if err != nil {
			return rig.Block{}, 0, err
		}
		if r.AtS >= untilS || len(f.out) == maxReadings {
			f.ahead = r
			return rig.Block{Readings: f.out}, r.AtS, nil
		}
		f.out = append(f.out, r)
	}
}

func (f *readingFeed) repairs() []string { return nil }
