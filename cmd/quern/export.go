package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"quern/rig"
	"quern/rig/report/export"
	"quern/rig/report/series"
	"quern/rig/score/gum"
)

func exportCommand(e env) *cobra.Command {
	k := campaign{e: e}
	var out, channel, mass string
	var forms, only []string
	var run int
	var step, margin time.Duration
	var bom bool
	c := &cobra.Command{
		Use:   "export SESSIONS... --lab LAB --out DIR | SESSION --form wav --out FILE.wav",
		Short: "Write every number as tables (CSV, JSON, Parquet, line protocol), or a run's sound as WAV",
		Long: `Writes what the sessions came to, and what that was made of, into a new folder: one file a table, enough to compute
every number again. The folder appears whole or not at all.

  csv      RFC 4180, UTF-8, a header whose names end in the unit: for spreadsheets and statistics
  json     an array of objects, a row a line; the same numbers, digit by digit
  parquet  columns with types, compressed: for long series
  line     line protocol, for time series engines: keys are tags, utc is the time
  wav      one recording of one session, of a run or whole, bit for bit as it was recorded

Numbers have a decimal point and no more digits than the value has; masses are grams, and --mass oz adds ounces;
times are seconds, and m:ss.s beside them for reading. What was not measured is empty (null), and a column says why.
Times named _s count from the session's start. Names obey the release dates.

A text in CSV that would start a formula (= + - @, a tab, a line's end) has an apostrophe before it, as has a text
that begins with one. Negative numbers are numbers.

The tables, each column of which is told in the table columns:
` + tableList() + `
Of --only: names of tables, or tables (all but the series, which is what you get), series, all.`,
		Example: `  quern export sessions --lab LAB --out season                      all tables as CSV
  quern export sessions --lab LAB --out season --form json --only runs,events
  quern export SESSION --lab LAB --out run --form parquet --only series
  quern export SESSION --lab LAB --out run --only series --step 1s  a row a second
  quern export sessions --lab LAB --out lines --form line --only measures,series
  quern export SESSION --run 2 --form wav --out run2.wav`,
		Args: arguments(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			if out == "" {
				return usageError{errors.New("export: found no --out, expected the folder or the WAV file to write")}
			}
			if slices.Contains(forms, "wav") {
				for _, name := range []string{"lab", "only", "mass", "step", "bom"} {
					if c.Flags().Changed(name) {
						return usageError{fmt.Errorf("export: found --%s with --form wav, expected it with tables", name)}
					}
				}
				if len(forms) > 1 || len(args) > 1 {
					return usageError{errors.New("export: --form wav stands by itself and takes one session")}
				}
				return exportWAV(e, args[0], out, channel, run, margin)
			}
			for _, name := range []string{"run", "channel", "margin"} {
				if c.Flags().Changed(name) {
					return usageError{fmt.Errorf("export: found --%s, expected it with --form wav; tables hold all runs", name)}
				}
			}
			o := export.Options{Forms: forms, Mass: mass, StepS: step.Seconds(), BOM: bom}
			if err := checkTables(&o, only, step); err != nil {
				return err
			}
			return k.export(c, args, out, o)
		},
	}
	k.flags(c)
	_ = c.Flags().MarkHidden("json") // --form json says it
	f := c.Flags()
	f.StringVar(&out, "out", "", "the folder of the tables, which is not there yet or empty; or the WAV file")
	f.StringSliceVar(&forms, "form", []string{"csv"}, "csv, json, parquet, line, several with commas; or wav")
	f.StringSliceVar(&only, "only", []string{export.NoSeries}, "which tables, with commas")
	f.DurationVar(&step, "step", 0, "of series: a row every so often, such as 1s (0: each series at its own pace)")
	f.StringVar(&mass, "mass", "g", "add masses in another unit, such as oz")
	f.BoolVar(&bom, "bom", false, "begin CSV with a byte order mark, for programs that take it for another encoding without one")
	f.IntVar(&run, "run", 0, "of WAV: this run, from 1 (0: the whole session)")
	f.StringVar(&channel, "channel", series.Waveform, "of WAV: waveform (the microphone), current, or extra: and a channel")
	f.DurationVar(&margin, "margin", 0, "of WAV: so much before and after the run")
	return c
}

// checkTables refuses what no tables can be written by, and chooses them.
func checkTables(o *export.Options, only []string, step time.Duration) (err error) {
	for _, f := range o.Forms {
		if !slices.Contains(export.Forms, f) {
			return usageError{fmt.Errorf("export: found --form %q, expected some of %s, or wav", f, strings.Join(export.Forms, ", "))}
		}
	}
	if step != 0 && (step < 100*time.Millisecond || step > time.Hour || step%(100*time.Millisecond) != 0) {
		return usageError{fmt.Errorf("export: found --step %s, expected whole tenths of a second from 100ms to 1h", step)}
	}
	if _, err := gum.FromGrams(1, o.Mass); err != nil {
		return usageError{fmt.Errorf("export: --mass: %w", err)}
	}
	if o.Tables, err = export.Select(only); err != nil {
		return usageError{fmt.Errorf("export: --only: %w", err)}
	}
	slices.Sort(o.Forms)
	o.Forms = slices.Compact(o.Forms)
	return nil
}

// tableList names the tables for the help.
func tableList() string {
	var b strings.Builder
	for _, t := range export.Tables() {
		fmt.Fprintf(&b, "  %-21s %s\n", t.Name, t.What)
	}
	return b.String()
}

func (k *campaign) export(c *cobra.Command, folders []string, out string, o export.Options) error {
	if k.asJSON {
		return usageError{errors.New("export: found --json, expected --form json")}
	}
	var err error
	if o.Campaign, err = k.read(k.lab, folders); err != nil {
		return err
	}
	bar := progress{e: k.e, what: "sessions"}
	o.Records, o.Hand, o.Dirs = k.from.records, k.from.hand, k.from.dirs
	o.Day, o.Sums = k.today(), k.sums(o.Campaign)
	o.Step = func(done, of int) { bar.n, bar.of = done-1, of; bar.step() }
	err = export.Write(c.Context(), out, o)
	bar.done()
	var file *rig.FileError
	if errors.As(err, &file) {
		return usageError{err}
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(k.e.out, "%s: %s of %s as %s\n", out, rig.Count(len(o.Tables), "table"), rig.Count(len(o.Campaign.Runs), "run"), strings.Join(o.Forms, ", "))
	return nil
}

func exportWAV(e env, dir, out, channel string, run int, margin time.Duration) error {
	if run < 0 || margin < 0 {
		return usageError{fmt.Errorf("export: found --run %d --margin %s, expected neither below 0", run, margin)}
	}
	from, to, err := export.WAV(out, export.Stretch{Dir: dir, Run: run, Channel: channel, MarginS: margin.Seconds()})
	var file *rig.FileError
	if errors.As(err, &file) || errors.Is(err, series.ErrAbsent) || errors.Is(err, series.ErrUnsealed) {
		return usageError{err}
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(e.out, "%s: %s of %s from %.3f to %.3f s\n", out, channel, dir, from, to)
	return nil
}
