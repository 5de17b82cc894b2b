package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"

	"quern/rig"
	"quern/rig/report/overlay"
	"quern/rig/report/timecode"
	"quern/rig/session"
)

// overlayFlags are those of the verb as they were typed.
type overlayFlags struct {
	out, from, to, aligned, rate, size, form, background string
	run                                                  int
	margin                                               float64
}

func overlayCommand(e env) *cobra.Command {
	var o overlayFlags
	k := campaign{e: e}
	c := &cobra.Command{
		Use:   "overlay SESSION --out DIR|- [flags]",
		Short: "Draw the on-camera page's ribbon and clock as film with alpha, to lay over footage",
		Long: `Draws what the on-camera page shows, frame by frame and with a transparent background: the state in words, the run
clock against its limit, level and current, unit and procedure, and the ribbon that grows towards the limit, with the
events in words. Once a run is over its final figures stand there, to the digit of the report.

--out DIR makes numbered PNG pictures: frame-000001.png is the first. --out - writes raw video to standard output: rows
from the top, red, green, blue, alpha, not multiplied by it (rgba). Frame n shows the instant from + n / rate, exactly;
23.976, 29.97 and 59.94 are 24000/1001, 30000/1001 and 60000/1001. A frame before the session is empty; after its end
the figures of its runs stand.

Times of --from and --to are the session's, or with --aligned the camera's. Without them the whole session is drawn; with
--run one run, from three seconds before its start until five after its end; with --aligned all of the camera's film. The
first frame is then one of the camera's own: the end of the work says which, so that the overlay is laid there and stays
in step.

The unit is called by its blind code. With --lab it gets its public name, once that is released, and the final figures
are those of the report, with all that was corrected by hand.

Numbers change at most twice a second, and a last digit that only trembles stands still. A size that is higher than wide is
laid out like 9:16, others like 16:9. Everything keeps the margin, 5 % of the picture on every side (common practice; 10 %
for words on screens that cut edges off). Pictures are written beside --out and get its name once all are there.`,
		Example: `  quern overlay SESSION --run 1 --out frames
  quern overlay SESSION --aligned clip.json --frame-rate 29.97 --out frames
  quern overlay SESSION --run 1 --size 1080x1920 --out - | ffmpeg -f rawvideo -pix_fmt rgba -video_size 1080x1920 -framerate 25 -i - -c:v png tall.mov

ProRes 4444, which editors take:
  quern overlay SESSION --run 1 --out - | ffmpeg -f rawvideo -pix_fmt rgba -video_size 1920x1080 -framerate 25 -i - -c:v prores_ks -profile:v 4444 -pix_fmt yuva444p10le overlay.mov
VP9 with alpha, small:
  quern overlay SESSION --run 1 --out - | ffmpeg -f rawvideo -pix_fmt rgba -video_size 1920x1080 -framerate 25 -i - -c:v libvpx-vp9 -pix_fmt yuva420p -deadline realtime -cpu-used 6 overlay.webm
straight onto the footage that was aligned:
  quern overlay SESSION --aligned clip.json --out - | ffmpeg -i clip.mp4 -f rawvideo -pix_fmt rgba -video_size 1920x1080 -framerate 25 -i - -filter_complex overlay -c:a copy done.mp4
numbered pictures into a film:
  ffmpeg -framerate 25 -i frames/` + overlay.FramesPattern + ` -c:v prores_ks -profile:v 4444 -pix_fmt yuva444p10le overlay.mov
For 29.97 and the like give both programs 30000/1001.`,
		Args: arguments(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, args []string) error { return o.draw(c, &k, args[0]) },
	}
	f := c.Flags()
	f.StringVar(&o.out, "out", "", "a new folder for numbered pictures, or - for raw video on standard output")
	f.StringVar(&o.from, "from", "", "where the film begins, such as 0:10 or 1:12.5")
	f.StringVar(&o.to, "to", "", "where it ends")
	f.IntVar(&o.run, "run", 0, "only this run, from 1")
	f.StringVar(&o.aligned, "aligned", "", "what 'quern align' wrote: the frames are those of the camera")
	f.StringVar(&o.rate, "frame-rate", "25", "frames a second: 23.976, 24, 25, 29.97, 30, 50, 59.94, 60")
	f.StringVar(&o.size, "size", "1920x1080", "width and height in pixels, such as 3840x2160 or 1080x1920")
	f.StringVar(&o.form, "form", "", "frames or raw (default: raw for --out -, otherwise frames)")
	f.StringVar(&o.background, "background", "none", "none, or a colour such as #00b140 for programs that know no alpha")
	f.Float64Var(&o.margin, "margin", 5, "what is kept free on every side, per cent")
	f.StringVar(&k.lab, "lab", "", "the lab folder: names that are released, and corrected figures")
	f.StringVar(&k.settings, "settings", "stored", "with --lab: analyse under the settings stored in the session, or lab: under the lab's present ones")
	return c
}

