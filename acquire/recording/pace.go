package recording

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"quern/rig"
)

// pace is the constant step of a table, as far as its times tell it.
type pace struct {
	rateHz float64
	digitS float64 // worth of the last digit of time_s
}

// paceRows is how many rows from the start are looked at for the step.
const paceRows = 4096

// finestDigitS bounds from below what a last digit is taken to be worth, s: far below any step, and
// above what float64 makes of times within a month.
const finestDigitS = 1e-9

// worst returns how far a time may be from the true one by its writing.
func (p pace) worst(t number) float64 {
	if t.sci { // a fixed number of digits: the larger the time, the more the last is worth
		return max(p.digitS, math.Pow10(min(t.last, 0)))
	}
	return p.digitS
}

// point is one row: its number from 0, its time, and how far that may be from the true one by its writing.
type point struct {
	row            float64
	timeS, hiddenS float64
}

// fit narrows down the step from row to row.
type fit struct {
	first       point
	slackS      float64 // by which a row may be off, beside what writing hides
	lowS, highS float64 // the step lies between
	last        point   // the last that agreed
	against     int     // rows in a row that did not
}

// maxAgainst is how many rows in a row may disagree: one may be a logger's hiccup, more are a gap or
// another step, and say nothing of the step before.
const maxAgainst = 8

func (f *fit) add(p point) {
	if f.against == maxAgainst || p.row == 0 {
		return
	}
	slackS := f.slackS + max(f.first.hiddenS, p.hiddenS)
	low := max(f.lowS, (p.timeS-f.first.timeS-slackS)/p.row)
	high := min(f.highS, (p.timeS-f.first.timeS+slackS)/p.row)
	if low > high {
		f.against++
		return
	}
	f.lowS, f.highS, f.last, f.against = low, high, p, 0
}

// findPace finds the step: roughly from the first rows, whose rounded times leave it open to a share
// of a percent, then closer from rows all over the file, as far as they agree.
func findPace(rows *rows, r io.ReaderAt, size int64) (pace, error) {
	points, p, err := firstPoints(rows)
	if err != nil {
		return pace{}, err
	}
	if at, beforeS, afterS := change(points, p.digitS); at > 0 {
		rows.line = at + 2 // the first row stands in line 2
		return pace{}, rows.changed(beforeS, afterS)
	}
	rows.line = 2 // of the first row
	stepS, medianS, jitterS, even := firstStep(points, p.digitS)
	openS := (stepS + 2*p.digitS) / float64(len(points)-1)
	f := fit{first: points[0], slackS: min(stepS/2, 4*max(0, jitterS-p.digitS)), lowS: stepS - openS, highS: stepS + openS}
	for _, pt := range points {
		f.add(pt)
	}
	err = sample(rows.table, rows.time, io.NewSectionReader(r, 0, size), func(row int64, t number) {
		if row >= paceRows {
			f.add(point{float64(row), t.v, p.worst(t)})
		}
	})
	if err != nil {
		return pace{}, err
	}
	if even && medianS >= f.lowS*(1-1e-9) && medianS <= f.highS*(1+1e-9) { // as printed
		p.rateHz = round(1/medianS, 1/medianS*(1-1e-7), 1/medianS*(1+1e-7))
	} else {
		if f.last.row > 0 {
			stepS = (f.last.timeS - f.first.timeS) / f.last.row
		}
		stepS = max(f.lowS, min(f.highS, stepS))
		p.rateHz = round(1/stepS, 1/f.highS, 1/f.lowS)
	}
	if !rig.MeasuredRateTaken(p.rateHz) {
		return pace{}, rows.fail(fmt.Sprintf("%s rows a second", decimal(math.Round(p.rateHz*1000)/1000)),
			fmt.Sprintf("%.0f to %.0f", rig.MinTableHz, rig.MaxRateHz), "give waveforms at such a rate, slower values as rms_a")
	}
	if points[0].timeS > 1.5/p.rateHz+p.digitS {
		return pace{}, rows.fail("a first time_s of "+decimal(points[0].timeS), "0: all recordings begin at the same instant",
			"export the current from the start of the recordings on, and count time_s from there")
	}
	return p, nil
}

