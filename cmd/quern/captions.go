package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"quern/config"
	"quern/rig"
	"quern/rig/report/align"
	"quern/rig/report/captions"
	"quern/rig/session"
)

// captionFlags are those of the verb as they were typed.
type captionFlags struct {
	out, aligned, rate, start, mass string
	offset, drift                   float64
	offsetGiven                     bool
}

func captionsCommand(e env) *cobra.Command {
	var o captionFlags
	k := campaign{e: e}
	c := &cobra.Command{
		Use:   "captions SESSION --aligned FILE.json|--offset S --out DIR [flags]",
		Short: "Write captions, chapters and edit points for footage of a session",
		Long: `Writes into a new folder what was measured while a camera ran, on the camera's own clock:

  captions.vtt      WebVTT captions: state, level, current, events, and what each run came to
  captions.srt      the same as SubRip
  chapters.vtt      WebVTT chapters: motor start, load, stalls, trip, chamber clear, stop
  edit-points.otio  OpenTimelineIO: the footage as one clip, with a marker at every event
  edit-points.csv   the events with time code, time on both clocks, how sure, and on what evidence

Captions are calm: a cue stands as long as it takes to read it, its last digit stands still while it only trembles, and
what happens faster than one can read is told together. Nothing is told while the motor is off. Figures of a run that is
over are those of the report, to the digit. Only the footage's own span is captioned.

Cameras are lined up by 'quern align'. --offset says it by hand: the session's time of the first picture, negative if the
camera began before the session; --drift by how many millionths the camera's clock is slow.

Frames and time code are those of footage whose frames come evenly. Phones film unevenly: the captions fit all the same;
for the edit points make the footage even first, and line that up: ffmpeg -i clip.mp4 -vf fps=30 even.mp4

The unit is called by its blind code. With --lab it gets its public name, once that is released, and figures are those
of the report with all that was corrected by hand; a name that is not released is not written either where the session
or the footage is called by it: its code stands there, and an editor has to be shown the footage.`,
		Example: "  quern captions SESSION --aligned clip.json --out clip-captions\n" +
			"  quern captions SESSION --aligned clip.json --frame-rate 29.97df --start 01:00:00;00 --out clip-captions\n" +
			"  quern captions SESSION --offset 12.3456 --drift 40 --mass oz --out clip-captions",
		Args: arguments(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			o.offsetGiven = c.Flags().Changed("offset")
			return o.run(c.Context(), &k, args[0])
		},
	}
	f := c.Flags()
	f.StringVar(&o.out, "out", "", "a new folder for the files")
	f.StringVar(&o.aligned, "aligned", "", "what 'quern align --out' wrote")
	f.Float64Var(&o.offset, "offset", 0, "instead: the session's time of the first picture, s")
	f.Float64Var(&o.drift, "drift", 0, "with --offset: by how many millionths the camera's clock is slow")
	f.StringVar(&o.rate, "frame-rate", "25", "frames a second: "+rateNames())
	f.StringVar(&o.start, "start", "", "time code of the footage's first picture, such as 01:00:00:00 (default: 00:00:00:00)")
	f.StringVar(&o.mass, "mass", "", "tell the scale's indication too, in g or oz")
	f.StringVar(&k.lab, "lab", "", "the lab folder: names that are released, and corrected figures")
	f.StringVar(&k.settings, "settings", "stored", "with --lab: analyse under the settings stored in the session, or lab: under the lab's present ones")
	return c
}

func (o *captionFlags) run(ctx context.Context, k *campaign, dir string) error {
	if o.out == "" {
		return usageError{errors.New("captions: --out is missing: name a new folder for the files")}
	}
	if _, err := os.Lstat(o.out); err == nil {
		return usageError{fmt.Errorf("captions: --out %s: found something there, expected the name of a new folder", o.out)}
	}
	var shot captions.Shot
	var err error
	if shot.Rate, shot.Start, err = frameRate("captions", o.rate, o.start); err != nil {
		return err
	}
	switch shot.Masses = captions.MassUnit(o.mass); shot.Masses {
	case captions.NoMass, captions.Grams, captions.Ounces:
	default:
		return usageError{fmt.Errorf("captions: found --mass %q, expected g or oz", o.mass)}
	}
	ses, err := session.Open(dir)
	if err != nil {
		return usageError{err}
	}
	if shot.Camera, err = o.camera(ses.Manifest().Session); err != nil {
		return err
	}
	shot.File = shot.Camera.Camera
	told, err := footageOf(k, ses, dir)
	if err != nil {
		return err
	}
	if err := told.Captions(ctx, &shot, func(set config.Setup) (rig.Result, error) {
		res, _, err := reanalyse(k.e, dir, set)
		return res, err
	}); err != nil {
		return err
	}
	if where := shot.Outside(); where != "" {
		return usageError{fmt.Errorf("captions: %s: nothing of the session is in the footage", where)}
	}
	cues := len(shot.Cues())
	if err := writeFolder(o.out, []outFile{{"captions.vtt", shot.CaptionsVTT}, {"captions.srt", shot.CaptionsSRT}, {"chapters.vtt", shot.ChaptersVTT},
		{"edit-points.otio", shot.Timeline}, {"edit-points.csv", shot.Table}}); err != nil {
		return usageError{fmt.Errorf("captions: --out: %w", err)}
	}
	if cues == 0 {
		_, err = fmt.Fprintf(k.e.out, "%s: no captions: the motor is off in the footage's whole span\n", o.out)
		return err
	}
	_, err = fmt.Fprintf(k.e.out, "%s: %s\n", o.out, rig.Count(cues, "caption"))
	return err
}

// camera returns where the footage stands in the session of that name.
func (o *captionFlags) camera(name string) (align.Alignment, error) {
	if o.aligned == "" {
		if !o.offsetGiven {
			return align.Alignment{}, usageError{errors.New("captions: expected --aligned FILE.json or --offset S: where does the footage stand in the session?")}
		}
		a, err := align.Typed(o.offset, o.drift)
		if err != nil {
			return a, usageError{fmt.Errorf("captions: %w", err)}
		}
		return a, nil
	}
	if o.offsetGiven || o.drift != 0 {
		return align.Alignment{}, usageError{errors.New("captions: --aligned says where the footage stands; --offset and --drift do not go with it")}
	}
	return readAligned("captions", o.aligned, name)
}
