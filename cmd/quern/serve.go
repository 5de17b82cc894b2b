package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"strings"
	"sync"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"quern/acquire"
	"quern/acquire/simulated"
	"quern/config"
	"quern/rig"
	"quern/rig/live"
	"quern/rig/live/pages"
	"quern/rig/live/stream"
)

func serveCommand(e env) *cobra.Command {
	var lab, unit, procedure, out, scenario string
	var at front
	var speed float64
	var verbose bool
	c := &cobra.Command{
		Use:   "serve --lab LAB --unit ID --procedure ID --out FOLDER | --simulate SCENARIO --out FOLDER",
		Short: "Run the daemon: find, time, measure and keep every run by itself",
		Long: `Opens every device that bench.toml describes and runs the analysis on what they deliver. A session opens
by itself when a motor starts, with what was kept in memory before it, and closes when no restart has followed
for the procedure's longest pause. Sessions that a loss of power has cut off are recovered first.

The daemon watches; it never switches anything. Before freeing a jam pull the plug and keep it in hand; a motor
whose protector has opened may start by itself when it has cooled.

Its pages are at --listen: the bench, a page to be filmed, sessions, standings; for programs /status, /health and
/metrics. 'quern status' shows one screen of it; 'quern act' marks, weighs, begins and ends sessions and chooses the next
unit. Give --unit and --procedure those that are on the bench first.

Only this machine is answered unless --listen names an address of the network. Then other devices pair with a code,
printed at the start and by 'quern pair'; with --viewers, or [pages] viewers = true in bench.toml, all others may watch.`,
		Example: `  quern serve --lab LAB --unit unit-a --procedure mixed --out sessions
  quern serve --simulate day --out sessions                  an invented day of testing, for a first look
  quern serve --simulate stall-and-trip --speed 20 --out sessions    one thing again and again, at 20 times real time
  quern serve --lab LAB --out sessions --listen :8750        for a tablet at the sink; 'quern pair' lets it in`,
		Args: arguments(cobra.NoArgs),
		RunE: func(c *cobra.Command, args []string) error {
			if out == "" {
				return usageError{fmt.Errorf("serve: --out says in which folder the sessions are to stand; it is missing")}
			}
			if speed != 1 && scenario == "" || !(speed > 0 && speed <= 1000) {
				return usageError{fmt.Errorf("serve: found --speed %g, expected above 0 to 1000, with --simulate: devices run in real time", speed)}
			}
			if scenario != "" && (unit != "" || procedure != "") {
				return usageError{errors.New("serve: found --unit or --procedure with --simulate, expected neither: the simulated bench plays invented units of its own")}
			}
			ctx := c.Context()
			level := slog.LevelInfo
			if verbose {
				level = slog.LevelDebug
			}
			log := slog.New(slog.NewTextHandler(e.err, &slog.HandlerOptions{Level: level}))
			d, err := newDaemon(e, lab, unit, procedure, scenario, speed)
			if err != nil {
				return err
			}
			at.of(d.lab)
			// Whoever reads the log may go away; recording goes on, and no device's program inherits that.
			signal.Notify(make(chan os.Signal, 1), syscall.SIGPIPE)
			return d.serve(ctx, e, log, out, at)
		},
	}
	f := c.Flags()
	f.StringVar(&lab, "lab", "", "the lab folder; with --simulate only its rules are used, by which the pages score")
	f.StringVar(&unit, "unit", "", "the unit that is on the bench first; the only one of the lab needs no naming")
	f.StringVar(&procedure, "procedure", "", "the procedure that is run first; the only one of the lab needs no naming")
	f.StringVar(&out, "out", "", "folder in which the sessions stand; it is made if it is missing")
	at.flags(f)
	f.StringVar(&scenario, "simulate", "", "no devices: the simulated bench plays this, a session each time: day, or one of the scenarios of 'quern simulate --help'")
	f.Float64Var(&speed, "speed", 1, "with --simulate: so many times real time")
	f.BoolVar(&verbose, "verbose", false, "log more")
	return c
}

// daemon is what a serve runs.
type daemon struct {
	lab     *config.Lab // nil: simulated
	labDir  string      // "": simulated
	setup   config.Setup
	sources []acquire.Source
	clock   acquire.Clock
	wall    func() time.Time
	bench   *simulated.Bench // nil: real devices
}

