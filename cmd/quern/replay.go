package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"quern/config"
	"quern/detect"
	"quern/rig"
	"quern/rig/report"
	"quern/rig/session"
	"quern/rig/session/replay"
)

func replayCommand(e env) *cobra.Command {
	var lab string
	var asJSON, all bool
	c := &cobra.Command{
		Use:   "replay SESSION... | --all --lab LAB SESSIONS...",
		Short: "Analyse sessions again and print their runs, or what other settings would change",
		Long: `Runs the analysis over the recordings of each session, in the order given, under the settings
stored in it, or under those of a lab folder. Nothing is stored. A session that cannot be read is told, and the others
are replayed all the same.

Of the recordings of a sealed session only the sizes are looked at: whether a byte of them has changed, 'quern verify' says.

With --all every session of the folders is analysed under its own settings and under the lab's present ones, and
what that changes is printed: which settings differ, then events, measures, outcomes. Both analyses are kept in the
sessions, side by side, so that 'quern standings --settings lab --against-settings stored' can say what it does to the
ranking. Where another version of the program made an analysis that is kept, what this version changes under the same
settings is told first, and apart. What is kept stays; to take this version's results, delete the folder analyses of
the sessions.`,
		Example: "  quern replay sessions/2026-03-01-unit-a\n  quern replay sessions/* --lab LAB --json | jq .runs[].sound.laeq_db\n  quern replay --all --lab LAB sessions",
		Args:    arguments(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			if all {
				return replayAll(e, lab, args, asJSON)
			}
			results, err := replayEach(e, lab, args, asJSON)
			if asJSON || len(results) == 0 {
				return err
			}
			return errors.Join(printSessions(e, results), err)
		},
	}
	c.Flags().StringVar(&lab, "lab", "", "use the present settings of this lab folder instead of the stored ones")
	c.Flags().BoolVar(&all, "all", false, "compare all sessions of folders under stored and present settings")
	c.Flags().BoolVar(&asJSON, "json", false, "print one JSON object a session, one a line")
	return c
}

// replayEach replays sessions, and prints each as JSON at once or returns what they came to. One that cannot be read does not
// keep the others from being replayed; the error tells of all of them.
func replayEach(e env, lab string, dirs []string, asJSON bool) (results []rig.Result, failed error) {
	if lab != "" { // what is wrong with it is told once
		if _, err := config.Read(labFS(lab)); err != nil {
			return nil, usageError{config.First(lab, config.In(lab, err))}
		}
	}
	enc := json.NewEncoder(e.out)
	enc.SetEscapeHTML(false)
	bar := progress{e: e, of: len(dirs), what: "sessions"}
	defer bar.done()
	for _, dir := range dirs {
		ses, err := session.Open(dir)
		if err != nil {
			failed = errors.Join(failed, usageError{err})
			continue
		}
		res, err := analyse(e, ses, lab, detect.Trace{})
		if errors.Is(err, context.Canceled) {
			return nil, err
		}
		if err != nil {
			failed = errors.Join(failed, err)
			continue
		}
		bar.step()
		if !asJSON {
			results = append(results, res)
		} else if err := enc.Encode(res); err != nil {
			return nil, err
		}
	}
	return results, failed
}

// printSessions prints what sessions came to as a table, then event by event.
func printSessions(e env, results []rig.Result) error {
	if err := report.Table(e.out, results); err != nil {
		return err
	}
	for _, r := range results {
		for i, run := range r.Runs {
			fmt.Fprintf(e.out, "\n%s, run %d\n", r.Session, i+1)
			if err := report.Events(e.out, run); err != nil {
				return err
			}
		}
	}
	return nil
}

// analyse replays one session, under the settings of a lab folder if one is named.
func analyse(e env, ses *session.Session, lab string, trace detect.Trace) (rig.Result, error) {
	set := ses.Setup()
	if lab != "" {
		l, err := config.Read(labFS(lab))
		if err != nil {
			return rig.Result{}, usageError{config.First(lab, config.In(lab, err))}
		}
		if set, err = l.Setup(set.Unit.ID, set.Procedure.ID); err != nil {
			return rig.Result{}, usageError{config.First(lab, config.In(lab, err))}
		}
	}
	return replayed(e, ses, set, trace)
}

// replayed analyses a session under given settings.
func replayed(e env, ses *session.Session, set config.Setup, trace detect.Trace) (rig.Result, error) {
	return replay.Analyse(ses, set, trace, func(src rig.Source) rig.Source { return stoppable{src, e} })
}
