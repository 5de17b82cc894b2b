package recording

import (
	"fmt"
	"slices"
	"strconv"
	"time"

	"quern/rig"
)

// Kept is a session that a row of an earlier table became.
type Kept struct {
	Name    string
	Started time.Time
	Facts   rig.Facts
}

// FreshRuns returns the rows that no kept session holds yet, of all rows and all kept sessions of one unit and procedure,
// so that a table that grew is taken again. who took rows that say nobody; why marks values that were taken by hand,
// against later corrections. Where a row and a session of the same day are left that do not go together, the row may have
// been changed: that is an error, for what is on record is not rewritten, nor the run taken twice.
func FreshRuns(table string, rows []HandRun, kept []Kept, who, why string) ([]HandRun, error) {
	kept = slices.Clone(kept)
	var fresh []HandRun
	for _, r := range rows {
		i := slices.IndexFunc(kept, func(k Kept) bool { return r.differs(k, who, why) == "" })
		if i < 0 {
			fresh = append(fresh, r)
			continue
		}
		kept = slices.Delete(kept, i, i+1)
	}
	for _, r := range fresh {
		for _, k := range kept {
			if r.Date.Sub(k.Started).Abs() < 24*time.Hour {
				return nil, &rig.FileError{File: table, Line: r.Line, Byte: -1,
					Found: fmt.Sprintf("a row that is on record otherwise: %s in session %s", r.differs(k, who, why), k.Name), Want: "the row as it was taken",
					Do: "put it back, and say the other value with 'quern correct'; if it is one more run of that day, keep both rows in the table"}
			}
		}
	}
	return fresh, nil
}

// differs says what a session holds otherwise; "": nothing.
func (r *HandRun) differs(k Kept, who, why string) string {
	if r.Who != "" {
		who = r.Who
	}
	if !r.Date.Equal(k.Started) {
		return "it began at " + k.Started.UTC().Format(time.RFC3339)
	}
	has := 0
	for _, c := range k.Facts.Corrections {
		if c.Why != why {
			continue
		}
		has++
		i := slices.IndexFunc(r.Measures, func(m HandMeasure) bool { return "measure."+m.Name == c.Target })
		switch {
		case i < 0:
			return fmt.Sprintf("%s is %s", c.Target, c.New)
		case !sameNumber(r.Measures[i].Text, c.New):
			return fmt.Sprintf("%s is %s, not %s,", c.Target, c.New, r.Measures[i].Text)
		case c.Who != who:
			return fmt.Sprintf("it was taken by %s, not %s,", c.Who, who)
		}
	}
	if has != len(r.Measures) {
		return fmt.Sprintf("it has %s, not %d,", rig.Count(has, "value"), len(r.Measures))
	}
	if r.Note != "" && !slices.ContainsFunc(k.Facts.Remarks, func(m rig.Remark) bool { return m.Text == r.Note }) {
		return "it has another note"
	}
	return ""
}

func sameNumber(a, b string) bool {
	x, err1 := strconv.ParseFloat(a, 64)
	y, err2 := strconv.ParseFloat(b, 64)
	return a == b || err1 == nil && err2 == nil && x == y
}
