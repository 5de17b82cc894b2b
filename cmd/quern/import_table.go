package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"quern/acquire/recording"
	"quern/config"
	"quern/rig"
	"quern/rig/score"
	"quern/rig/session"
)

// bringTable makes a session of every row of a table of results that were taken by hand. All rows are
// looked at before the first is written, and what was written is taken away if one cannot be.
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
	names := map[string]int{}
	for i, r := range runs {
		rec := rig.Record{Started: r.Date, TimeZone: heads[i].Setup.Bench.TimeZone}
		base := fmt.Sprintf("%s-%s-%s-by-hand", strings.ReplaceAll(rec.Day(), "-", ""), r.Unit, r.Procedure)
		names[base]++
		dir := filepath.Join(out, fmt.Sprintf("%s-%d", base, names[base]))
		if err := writeByHand(e, dir, heads[i], r, who); err != nil {
			return err
		}
		made = append(made, dir)
	}
	fmt.Fprintf(e.out, "%s: %s taken by hand, each kept as a session and marked as taken by hand wherever it counts\n", out, rig.Count(len(made), "run"))
	return nil
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
