package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"strings"
	"time"
	"unicode"

	"github.com/spf13/cobra"

	"quern/acquire/recording"
	"quern/config"
	"quern/rig"
	"quern/rig/session"
)

func importCommand(e env) *cobra.Command {
	var o importOptions
	c := &cobra.Command{
		Use:   "import --lab LAB --unit ID --procedure ID --out SESSION [--microphone FILE.wav] [--clamp FILE.wav|FILE.csv] [--scale FILE.csv] | --lab LAB --table FILE.csv --out FOLDER",
		Short: "Bring in recordings made elsewhere as a session",
		Long: `Brings in what a microphone, a current clamp and a scale recorded, or only one of them, as a session
that can be replayed under any settings. All recordings begin at the same instant; they may differ in length.

  microphone   WAV (RIFF or RF64): PCM of 16, 24 or 32 bits or float of 32 or 64, 1 kHz to 192 kHz
  clamp        the same, or CSV: time_s,current_a (amperes at a constant step, 400 Hz to 192 kHz) or time_s,rms_a
  scale        CSV: time_s,mass_g,stable (stable is 0 or 1 and may be missing)

Results that were taken by hand come in with --table: a CSV with the columns unit, procedure, date, who, note and
names of measures (run_time_s, left_share, laeq_db, trips, ...), a run a row; an empty cell was not taken. Each row
becomes a session of its own in FOLDER, marked as taken by hand, and is scored by the same rules. Of a table that has
grown only the new rows are taken.

The sound of a film becomes a WAV by ffmpeg -i clip.mp4 -vn -ac 1 clip.wav. A failed import leaves no session behind.`,
		Example: `  quern import --lab LAB --unit unit-a --procedure mixed --out s1 --microphone run.wav --clamp run.csv
  quern import --lab LAB --unit unit-a --procedure mixed --out s2 --clamp stereo.wav --channel 2 --start 2026-03-01T10:00:00Z
  quern import --lab LAB --unit unit-a --procedure mixed --out s3 --microphone stereo.wav --channel 1 --clamp stereo.wav --clamp-channel 2
  quern import --lab LAB --table results-2024.csv --out sessions --who ann`,
		Args: arguments(cobra.NoArgs),
		RunE: func(c *cobra.Command, args []string) error { return o.run(e, c) },
	}
	f := c.Flags()
	f.StringVar(&o.lab, "lab", "", "the lab folder")
	f.StringVar(&o.unit, "unit", "", "id of the unit in units.toml")
	f.StringVar(&o.procedure, "procedure", "", "id of the procedure in procedures/")
	f.StringVar(&o.out, "out", "", "the session's folder, which must not exist")
	f.StringVar(&o.files.Microphone, "microphone", "", "sound: a WAV file")
	f.StringVar(&o.files.Clamp, "clamp", "", "motor current: a WAV or CSV file")
	f.StringVar(&o.files.Scale, "scale", "", "mass: a CSV file")
	f.IntVar(&o.channel, "channel", 0, "which channel of a WAV of several to take, from 1 (default: the first, with a warning)")
	f.IntVar(&o.clampChannel, "clamp-channel", 0, "which channel of the clamp's WAV, where it is another than the microphone's (default: --channel)")
	f.StringVar(&o.table, "table", "", "results taken by hand: a CSV file")
	f.StringVar(&o.who, "who", "", "with --table: who took them, where the table does not say")
	f.StringVar(&o.start, "start", "1970-01-01T00:00:00Z", "when the recordings began, RFC 3339")
	return c
}

// importOptions is what was asked for on the command line.
type importOptions struct {
	lab, unit, procedure, out, start, table, who string
	files                                        recording.Options
	channel, clampChannel                        int
}

func (o *importOptions) run(e env, c *cobra.Command) error {
	if o.table != "" {
		if o.out == "" {
			return usageError{fmt.Errorf("import: --out is missing: the folder in which the sessions are to stand")}
		}
		return bringTable(e, o.lab, o.table, o.out, o.who)
	}
	if err := o.check(c); err != nil {
		return err
	}
	began, err := time.Parse(time.RFC3339, o.start)
	if err != nil {
		return usageError{fmt.Errorf("import: found --start %.40q, expected a time such as 2026-03-01T10:00:00Z", o.start)}
	}
	if err := session.CheckStart(began); err != nil {
		return usageError{fmt.Errorf("import: found --start %q: %w", o.start, err)}
	}
	o.files.MicrophoneChannel, o.files.ClampChannel = o.channel, o.channel
	if o.clampChannel > 0 {
		o.files.ClampChannel = o.clampChannel
	}
	l, err := readLab(e, o.lab)
	if err != nil {
		return err
	}
	set, err := l.Setup(o.unit, o.procedure)
	if err != nil {
		return usageError{config.First(o.lab, config.In(o.lab, err))}
	}
	if !c.Flags().Changed("start") {
		set.Bench.TimeZone = "" // nobody said when it was: no zone makes another day of that
	}
	calibrated := func(streams []rig.Stream) error { return config.In(o.lab, l.Calibrated(streams)) }
	return bringIn(e, o.files, calibrated, session.Head{Setup: set, Started: began, Tool: "quern " + version(), Origin: rig.Imported}, o.out)
}

