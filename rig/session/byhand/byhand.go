// Package byhand makes sessions of the rows of a table of results that were taken by hand. A row that an earlier, shorter
// table held is one already, and is not made again.
package byhand

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"quern/acquire/recording"
	"quern/config"
	"quern/rig"
	"quern/rig/session"
)

// Table is a table of results.
type Table struct {
	Name string // of its file
	Rows []recording.HandRun
	Who  string // took the rows that say nobody
	Why  string // the reason that marks values as taken by hand
	Tool string // the program and its version
}

// Session is the session that a row is to become.
type Session struct {
	Dir  string
	Head session.Head
	Row  recording.HandRun
}

// Fresh returns the sessions of the rows that have none yet in the folder out, which need not exist. setup gives the
// settings of a unit under a procedure. An error says which row is wrong, and how.
func (t Table) Fresh(out string, setup func(unit, procedure string) (config.Setup, error)) ([]Session, error) {
	all := make([]Session, len(t.Rows))
	groups, order := map[string][]recording.HandRun{}, []string(nil)
	for i, r := range t.Rows {
		set, err := setup(r.Unit, r.Procedure)
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", t.Name, r.Line, err)
		}
		if r.Who == "" && t.Who == "" {
			return nil, fmt.Errorf("%s:%d: found nobody who took it, expected a column who, or --who", t.Name, r.Line)
		}
		if !r.Timed {
			set.Bench.TimeZone = "" // a day is the same one in every zone
		}
		all[i] = Session{Head: session.Head{Setup: set, Started: r.Date, Tool: t.Tool, Origin: rig.ByHand}, Row: r}
		if groups[within(r)] == nil {
			order = append(order, within(r))
		}
		groups[within(r)] = append(groups[within(r)], r)
	}
	last := map[string]int{} // number of a day's folders
	isFresh := map[int]bool{}
	for _, group := range order {
		kept, err := keptIn(out, group, last)
		if err != nil {
			return nil, err
		}
		rows, err := recording.FreshRuns(t.Name, groups[group], kept, t.Who, t.Why)
		if err != nil {
			return nil, err
		}
		for _, r := range rows {
			isFresh[r.Line] = true
		}
	}
	var fresh []Session
	for _, s := range all {
		if !isFresh[s.Row.Line] {
			continue
		}
		rec := rig.Record{Started: s.Row.Date, TimeZone: s.Head.Setup.Bench.TimeZone}
		base := strings.ReplaceAll(rec.Day(), "-", "") + within(s.Row)
		last[base]++
		s.Dir = filepath.Join(out, base+strconv.Itoa(last[base]))
		fresh = append(fresh, s)
	}
	return fresh, nil
}

// within is what the names of the sessions of a row's unit and procedure have between the day and the number.
func within(r recording.HandRun) string { return "-" + r.Unit + "-" + r.Procedure + "-by-hand-" }

// keptIn reads the sessions that rows of earlier tables became, and notes the last number of each day.
func keptIn(out, within string, last map[string]int) (kept []recording.Kept, err error) {
	entries, err := os.ReadDir(out)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	for _, en := range entries {
		day, number, ok := strings.Cut(en.Name(), within)
		n, err := strconv.Atoi(number)
		if !ok || len(day) != len("20060102") || err != nil || n < 1 {
			continue
		}
		b, err := session.OpenFacts(filepath.Join(out, en.Name()))
		if err != nil {
			return nil, err
		}
		kept = append(kept, recording.Kept{Name: en.Name(), Started: b.Manifest.Started, Facts: b.Facts})
		last[day+within] = max(last[day+within], n)
	}
	return kept, nil
}

// Write makes the sessions in the folder out, which is made if it is missing. Where one cannot be made, those made before
// it are taken away again.
func (t Table) Write(out string, sessions []Session) (err error) {
	if err := os.MkdirAll(out, 0o755); err != nil {
		return rig.Unopened(out, err, "a folder for the sessions, which can be made", "name another with --out")
	}
	for i, s := range sessions {
		if err := t.write(s); err != nil {
			for _, made := range sessions[:i] {
				err = errors.Join(err, os.RemoveAll(made.Dir))
			}
			return err
		}
	}
	return nil
}

func (t Table) write(s Session) (err error) {
	w, err := session.Create(s.Dir, s.Head)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, w.Close()) }()
	who := t.Who
	if s.Row.Who != "" {
		who = s.Row.Who
	}
	for _, m := range s.Row.Measures {
		k := rig.Correction{At: s.Head.Started, Run: 1, Target: "measure." + m.Name, New: m.Text, Who: who, Why: t.Why}
		if _, err := w.AppendCorrection(k); err != nil {
			return err
		}
	}
	if s.Row.Note != "" {
		if _, err := w.AppendRemark(rig.Remark{Run: 1, Text: s.Row.Note, Who: who}); err != nil {
			return err
		}
	}
	return w.Seal()
}
