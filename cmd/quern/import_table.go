package main

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
	"quern/rig/score"
	"quern/rig/session"
)

// bringTable makes a session of every row of a table of results that were taken by hand, but for those that have one
// from an earlier import of the same table, when it was shorter. All rows are looked at before the first is written, and what was written is taken away if one cannot be.
func bringTable(e env, lab, table, out, who string) (err error) {
	l, err := readLab(e, lab)
	if err != nil {
		return err
	}
	f, err := os.Open(table)
	if err != nil {
		return usageError{err}
	}
	runs, err := recording.ReadHandRuns(f, table)
	f.Close()
	if err != nil {
		return usageError{err}
	}
	heads := make([]session.Head, len(runs))
	for i, r := range runs {
		set, err := l.Setup(r.Unit, r.Procedure)
		if err != nil {
			return usageError{fmt.Errorf("%s:%d: %w", table, r.Line, config.In(lab, err))}
		}
		if r.Who == "" && who == "" {
			return usageError{fmt.Errorf("%s:%d: found nobody who took it, expected a column who, or --who", table, r.Line)}
		}
		if !r.Timed {
			set.Bench.TimeZone = "" // a day is the same one in every zone
		}
		heads[i] = session.Head{Setup: set, Started: r.Date, Tool: "quern " + version(), Origin: rig.ByHand}
	}
	places, err := freshPlaces(table, out, runs, heads, who)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return usageError{err}
	}
	var made []string
	defer func() {
		if err != nil {
			for _, dir := range made {
				err = errors.Join(err, os.RemoveAll(dir))
			}
		}
	}()
	for i, r := range runs {
		if places[i] == "" {
			continue
		}
		if err := writeByHand(e, places[i], heads[i], r, who); err != nil {
			return err
		}
		made = append(made, places[i])
	}
	switch there := len(runs) - len(made); {
	case len(made) == 0:
		fmt.Fprintf(e.out, "%s: all %s of the table are there already\n", out, rig.Count(there, "run"))
		return nil
	case there > 0:
		fmt.Fprintf(e.out, "%s: %s of the table there already\n", out, rig.Count(there, "run"))
	}
	fmt.Fprintf(e.out, "%s: %s taken by hand, each kept as a session and marked as taken by hand wherever it counts\n", out, rig.Count(len(made), "run"))
	return nil
}

// freshPlaces gives each row of a table a folder for its session; "" where it has one already, from an earlier import.
func freshPlaces(table, out string, runs []recording.HandRun, heads []session.Head, who string) ([]string, error) {
	of := map[string][]recording.HandRun{}
	for _, r := range runs {
		of[byHand(r)] = append(of[byHand(r)], r)
	}
	last := map[string]int{} // number of a day's folders
	fresh := map[int]bool{}  // by line
	places := make([]string, len(runs))
	for i, r := range runs {
		if rows := of[byHand(r)]; rows != nil {
			delete(of, byHand(r))
			kept, err := keptByHand(out, byHand(r), last)
			if err != nil {
				return nil, err
			}
			if rows, err = recording.FreshRuns(table, rows, kept, who, score.TakenByHand); err != nil {
				return nil, usageError{err}
			}
			for _, f := range rows {
				fresh[f.Line] = true
			}
		}
		if !fresh[r.Line] {
			continue
		}
		rec := rig.Record{Started: r.Date, TimeZone: heads[i].Setup.Bench.TimeZone}
		base := strings.ReplaceAll(rec.Day(), "-", "") + byHand(r)
		last[base]++
		places[i] = filepath.Join(out, base+strconv.Itoa(last[base]))
	}
	return places, nil
}

// byHand is what the names of the sessions of a row's unit and procedure have between the day and the number.
func byHand(r recording.HandRun) string { return "-" + r.Unit + "-" + r.Procedure + "-by-hand-" }

// keptByHand reads the sessions that rows of earlier tables became, and notes the last number of each day.
func keptByHand(out, within string, last map[string]int) (kept []recording.Kept, err error) {
	entries, err := os.ReadDir(out)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, usageError{err}
	}
	for _, en := range entries {
		day, number, ok := strings.Cut(en.Name(), within)
		n, err := strconv.Atoi(number)
		if !ok || len(day) != len("20060102") || err != nil || n < 1 {
			continue
		}
		b, err := session.OpenFacts(filepath.Join(out, en.Name()))
		if err != nil {
			return nil, usageError{err}
		}
		kept = append(kept, recording.Kept{Name: en.Name(), Started: b.Manifest.Started, Facts: b.Facts})
		last[day+within] = max(last[day+within], n)
	}
	return kept, nil
}

func writeByHand(e env, dir string, head session.Head, r recording.HandRun, who string) (err error) {
	w, err := session.Create(dir, head)
	if err != nil {
		return usageError{err}
	}
	defer func() { err = errors.Join(err, w.Close()) }()
	if r.Who != "" {
		who = r.Who
	}
	for _, m := range r.Measures {
		k := rig.Correction{At: head.Started, Run: 1, Target: "measure." + m.Name, New: m.Text, Who: who, Why: score.TakenByHand}
		if _, err := w.AppendCorrection(k); err != nil {
			return err
		}
	}
	if r.Note != "" {
		if _, err := w.AppendRemark(rig.Remark{Run: 1, Text: r.Note, Who: who}); err != nil {
			return err
		}
	}
	return seal(w)
}
