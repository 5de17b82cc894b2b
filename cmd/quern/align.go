package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"quern/rig"
	"quern/rig/intact"
	"quern/rig/report/align"
	"quern/rig/report/timecode"
	"quern/rig/session"
)

// alignFlags are those of the verb as they were typed.
type alignFlags struct {
	out, rate, start string
	at               []string
	channel          int
	asJSON           bool
}

func alignCommand(e env) *cobra.Command {
	var o alignFlags
	c := &cobra.Command{
		Use:   "align CAMERA.wav SESSION | SESSION --at CAMERA=SESSION...",
		Short: "Find where footage stands in a session, by its sound or by hand",
		Long: `Finds the session's instant of the camera's first sample, and by how much the two clocks drift apart, by comparing the
camera's sound with the session's microphone. The camera may have begun before the session or ended after it; echo, gain
control and compression do no harm. What does not match is refused: other sessions, silence, hum that fits everywhere.

The camera's sound as WAV comes out of footage with ffmpeg:

  ffmpeg -i clip.mp4 -vn -ac 1 camera.wav
  ffmpeg -i clip.mp4 -vn -ac 1 -af aresample=async=1:first_pts=0 camera.wav

The second keeps the sound in step with the picture where a file's sound begins late or has holes. Footage that has no
sound is lined up by hand.

It is the sound that is lined up. Sound takes 2.9 ms a metre: to a camera three metres away it comes 9 ms late.
At least 4 s must be in both, better a minute with a start, a stop or a knock in it. For an hour of footage, take all
of it, so that the drift is found.

By hand: --at says that an instant of the footage is an instant of the session. Two or more, a minute or more apart, give
the drift too. "slate" is the session's slate (the flash and tone of the on-camera page), slate.2 its second one. Times
are seconds, m:ss.s or h:mm:ss.s; of the camera also time code, with --frame-rate and --start.

--out keeps the result for 'quern captions --aligned' and 'quern overlay --aligned'. within_s is the half-width, at 95 %,
of the error within the overlap; outside of it the drift's own error adds up. Exit status 1: they do not match.`,
		Example: "  quern align camera.wav sessions/2026-03-01-unit-a --out clip.json\n" +
			"  quern align camera.wav SESSION --json | jq .offset_s\n" +
			"  quern align SESSION --at 0:12.40=slate --at 41:03.16=slate.2 --out clip.json\n" +
			"  quern align SESSION --at 01:00:12:10=84.2 --frame-rate 25 --start 01:00:00:00 --out clip.json",
		Args: arguments(cobra.RangeArgs(1, 2)),
		RunE: func(c *cobra.Command, args []string) error { return o.run(e, args) },
	}
	f := c.Flags()
	f.StringVar(&o.out, "out", "", "keep the result in this file")
	f.BoolVar(&o.asJSON, "json", false, "print one JSON object")
	f.IntVar(&o.channel, "channel", 0, "the camera's channel, from 1 (0: the first that is not silent)")
	f.StringArrayVar(&o.at, "at", nil, "an instant by hand: CAMERA=SESSION, such as 0:12.40=slate or 12.4=84.2")
	f.StringVar(&o.rate, "frame-rate", "25", "of time code in --at: "+rateNames())
	f.StringVar(&o.start, "start", "", "time code of the footage's first picture (default: 00:00:00:00)")
	return c
}

func rateNames() string {
	var names []string
	for _, r := range timecode.Rates {
		names = append(names, r.Name)
	}
	return strings.Join(names, ", ")
}

func (o *alignFlags) run(e env, args []string) error {
	byHand := len(o.at) > 0
	if byHand != (len(args) == 1) {
		return usageError{errors.New("align: expected CAMERA.wav SESSION, or SESSION with --at; see 'quern align --help'")}
	}
	ses, err := session.Open(args[len(args)-1])
	if err != nil {
		return usageError{err}
	}
	var a align.Alignment
	if byHand {
		a, err = o.hand(ses)
	} else {
		a, err = o.sound(args[0], ses)
	}
	if err != nil {
		return err
	}
	a.Session = ses.Manifest().Session
	var text bytes.Buffer
	if err := align.JSON(&text, a); err != nil {
		return err
	}
	if o.out != "" {
		if err := writeOver(o.out, intact.Bytes(text.Bytes())); err != nil {
			return usageError{fmt.Errorf("align: --out: %w", err)}
		}
	}
	if o.asJSON {
		_, err = e.out.Write(text.Bytes())
		return err
	}
	_, err = io.WriteString(e.out, a.Words())
	return err
}

// sound lines a camera's file up by its sound.
func (o *alignFlags) sound(name string, ses *session.Session) (align.Alignment, error) {
	f, size, err := openFile(name)
	if err != nil {
		return align.Alignment{}, usageError{err}
	}
	defer f.Close()
	a, err := align.FindIn(align.Camera{File: f, Bytes: size, Name: name, Channel: o.channel}, func() (align.Recorded, error) { return ses.Source() })
	a.Camera = filepath.Base(name)
	var no *align.Refusal
	var bad *rig.FileError
	switch {
	case errors.As(err, &no):
		err = fmt.Errorf("align: %s and session %s: %w", name, ses.Manifest().Session, err)
	case errors.As(err, &bad):
		err = usageError{err}
	}
	return a, err
}

// hand lines footage up by instants that were read off.
func (o *alignFlags) hand(ses *session.Session) (align.Alignment, error) {
	none := align.Alignment{}
	rate, start, err := frameRate("align", o.rate, o.start)
	if err != nil {
		return none, err
	}
	facts, err := ses.Facts()
	if err != nil {
		return none, usageError{err}
	}
	pairs, err := align.ReadPairs(o.at, rate, start, facts.SlatesS())
	if err != nil {
		return none, usageError{fmt.Errorf("align: session %s: --at: %w", ses.Manifest().Session, err)}
	}
	a, err := align.ByPairs(pairs)
	if err != nil {
		return none, fmt.Errorf("align: %w", err)
	}
	return a, nil
}

// frameRate reads a frame rate and the time code of the first picture.
func frameRate(verb, rate, start string) (timecode.Rate, int64, error) {
	r, err := timecode.ParseRate(rate)
	if err != nil {
		return r, 0, usageError{fmt.Errorf("%s: --frame-rate: %w", verb, err)}
	}
	if start == "" {
		return r, 0, nil
	}
	frame, err := r.ParseCode(start)
	if err != nil {
		return r, 0, usageError{fmt.Errorf("%s: --start: %w", verb, err)}
	}
	return r, frame, nil
}

// readAligned reads what --out kept of an alignment with the session of that name, for --aligned of a verb.
func readAligned(verb, file, name string) (align.Alignment, error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return align.Alignment{}, usageError{fmt.Errorf("%s: --aligned: %w", verb, err)}
	}
	a, err := align.Read(text, file)
	if err != nil {
		return a, usageError{err}
	}
	if a.Session != name {
		return a, usageError{fmt.Errorf("%s: %s: found an alignment with session %s, expected %s: align the camera with this session", verb, file, a.Session, name)}
	}
	return a, nil
}
