// Command quern times, measures and keeps the runs of an instrumented test rig.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"quern/config"
)

// env is what a verb is given from outside.
type env struct {
	args []string
	out  io.Writer
	err  io.Writer
	now  func() time.Time
	// zone is the machine's own time zone, for labs that name none; "": UTC.
	zone string
	// terminal says that err is a terminal: only then is progress shown.
	terminal bool
	// stop is closed when the user has pressed Ctrl-C, or the system asks to end; nil: never.
	stop <-chan struct{}
}

// usageError marks what is wrong with the command line or a file: exit status 2.
type usageError struct{ error }

func (e usageError) Unwrap() error { return e.error }

func main() {
	ctx, stop := untilAsked()
	defer stop()
	info, err := os.Stderr.Stat()
	tty := err == nil && info.Mode()&os.ModeCharDevice != 0
	os.Exit(run(ctx, env{args: os.Args[1:], out: os.Stdout, err: os.Stderr, now: time.Now, zone: config.MachineZone(), terminal: tty}))
}

// untilAsked returns a context that ends at Ctrl-C, and when the system asks to end.
func untilAsked() (context.Context, context.CancelFunc) {
	ends := []os.Signal{os.Interrupt, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) { // nohup
		ends = append(ends, syscall.SIGHUP)
	}
	ctx, stop := signal.NotifyContext(context.Background(), ends...)
	context.AfterFunc(ctx, stop) // what does not end at the first Ctrl-C is ended by the second
	return ctx, stop
}

// run executes one command line and returns the exit status: 0 done; 1 it could not be done; 2 the
// command line or a file is wrong.
func run(ctx context.Context, e env) int {
	e.stop = ctx.Done()
	root := command(e)
	root.SetArgs(e.args)
	root.SetOut(e.out)
	root.SetErr(e.err)
	ownWords(root) // their output is settled when they are made
	err := root.ExecuteContext(ctx)
	switch u := (usageError{}); {
	case err == nil:
		return 0
	case ctx.Err() != nil && errors.Is(err, context.Canceled):
		fmt.Fprintln(e.err, "quern: interrupted")
		return 1
	case errors.As(err, &u):
		fmt.Fprintln(e.err, "quern:", err)
		return 2
	default:
		fmt.Fprintln(e.err, "quern:", err)
		return 1
	}
}

func command(e env) *cobra.Command {
	root := &cobra.Command{
		Use:   "quern",
		Short: "Times, measures and keeps the runs of an instrumented test rig",
		Long: `quern finds the runs in what a microphone, a current clamp and a scale recorded on a test
bench, times them, and measures their sound and current. It watches; it never switches anything.

A first session:
  quern lab LAB                          write a lab folder to begin with
  quern check LAB                        read the lab folder and explain what the bench will do
  quern import --lab LAB --unit unit-a --procedure mixed --microphone run.wav --out SESSION
  quern replay SESSION                   its runs as a table
  quern draw SESSION --out run.png       its runs as a picture`,
		SilenceUsage:               true,
		SuggestionsMinimumDistance: 2,
		SilenceErrors:              true,
		Version:                    version(),
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usageError{fmt.Errorf("found %q, expected a command%s; see 'quern --help'", args[0], meant(c, args[0]))}
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return c.Help() },
	}
	root.SetFlagErrorFunc(optionError)
	defer func() { // when all verbs are there
		for _, c := range root.Commands() {
			once(c)
		}
	}()
	root.AddCommand(labCommand(e), checkCommand(e), importCommand(e), replayCommand(e), drawCommand(e), simulateCommand(e), verifyCommand(e), recoverCommand(e),
		serveCommand(e), statusCommand(e), actCommand(e), pagesCommand(e), pairCommand(e), listenCommand(e), devicesCommand(e),
		planCommand(e), weighCommand(e), checkedCommand(e), correctCommand(e), rateCommand(e), scoreCommand(e), standingsCommand(e), explainCommand(e), controlCommand(e), exportCommand(e), alignCommand(e), captionsCommand(e), overlayCommand(e), reportCommand(e))
	return root
}

// version is what the build recorded of itself.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	v := info.Main.Version
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 {
			v += " " + s.Value[:12]
		}
	}
	return v
}