// check refuses a command line of which no session could be made.
func (o *importOptions) check(c *cobra.Command) error {
	for _, f := range []struct{ name, value string }{{"lab", o.lab}, {"unit", o.unit}, {"procedure", o.procedure}, {"out", o.out}} {
		if f.value == "" {
			return usageError{fmt.Errorf("import: --%s is missing, expected %s; see 'quern import --help'", f.name, c.Flags().Lookup(f.name).Usage)}
		}
	}
	for _, f := range []struct{ name, value string }{{"microphone", o.files.Microphone}, {"clamp", o.files.Clamp}, {"scale", o.files.Scale}} {
		if c.Flags().Changed(f.name) && f.value == "" {
			return usageError{fmt.Errorf("import: found --%s with an empty name, expected a file; leave --%s out where there is none", f.name, f.name)}
		}
	}
	if o.files.Microphone == "" && o.files.Clamp == "" && o.files.Scale == "" {
		return usageError{errors.New("import: found no recording, expected at least one of --microphone, --clamp and --scale")}
	}
	if o.channel < 0 || c.Flags().Changed("channel") && o.channel == 0 {
		return usageError{fmt.Errorf("import: found --channel %d, expected 1 or more", o.channel)}
	}
	if c.Flags().Changed("clamp-channel") && (o.clampChannel < 1 || o.files.Clamp == "") {
		return usageError{fmt.Errorf("import: found --clamp-channel %d, expected 1 or more, beside --clamp FILE.wav", o.clampChannel)}
	}
	return nil
}

// bringIn copies recordings into a new session; calibrated refuses those that the lab's settings cannot turn into
// levels and amperes.
func bringIn(e env, files recording.Options, calibrated func([]rig.Stream) error, head session.Head, out string) (err error) {
	src, err := recording.Open(files)
	if err != nil {
		return usageError{err}
	}
	defer func() { err = errors.Join(err, src.Close()) }()
	if err := calibrated(src.Streams()); err != nil {
		return usageError{err}
	}
	for _, s := range src.Streams() {
		head.Streams = append(head.Streams, session.Stream{Stream: s, Encoding: src.Encoding(s.Channel)})
	}
	clearUnfinished(e, filepath.Dir(filepath.Clean(out)))
	if err := keep(stoppable{src, e}, head, out, src.Warnings, nil); err != nil {
		return err
	}
	fmt.Fprintf(e.out, "%s: kept; look at it with: quern replay %s\n", out, asTyped(out))
	return nil
}

// clearUnfinished takes away what imports that were cut off left in the folder, and says so.
func clearUnfinished(e env, folder string) {
	for _, name := range session.ClearUnfinished(folder) {
		fmt.Fprintf(e.out, "%s: removed; an import that was cut off had left it, and what it was copying is where it was\n", filepath.Join(folder, name))
	}
}

// asTyped returns a path as one would type it in a shell.
func asTyped(path string) string {
	if strings.HasPrefix(path, "-") {
		path = "./" + path
	}
	plain := func(c rune) bool {
		return unicode.IsLetter(c) || unicode.IsDigit(c) || strings.ContainsRune("/._-+=:,@%", c)
	}
	if strings.ContainsFunc(path, func(c rune) bool { return !plain(c) }) {
		return "'" + strings.ReplaceAll(path, "'", `'\''`) + "'"
	}
	return path
}

// keep writes all blocks of a source into a new, sealed session; facts, if any, adds what people put on
// record.
func keep(src rig.Source, head session.Head, out string, warnings func() []rig.Warning, facts func(*session.Writer) error) (err error) {
	w, err := session.Create(out, head)
	if err != nil {
		return usageError{err}
	}
	defer func() { err = errors.Join(err, w.Close()) }()
	for {
		b, err := src.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return usageError{err}
		}
		if err := w.AppendBlock(b); err != nil {
			return err
		}
	}
	if facts != nil {
		if err := facts(w); err != nil {
			return err
		}
	}
	for _, warning := range warnings() {
		if err := w.AddWarning(warning); err != nil {
			return err
		}
	}
	return seal(w)
}

// seal ends a session; its name may have been taken by another program meanwhile.
func seal(w *session.Writer) error {
	err := w.Seal()
	if errors.Is(err, fs.ErrExist) {
		return usageError{err}
	}
	return err
}