func (o *overlayFlags) draw(c *cobra.Command, k *campaign, dir string) error {
	e := k.e
	usage := func(flag string, err error) error { return usageError{fmt.Errorf("overlay: --%s: %w", flag, err)} }
	raw, err := o.raw(e)
	if err != nil {
		return err
	}
	look, err := o.look()
	if err != nil {
		return err
	}
	rate, err := timecode.ParseRate(o.rate)
	if err != nil {
		return usage("frame-rate", err)
	}
	ses, err := session.Open(dir)
	if err != nil {
		return usageError{err}
	}
	told, err := footageOf(k, ses, dir)
	if err != nil {
		return err
	}
	sc, err := told.Scene(func(src rig.Source) rig.Source { return stoppable{src, e} })
	if err != nil {
		return err
	}
	span, err := o.span(rate, &sc, ses.Manifest().Session)
	if err != nil {
		return err
	}
	film, err := overlay.NewFilm(sc, look)
	if err != nil {
		return usage("size", err)
	}
	first := int64(-1)
	if span.Camera != nil {
		first = span.OnGrid()
	}
	frames := span.Frames()
	if frames == 0 {
		return usageError{fmt.Errorf("overlay: found a span from %.3f s to %.3f s, expected one that is longer than nothing", span.FromS, span.ToS)}
	}
	if err := o.write(c.Context(), e, raw, film, span); err != nil {
		return err
	}
	say := e.out
	if raw {
		say = e.err
	}
	if !raw || first >= 0 {
		fmt.Fprintf(say, "%s of %s at %s a second\n", rig.Count(frames, "frame"), o.size, rate)
	}
	if first >= 0 {
		fmt.Fprintf(say, "the first lies on frame %d of the camera, counted from 0, at %.3f s\n", first, span.FromS)
	}
	return nil
}

// write writes the frames, and shows how far it has come.
func (o *overlayFlags) write(ctx context.Context, e env, raw bool, film *overlay.Film, span overlay.Span) error {
	perSecond := max(1, span.Rate.Num/span.Rate.Den)
	bar := progress{e: e, of: int(span.Frames() / perSecond), what: "seconds of film"}
	defer bar.done()
	step := func(done int64) {
		if done%perSecond == 0 {
			bar.step()
		}
	}
	if raw {
		signal.Ignore(syscall.SIGPIPE) // whoever reads may stop when he has enough
		return overlay.WriteRaw(ctx, e.out, film, span, step)
	}
	err := overlay.WriteFrames(ctx, o.out, film, span, step)
	if errors.Is(err, os.ErrExist) || errors.Is(err, os.ErrNotExist) {
		return usageError{fmt.Errorf("overlay: --out %w", err)}
	}
	return err
}

// raw says in which form the film goes out.
func (o *overlayFlags) raw(e env) (bool, error) {
	form := o.form
	if form == "" {
		form = "frames"
		if o.out == "-" {
			form = "raw"
		}
	}
	switch {
	case o.out == "":
		return false, usageError{errors.New("overlay: --out is missing: name a new folder for numbered pictures, or - for raw video on standard output")}
	case form != "frames" && form != "raw":
		return false, usageError{fmt.Errorf("overlay: found --form %q, expected frames or raw", form)}
	case form == "raw" && o.out != "-":
		return false, usageError{fmt.Errorf("overlay: raw video goes to standard output only; found --out %s, expected -", o.out)}
	case form == "frames" && o.out == "-":
		return false, usageError{errors.New("overlay: numbered pictures need a folder; found --out -")}
	}
	if form == "raw" && onTerminal(e) {
		return false, usageError{errors.New("overlay: raw video is not for a terminal: pipe it into a program for film; see 'quern overlay --help'")}
	}
	return form == "raw", nil
}

// onTerminal tells that standard output is a terminal.
func onTerminal(e env) bool {
	f, ok := e.out.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	if err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return false
	}
	null, err := os.Stat(os.DevNull)
	return err != nil || !os.SameFile(info, null)
}

func (o *overlayFlags) look() (overlay.Look, error) {
	l := overlay.Look{Margin: o.margin / 100}
	var ok bool
	if l.Width, l.Height, ok = overlay.ParseSize(o.size); !ok {
		return l, usageError{fmt.Errorf("overlay: found --size %q, expected a width and a height such as 1920x1080", o.size)}
	}
	if err := l.Check(); err != nil {
		return l, usageError{fmt.Errorf("overlay: %w", err)}
	}
	if l.Background, ok = overlay.ParseColour(o.background); !ok {
		return l, usageError{fmt.Errorf("overlay: found --background %q, expected none or a colour such as #00b140", o.background)}
	}
	return l, nil
}

// span returns the stretch of film that is asked for.
func (o *overlayFlags) span(rate timecode.Rate, sc *overlay.Scene, name string) (overlay.Span, error) {
	s := overlay.Span{Rate: rate, ToS: sc.EndS}
	if o.run != 0 {
		if o.from != "" || o.to != "" {
			return s, usageError{errors.New("overlay: --run says from when to when; --from and --to do not go with it")}
		}
		if o.run < 1 || o.run > len(sc.Result.Runs) {
			return s, usageError{fmt.Errorf("overlay: found --run %d, expected 1 to %d", o.run, len(sc.Result.Runs))}
		}
		if !s.OfRun(sc.Result.Runs[o.run-1]) {
			return s, usageError{fmt.Errorf("overlay: it is not known when run %d began and ended: give --from and --to", o.run)}
		}
	}
	if o.aligned != "" {
		a, err := readAligned("overlay", o.aligned, name)
		if err != nil {
			return s, err
		}
		s.OnCamera(a, o.run == 0)
	}
	for _, t := range []struct {
		flag, text string
		to         *float64
	}{{"from", o.from, &s.FromS}, {"to", o.to, &s.ToS}} {
		if t.text == "" {
			continue
		}
		v, err := timecode.ParseTime(t.text)
		if err != nil {
			return s, usageError{fmt.Errorf("overlay: --%s: %w", t.flag, err)}
		}
		*t.to = v
	}
	return s, nil
}
