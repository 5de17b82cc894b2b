package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"

	"golang.org/x/sync/errgroup"

	"quern/acquire/sim"
	"quern/config"
	"quern/rig"
	"quern/rig/session"
)

// recordSeason invents a season under a lab's procedures and keeps it: the lab with its units, and a
// session a run, analysed.
func recordSeason(ctx context.Context, e env, lab string, seed uint64, units, workers int, out string) error {
	l, err := readLab(e, lab)
	if err != nil {
		return err
	}
	season, err := sim.Catalogue(seed, l, sim.CatalogueOptions{Units: units, Light: true})
	if err != nil {
		return usageError{fmt.Errorf("simulate: %w", err)}
	}
	if err := inventLab(lab, filepath.Join(out, "lab"), season); err != nil {
		return usageError{err}
	}
	sessions := filepath.Join(out, "sessions")
	if err := os.MkdirAll(sessions, 0o755); err != nil {
		return usageError{err}
	}
	bar := progress{e: e, of: len(season.Runs), what: "sessions"}
	var mu sync.Mutex
	pool, going := errgroup.WithContext(ctx)
	pool.SetLimit(max(1, workers))
	for i := range season.Runs {
		if going.Err() != nil {
			break
		}
		r := &season.Runs[i]
		pool.Go(func() error {
			defer func() {
				mu.Lock()
				defer mu.Unlock()
				bar.step()
			}()
			return recordRun(e, r, filepath.Join(sessions, r.Name))
		})
	}
	err = cmp.Or(pool.Wait(), ctx.Err())
	bar.done()
	if err != nil {
		return err
	}
	fmt.Fprintf(e.out, "%s: %d invented units, %d sessions; the lab that goes with them is %s\n", sessions, len(season.Units), len(season.Runs), filepath.Join(out, "lab"))
	return nil
}

// inventLab copies a lab with the season's units and what was entered of them by hand.
func inventLab(from, to string, season *sim.Season) error {
	if err := os.CopyFS(to, labFS(from)); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(to, "units.toml"), season.UnitsTOML(), 0o644); err != nil {
		return err
	}
	text := config.HandHeader()
	for _, h := range season.Hand {
		text += config.HandLine(h)
	}
	return os.WriteFile(filepath.Join(to, config.HandFile), []byte(text), 0o644)
}

// recordRun keeps one run with what was put on record while it was open and after, and its analysis.
func recordRun(e env, r *sim.CatalogueRun, dir string) error {
	b, err := sim.New(r.Scenario)
	if err != nil {
		return err
	}
	head := headOf(r.Scenario, b)
	head.Started = r.Started
	if err := keep(stoppable{b, e}, head, dir, invented, func(w *session.Writer) error { return w.AppendFacts(r.Facts()) }); err != nil {
		return err
	}
	if len(r.Corrections) > 0 {
		if err := amendAll(dir, r.Corrections); err != nil {
			return err
		}
	}
	_, _, err = reanalyse(e, dir, head.Setup.ForAnalysis())
	return err
}

func amendAll(dir string, corrections []rig.Correction) error {
	a, err := session.Amend(dir, "quern "+version(), corrections[len(corrections)-1].At)
	if err != nil {
		return err
	}
	for _, k := range corrections {
		if _, err := a.AppendCorrection(k); err != nil {
			return errors.Join(err, a.Abandon())
		}
	}
	return a.Close()
}
