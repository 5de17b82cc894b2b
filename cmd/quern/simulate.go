package main

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"quern/acquire/sim"
	"quern/acquire/sim/exam"
	"quern/config"
	"quern/detect"
	"quern/rig"
	"quern/rig/session"
	"quern/rig/wave"
)

func simulateCommand(e env) *cobra.Command {
	var seeds, difficulty, scenario, out, failures, lab string
	var campaign, levels, asJSON bool
	var workers, units int
	c := &cobra.Command{
		Use:   "simulate [--seeds FROM:TO] [--difficulty usual|hostile|weak-clamp] | --scenario NAME --out SESSION | --campaign --lab LAB --out FOLDER",
		Short: "Examine the analysis on the simulated bench, or record simulated sessions",
		Long: `The simulated bench knows exactly what happened. Without --out, quern analyses one session a seed on
all cores and prints how many events it found, missed and made up, and how far times, levels and currents
are off. With --out it records sessions instead, as if they had been measured. All units and levels are invented.

--campaign invents a whole season to learn the job on: units, runs under every procedure of the lab with weighings,
checks, a void and its repeat, corrections, and values entered by hand. FOLDER gets the lab with its invented units,
and the sessions. Runs are short, and recorded at low rates.

Scenarios: ` + strings.Join(sim.Names(), ", "),
		Example: `  quern simulate --seeds 1:1000
  quern simulate --seeds 1:200 --difficulty hostile --levels --failures bad/
  quern simulate --scenario stall-and-trip --out sessions/demo
  quern simulate --campaign --lab LAB --units 20 --out season`,
		Args: arguments(cobra.NoArgs),
		RunE: func(c *cobra.Command, args []string) error {
			from, to, err := span(seeds)
			if err != nil {
				return usageError{err}
			}
			switch {
			case campaign && out != "":
				return recordSeason(c.Context(), e, lab, from, units, workers, out)
			case scenario != "" && out != "":
				sc, ok := sim.Named(scenario, from)
				if !ok {
					return usageError{fmt.Errorf("simulate: found --scenario %q, expected one of %s", scenario, strings.Join(sim.Names(), ", "))}
				}
				return record(e, sc, out)
			case campaign || scenario != "" || out != "":
				return usageError{fmt.Errorf("simulate: --scenario or --campaign go with --out; see 'quern simulate --help'")}
			}
			level := sim.Difficulty(difficulty)
			if !slices.Contains(sim.Difficulties, level) {
				return usageError{fmt.Errorf("simulate: found --difficulty %q, expected one of %v", difficulty, sim.Difficulties)}
			}
			return examine(c, e, from, to, level, levels, asJSON, workers, failures)
		},
	}
	f := c.Flags()
	f.StringVar(&seeds, "seeds", "1:100", "the seeds, from:to; with --out, the first is used")
	f.StringVar(&difficulty, "difficulty", "usual", "usual, hostile or weak-clamp")
	f.BoolVar(&levels, "levels", false, "compare levels too, with those of the frequency domain (slower)")
	f.StringVar(&failures, "failures", "", "record every session in which an event was missed or made up below this folder, which must exist")
	f.IntVar(&workers, "workers", runtime.NumCPU(), "sessions at a time")
	f.BoolVar(&asJSON, "json", false, "print the truth and the result of each session as one JSON object a line instead of the table")
	f.StringVar(&scenario, "scenario", "", "record this scenario")
	f.BoolVar(&campaign, "campaign", false, "record a whole season of invented units under the procedures of --lab")
	f.StringVar(&lab, "lab", "", "with --campaign: the lab whose bench, procedures and scorecard are used")
	f.IntVar(&units, "units", 6, "with --campaign: how many units, from 4")
	f.StringVar(&out, "out", "", "where to record")
	return c
}

func span(s string) (from, to uint64, err error) {
	a, b, ok := strings.Cut(s, ":")
	if !ok {
		b = a
	}
	from, err1 := strconv.ParseUint(a, 10, 63)
	to, err2 := strconv.ParseUint(b, 10, 63)
	if err1 != nil || err2 != nil || to < from || to-from >= 1e6 {
		return 0, 0, fmt.Errorf("simulate: found --seeds %q, expected from:to, such as 1:1000, of at most a million", s)
	}
	return from, to, nil
}

// underTest is the analysis as every verb runs it.
func underTest(src rig.Source, set config.Setup, name string) (rig.Result, error) {
	return detect.Analyse(src, set, name, detect.Trace{})
}

func examine(c *cobra.Command, e env, from, to uint64, level sim.Difficulty, levels, asJSON bool, workers int, failures string) error {
	book := exam.NewBook()
	n := int(to - from + 1)
	bar := progress{e: e, of: n, what: "sessions"}
	enc := json.NewEncoder(e.out)
	next := func(i int) sim.Scenario {
		sc := sim.Draw(from+uint64(i), level)
		sc.LevelTruth = levels
		return sc
	}
	err := exam.SitAll(n, workers, next, underTest, func(p exam.Paper) error {
		if err := c.Context().Err(); err != nil {
			return err
		}
		book.Add(p.Card)
		bar.step()
		if asJSON {
			return enc.Encode(map[string]rig.Result{"truth": p.Truth, "result": p.Result})
		}
		if len(p.Card.Misses) == 0 {
			return nil
		}
		for _, m := range p.Card.Misses {
			fmt.Fprintf(e.out, "%s: %s\n", p.Scenario.Name, m)
		}
		if failures != "" {
			return record(e, p.Scenario, filepath.Join(failures, p.Scenario.Name))
		}
		return nil
	})
	bar.done()
	if err != nil || asJSON {
		return err
	}
	return book.Print(e.out)
}

// record keeps a simulated session as if it had been measured.
func record(e env, sc sim.Scenario, out string) error {
	b, err := sim.New(sc)
	if err != nil {
		return err
	}
	head := headOf(sc, b)
	if err := keep(stoppable{b, e}, head, out, invented, nil); err != nil {
		return err
	}
	fmt.Fprintf(e.out, "%s: recorded\n", out)
	return nil
}

// invented is what every simulated session says of itself.
func invented() []rig.Warning {
	return []rig.Warning{{Code: "simulated", Text: "this session was simulated; unit, material and levels are invented"}}
}

// headOf is the head of a session that a scenario makes.
func headOf(sc sim.Scenario, b *sim.Bench) session.Head {
	set := b.Setup()
	set.Bench.Detect = config.DefaultDetect()
	head := session.Head{Setup: set, Started: time.Unix(0, 0).UTC(), Tool: "quern " + version(), Origin: rig.Recorded}
	for _, s := range b.Streams() {
		enc := wave.Encoding(0)
		switch {
		case s.Form != rig.Waveform:
		case s.Channel == rig.Microphone && sc.Sound.Bits == 24, s.Channel == rig.Clamp && sc.Current.Bits == 24:
			enc = wave.PCM24
		default:
			enc = wave.PCM16
		}
		head.Streams = append(head.Streams, session.Stream{Stream: s, Encoding: enc})
	}
	return head
}
