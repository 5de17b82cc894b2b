package recording

import (
	"fmt"
	"io"
	"math"

	"quern/rig"
	"quern/rig/wave"
)

// clampColumns are those of both kinds of clamp table.
var clampColumns = columns{"time_s", "current_a", "rms_a"}

// openClampTable opens a table of instantaneous or RMS current.
func openClampTable(r io.ReaderAt, size int64, name string) (*track, error) {
	open := func() (*table, error) {
		t, err := openTable(io.NewSectionReader(r, 0, size), name, clampColumns)
		if err != nil {
			return nil, err
		}
		if t.at("current_a") >= 0 == (t.at("rms_a") >= 0) {
			found := "neither current_a nor rms_a"
			if t.at("rms_a") >= 0 {
				found = "both current_a and rms_a"
			}
			return nil, t.fail(found, waveColumns.String()+" (instantaneous amperes) or "+rmsColumns.String()+" (one RMS value a row)",
				"name the column for what it holds")
		}
		return t, nil
	}
	t, err := open()
	if err != nil {
		return nil, err
	}
	if t.at("rms_a") >= 0 {
		rows, err := newRows(t, "rms_a", 0, maxCurrentA, "A")
		if err != nil {
			return nil, err
		}
		return openReadings(rows, rig.RMS, rig.Ampere)
	}
	rows, err := newRows(t, "current_a", -maxCurrentA, maxCurrentA, "A")
	if err != nil {
		return nil, err
	}
	p, err := findPace(rows, r, size)
	if err != nil {
		return nil, err
	}
	if t, err = open(); err != nil { // from the start again
		return nil, err
	}
	if rows, err = newRows(t, "current_a", -maxCurrentA, maxCurrentA, "A"); err != nil {
		return nil, err
	}
	return &track{
		feed:     &clampFeed{rows: rows, pace: p, samples: make([]float64, blockSamples(p.rateHz))},
		stream:   rig.Stream{Form: rig.Waveform, Unit: rig.Ampere, RateHz: p.rateHz},
		encoding: wave.Float64,
	}, nil
}

// clampFeed delivers the rows of a table of instantaneous current as a waveform.
type clampFeed struct {
	rows    *rows
	pace    pace
	done    int64   // rows
	firstS  float64 // time of the first row
	lastS   float64 // time of the row before
	samples []float64
}

func (f *clampFeed) next() (rig.Block, float64, error) {
	b := rig.Block{StartS: float64(f.done) / f.pace.rateHz}
	n := 0
	for n < len(f.samples) {
		r, err := f.rows.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return rig.Block{}, 0, err
		}
		if f.done == 0 {
			f.firstS = r.AtS
		} else if err := f.check(r.AtS); err != nil {
			return rig.Block{}, 0, err
		}
		f.lastS = r.AtS
		f.samples[n] = r.Value
		f.done++
		n++
	}
	if n == 0 {
		return rig.Block{}, 0, io.EOF
	}
	b.Samples = f.samples[:n]
	return b, float64(f.done) / f.pace.rateHz, nil
}

func (f *clampFeed) repairs() []string { return nil }

// check refuses a row that does not stand where a constant step puts it, within half a step and what
// the last digit of time_s may hide.
func (f *clampFeed) check(atS float64) error {
	const want = "rows at one constant step"
	stepS := 1 / f.pace.rateHz
	slackS := stepS/2 + f.pace.worst(f.rows.timeS)
	if gapS := atS - f.lastS; math.Abs(gapS-stepS) > slackS {
		do := "export every row"
		if gapS > stepS {
			do = "rows are missing here: export every row, or give RMS values as rms_a"
		}
		return f.rows.fail(fmt.Sprintf("time_s %s, %s steps of %.6g s after the row before", decimal(atS), steps(gapS/stepS), stepS), want, do)
	}
	if offS := atS - f.firstS - float64(f.done)/f.pace.rateHz; math.Abs(offS) > slackS {
		if moreS := atS - f.lastS - stepS; math.Abs(moreS) > 4*f.pace.worst(f.rows.timeS) && math.Abs(moreS) > 0.005*stepS && moreS*offS > 0 {
			f.rows.line -= min(max(0, int(math.Round(offS/moreS))-1), int(f.done)-1)
			return f.rows.changed(stepS, atS-f.lastS)
		}
		return f.rows.fail(fmt.Sprintf("time_s %s, %s steps off where %.8g rows a second put it", decimal(atS), steps(offS*f.pace.rateHz), f.pace.rateHz), want,
			"the step changes in the rows before: export at a constant rate, or give RMS values as rms_a")
	}
	return nil
}

// steps writes a number of steps: whole where there are many, else to three digits.
func steps(n float64) string {
	if math.Abs(n) >= 100 {
		return fmt.Sprintf("%.0f", n)
	}
	return fmt.Sprintf("%.3g", n)
}