// firstPoints reads the first rows, two at least, and what the last digit of time_s is worth.
func firstPoints(rows *rows) ([]point, pace, error) {
	var times []number
	finest := 0
	for len(times) < paceRows {
		if _, err := rows.next(); err == io.EOF {
			break
		} else if err != nil {
			return nil, pace{}, err
		}
		times, finest = append(times, rows.timeS), min(finest, rows.timeS.last)
	}
	if len(times) < 2 {
		return nil, pace{}, rows.fail("one row", "at least two", "leave the file out, or record again")
	}
	p := pace{digitS: max(finestDigitS, math.Pow10(finest))}
	points := make([]point, len(times))
	for i, t := range times {
		points[i] = point{float64(i), t.v, p.worst(t)}
	}
	return points, p, nil
}

// changed is the error of a row from which on the rows stand at another step.
func (r *rows) changed(beforeS, afterS float64) error {
	return r.fail(fmt.Sprintf("a step of %.4g s after rows %.4g s apart", afterS, beforeS), "rows at one constant step",
		"export at a constant rate, or give RMS values as rms_a")
}

// change finds the row from which on the first rows stand at another step than before, and the two steps; 0: none does,
// as far as the times can tell. Some rows missing, or one that came late, are no other step.
func change(points []point, digitS float64) (row int, beforeS, afterS float64) {
	const least = 16 // steps, at either end
	n := len(points) - 1
	if n < 2*least {
		return 0, 0, 0
	}
	median := func(from, to int) float64 {
		steps := make([]float64, to-from)
		for i := range steps {
			steps[i] = points[from+i+1].timeS - points[from+i].timeS
		}
		slices.Sort(steps)
		return steps[len(steps)/2]
	}
	beforeS, afterS = median(0, least), median(n-max(least, n/8), n)
	if math.Abs(afterS-beforeS) <= 0.1*beforeS+2*digitS {
		return 0, 0, 0
	}
	for at := 1; at+5 <= n; at++ { // most of the steps that follow are nearer to the later one
		s := points[at].timeS - points[at-1].timeS
		if m := median(at-1, at+4); math.Abs(m-afterS) < math.Abs(m-beforeS) && math.Abs(s-afterS) < math.Abs(s-beforeS) {
			return at, beforeS, afterS
		}
	}
	return 0, 0, 0
}

// firstStep returns the mean of the steps that are near the median one, the median itself, the
// median distance of a step from the mean, and whether all steps are the same as far as float64 tells.
func firstStep(points []point, digitS float64) (meanS, medianS, jitterS float64, even bool) {
	steps := make([]float64, len(points)-1)
	for i := range steps {
		steps[i] = points[i+1].timeS - points[i].timeS
	}
	slices.Sort(steps)
	medianS = steps[len(steps)/2]
	even = steps[len(steps)-1]-steps[0] <= medianS*1e-6
	sum, n := 0.0, 0.0
	for _, s := range steps {
		if math.Abs(s-medianS) <= medianS/2+digitS {
			sum += s
			n++
		}
	}
	meanS = sum / n
	for i, s := range steps {
		steps[i] = math.Abs(s - meanS)
	}
	slices.Sort(steps)
	return meanS, medianS, steps[len(steps)/2], even
}

// round returns the roundest whole number from low to high, or v if there is none: clocks are made
// to run at round rates, and rounded times do not tell 8000 Hz from 7999.9.
func round(v, low, high float64) float64 {
	for _, unit := range []float64{1000, 100, 10, 1} {
		if r := math.Round(v/unit) * unit; r >= low && r <= high {
			return r
		}
	}
	return v
}

// sample goes through a table without reading its rows, and tells the number and the time of one row
// in every stretch. Rows that it cannot read it leaves to the row by row reading, which tells why.
func sample(t *table, timeColumn int, r io.Reader, tell func(row int64, time number)) error {
	ends := int64(0) // of lines; the header's makes up for counting rows from 0
	newline := []byte{'\n'}
	in := bufio.NewReaderSize(r, readBytes)
	for buf := make([]byte, maxLine); ; {
		n, err := io.ReadFull(in, buf)
		b := buf[:n]
		if n := bytes.Count(b, newline); n >= 2 {
			end := bytes.LastIndexByte(b, '\n')
			line := bytes.TrimSuffix(b[bytes.LastIndexByte(b[:end], '\n')+1:end], []byte{'\r'})
			ends += int64(n)
			if t.split(line) == nil && len(t.fields) == len(t.column) {
				if time, ok := parse(t.fields[timeColumn]); ok {
					tell(ends-2, time)
				}
			}
		} else {
			ends += int64(n)
		}
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			return nil
		}
		if err != nil {
			return t.broken(err)
		}
	}
}
