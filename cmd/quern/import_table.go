package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"quern/acquire/recording"
	"quern/config"
	"quern/rig"
	"quern/rig/score"
	"quern/rig/session/byhand"
)

// bringTable makes sessions of the rows of a table of results that were taken by hand, but for those that have one from an
// earlier import of the same table, when it was shorter.
func bringTable(e env, lab, table, out, who string) error {
	l, err := readLab(e, lab)
	if err != nil {
		return err
	}
	f, err := os.Open(table)
	if err != nil {
		return usageError{rig.Unopened(table, err, "a table of results taken by hand", "check the path")}
	}
	rows, err := recording.ReadHandRuns(f, table)
	f.Close()
	if err != nil {
		return usageError{err}
	}
	t := byhand.Table{Name: table, Rows: rows, Who: who, Why: score.TakenByHand, Tool: "quern " + version()}
	fresh, err := t.Fresh(out, func(unit, procedure string) (config.Setup, error) {
		set, err := l.Setup(unit, procedure)
		return set, config.In(lab, err)
	})
	if err != nil {
		return usageError{err}
	}
	clearUnfinished(e, out)
	if err := t.Write(out, fresh); err != nil {
		if wrong := (*rig.FileError)(nil); errors.As(err, &wrong) || errors.Is(err, fs.ErrExist) {
			return usageError{err}
		}
		return err
	}
	switch there := len(rows) - len(fresh); {
	case len(fresh) == 0:
		fmt.Fprintf(e.out, "%s: all %s of the table are there already\n", out, rig.Count(there, "run"))
		return nil
	case there > 0:
		fmt.Fprintf(e.out, "%s: %s of the table there already\n", out, rig.Count(there, "run"))
	}
	fmt.Fprintf(e.out, "%s: %s taken by hand, each kept as a session and marked as taken by hand wherever it counts\n", out, rig.Count(len(fresh), "run"))
	return nil
}