func newDaemon(e env, labDir, unit, procedure, scenario string, speed float64) (*daemon, error) {
	d := &daemon{clock: e.now, wall: e.now}
	if scenario != "" {
		draw, ok := simulated.Playing(scenario)
		if !ok {
			return nil, usageError{fmt.Errorf("serve: found --simulate %q, expected one of %s", scenario, strings.Join(simulated.Names(), ", "))}
		}
		d.clock = fast(e.now, speed)
		d.wall = d.clock // or the wall clock would seem to run slow
		bench, err := simulated.New(d.clock, 1, draw)
		if err != nil {
			return nil, err
		}
		d.setup = bench.Setup()
		d.setup.Bench.Record.CloseAfter = 20
		d.setup.Bench.TimeZone = e.zone
		d.sources = []acquire.Source{{Device: bench, SilentS: 5}}
		d.bench = bench
		if labDir != "" { // by whose rules the pages score
			if d.lab, err = readLab(e, labDir); err != nil {
				return nil, err
			}
			d.labDir = labDir
		}
		return d, nil
	}
	if labDir == "" {
		return nil, usageError{fmt.Errorf("serve: --lab names the lab folder; it is missing (or try --simulate day; quern lab writes a lab to begin with)")}
	}
	l, err := readLab(e, labDir)
	if err != nil {
		return nil, err
	}
	if unit == "" && len(l.Units) == 1 {
		unit = l.Units[0].ID
	}
	if procedure == "" && len(l.Procedures) == 1 {
		procedure = l.Procedures[0].ID
	}
	if unit == "" {
		return nil, usageError{fmt.Errorf("serve: --unit is missing: which is on the bench first, of %s", strings.Join(unitIDs(l), ", "))}
	}
	if procedure == "" {
		return nil, usageError{fmt.Errorf("serve: --procedure is missing: which is run first, of %s", strings.Join(procedureIDs(l), ", "))}
	}
	if d.setup, err = l.Setup(unit, procedure); err != nil {
		return nil, usageError{config.First(labDir, config.In(labDir, err))}
	}
	d.lab, d.labDir = l, labDir
	d.sources, err = sources(d.setup.Bench)
	if err != nil {
		return nil, usageError{fmt.Errorf("%s: %w", filepath.Join(labDir, "bench.toml"), err)}
	}
	if len(d.sources) == 0 { // before a folder is made
		return nil, usageError{live.ErrNoDevice}
	}
	return d, nil
}

func unitIDs(l *config.Lab) []string {
	var out []string
	for _, u := range l.Units {
		out = append(out, u.ID)
	}
	return out
}

func procedureIDs(l *config.Lab) []string {
	var out []string
	for _, p := range l.Procedures {
		out = append(out, p.ID)
	}
	return out
}

// fast returns a clock that runs so many times faster from now on.
func fast(now func() time.Time, speed float64) acquire.Clock {
	if speed == 1 {
		return now
	}
	begun := now()
	return func() time.Time { return begun.Add(time.Duration(float64(now().Sub(begun)) * speed)) }
}

func (d *daemon) serve(ctx context.Context, e env, log *slog.Logger, out string, at front) error {
	if err := os.MkdirAll(out, 0o755); err != nil {
		return usageError{rig.Unopened(out, err, "a folder for the sessions, which can be made", "name another with --out")}
	}
	if err := live.Writable(out); err != nil { // not at the first motor start
		return usageError{err}
	}
	// Most of the heap is the pre-roll, which stays: collecting oftener costs little and halves the memory.
	defer debug.SetGCPercent(debug.SetGCPercent(30))
	tool := "quern " + version()
	recovered, err := live.RecoverAll(out, log)
	if err != nil {
		return err
	}
	sup, err := acquire.New(d.clock, d.clock(), d.sources)
	if err != nil {
		return usageError{err}
	}
	kick := make(chan struct{}, 1)
	published := func() {
		select {
		case kick <- struct{}{}:
		default: // the pages have not looked yet
		}
	}
	engine, err := live.New(sup, live.Options{Dir: out, Setup: d.setup, Tool: tool, Log: log, Wall: d.wall, Published: published, CutOff: recovered})
	if err != nil {
		return usageError{err}
	}
	if d.bench != nil {
		d.bench.Between(func(ctx context.Context, next config.Setup) {
			next.Bench = d.setup.Bench
			if err := engine.Turn(ctx, next); err != nil && ctx.Err() == nil {
				log.Warn("the simulated tester could not change the unit", "err", err)
			}
		})
	}
	l, g, err := at.open(out, true, log)
	if err != nil {
		return err
	}
	hub := stream.New()
	site, err := pages.New(pages.Options{Engine: engine, Lab: d.lab, LabDir: d.labDir, Setup: d.setup, Dir: out, Gate: g, Hub: hub, Zone: e.zone, Tool: tool, Log: log}, kick)
	if err != nil {
		return err
	}
	log.Info("the daemon runs", "unit", d.setup.Unit.ID, "procedure", d.setup.Procedure.ID, "sessions", out, "listen", l.Addr().String())

	notify := live.NewNotifier(os.Getenv)
	err = together(ctx,
		func(ctx context.Context) error { sup.Run(ctx); return nil }, // the sources stop before the engine closes its session
		engine.Run,
		func(ctx context.Context) error { return g.Serve(ctx, l, site, hub.Close) },
		site.Run,
		func(ctx context.Context) error {
			if err := notify.Keep(ctx, engine); err != nil {
				log.Error("the service supervisor cannot be told", "err", err)
			}
			<-ctx.Done()
			return nil
		})
	return errors.Join(err, site.Close())
}

// together runs the parts of the daemon until the first of them stops, which stops the others, and returns the first error.
func together(ctx context.Context, parts ...func(context.Context) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var running sync.WaitGroup
	var first error
	var once sync.Once
	for _, part := range parts {
		running.Go(func() {
			if err := part(ctx); err != nil {
				once.Do(func() { first = err })
			}
			cancel()
		})
	}
	running.Wait()
	return first
}
