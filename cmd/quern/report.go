package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"quern/detect"
	"quern/rig"
	"quern/rig/report"
	"quern/rig/report/sheet"
	"quern/rig/score"
	"quern/rig/session"
)

// reporting is what the verb is asked with.
type reporting struct {
	campaign
	out, others, mass, paper, against string
	pdf                               bool
}

func reportCommand(e env) *cobra.Command {
	k := reporting{campaign: campaign{e: e, own: true}}
	c := &cobra.Command{
		Use:   "report SESSION|UNIT|standings --lab LAB --out DIR [SESSIONS...]",
		Short: "Make a page to publish, to print, or to send to a maker",
		Long: `Makes one file of HTML that opens from disk, without network or scripts, and beside it, in DIR/plots, every plot as
SVG and as PNG. Of a unit: the verdict and where every point comes from; for each procedure the ribbon, level and
current over time with events and evidence, the third-octave spectrum with its background, the mass balance and the
repeats; conditions, corrections, void runs, checksums; and what the record holds against the usual objections. Of
standings: the ranking with its certainty, every criterion, the ribbons of all runs, and with --against what moved. Of
a session: its sheet.

A UNIT and standings need the folders of SESSIONS; a SESSION is a session's own folder, and without --lab its sheet goes by
the procedure that it keeps. Public names appear from their
release date on, and before it in no byte of what is written. --others masked leaves out all results of other units:
the page for the unit's maker.`,
		Example: `  quern report unit-a --lab LAB --out report sessions
  quern report unit-a --lab LAB --out for-the-maker --others masked --pdf sessions
  quern report standings --lab LAB --out report --against LAB-2025 sessions
  quern report sessions/2026-03-02-0900-unit-a-mixed-1 --lab LAB --out report`,
		Args: arguments(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, args []string) error { return k.run(c.Context(), args) },
	}
	k.flags(c)
	f := c.Flags()
	f.Lookup("json").Hidden = true // see check
	f.StringVar(&k.out, "out", "", "folder for the page; plots go into its folder plots")
	f.StringVar(&k.others, "others", "shown", "on a unit's page the other units are shown or masked")
	f.StringVar(&k.mass, "mass", "g", "unit in which masses are printed, g or oz; both come from the same grams")
	f.BoolVar(&k.pdf, "pdf", false, "also print the page to PDF, by a Chromium on the PATH")
	f.StringVar(&k.paper, "paper", "a4", "paper of the PDF, a4 or letter")
	f.StringVar(&k.against, "against", "", "standings: compare with another lab folder, or with what was known on a day such as 2026-03-31")
	return c
}

// run makes the page.
func (k *reporting) run(ctx context.Context, args []string) error {
	what, folders := args[0], args[1:]
	_, err := os.Stat(filepath.Join(what, "manifest.json"))
	session := what != "standings" && err == nil
	if err := k.check(session, what, folders); err != nil {
		return err
	}
	if session {
		folders = []string{what}
	}
	s, err := k.rank(k.lab, folders)
	if err != nil {
		return err
	}
	o := sheet.Options{Out: k.out, Day: k.today(), Rules: settingsWords(k.settings), Tool: "quern " + version(), Masked: k.others == "masked", Style: report.Style{Mass: report.MassUnit(k.mass)}}
	if o.Dirs, err = sheet.Folders(folders); err != nil {
		return usageError{err}
	}
	o.Result = func(rec *rig.Record) (rig.Result, error) { return k.result(o.Dirs[rec.Session], rec) }
	made, err := k.make(ctx, o, s, what, session, folders)
	if err != nil {
		var file *rig.FileError
		if errors.As(err, &file) {
			return usageError{err}
		}
		return err
	}
	if _, err := fmt.Fprintf(k.e.out, "%s: %s, and %s beside it\n", made.Page, made.Title, rig.Count((len(made.Files)-1)/2, "plot")); err != nil {
		return err
	}
	return k.print(ctx, made)
}

// check looks at the command line.
func (k *reporting) check(session bool, what string, folders []string) error {
	for _, x := range []struct {
		flag, found string
		want        []string
	}{{"others", k.others, []string{"shown", "masked"}}, {"mass", k.mass, []string{"g", "oz"}}, {"paper", k.paper, []string{"a4", "letter"}}} {
		if !slices.Contains(x.want, x.found) {
			return usageError{fmt.Errorf("report: found --%s %q, expected %s", x.flag, x.found, strings.Join(x.want, " or "))}
		}
	}
	switch {
	case k.asJSON:
		return usageError{errors.New("report: found --json, expected it with score, standings or explain, which tell the same numbers")}
	case k.out == "":
		return usageError{errors.New("report: --out is missing, expected a folder for the page")}
	case session && len(folders) > 0:
		return usageError{fmt.Errorf("report: found %q after a session's folder, expected nothing: the page of a session is of that one", folders[0])}
	case !session && len(folders) == 0:
		return usageError{fmt.Errorf("report: found no folder of sessions after %q, expected one or more: name the folder that --out of serve or import filled; a SESSION is a session's own folder", what)}
	case k.against != "" && what != "standings":
		return usageError{fmt.Errorf("report: found --against with %q, expected it with standings", what)}
	case k.others == "masked" && (session || what == "standings"):
		return usageError{fmt.Errorf("report: found --others masked with %q, expected it with a unit", what)}
	}
	return nil
}

// make makes the page that is asked for.
func (k *reporting) make(ctx context.Context, o sheet.Options, s *score.Standings, what string, session bool, folders []string) (sheet.Made, error) {
	switch {
	case session:
		for name := range o.Dirs {
			return sheet.Session(ctx, o, s.Campaign, name)
		}
		return sheet.Made{}, usageError{fmt.Errorf("report: found no session in %s", what)}
	case what == "standings" && k.against != "":
		old, err := k.old(k.against, "", folders)
		if err != nil {
			return sheet.Made{}, err
		}
		moves, err := score.Against(old, s)
		if err != nil {
			return sheet.Made{}, err
		}
		return sheet.Standings(ctx, o, s, old, moves, filepath.Base(k.against))
	case what == "standings":
		return sheet.Standings(ctx, o, s, nil, nil, "")
	case s.Campaign.Unit(what) == nil:
		var units []string
		for _, u := range s.Campaign.Units {
			units = append(units, u.Unit.ID)
		}
		return sheet.Made{}, usageError{fmt.Errorf("report: found %q, expected standings, a session's own folder, or a unit that is scored: %s", what, strings.Join(units, ", "))}
	}
	return sheet.Unit(ctx, o, s, what)
}

// result returns the whole result of a record: the one that is stored, or a new one.
func (k *reporting) result(dir string, rec *rig.Record) (rig.Result, error) {
	if key := session.KeyOf(rec.Settings); key != "" {
		if a, err := session.LoadAnalysis(dir, key); err == nil {
			return a.Result, nil
		}
	}
	ses, err := session.Open(dir)
	if err != nil {
		return rig.Result{}, err
	}
	lab := ""
	if k.settings == "lab" {
		lab = k.lab
	}
	return analyse(k.e, ses, lab, detect.Trace{})
}

// print prints the page to PDF if that is wanted; where there is no browser it says how to.
func (k *reporting) print(ctx context.Context, made sheet.Made) error {
	if !k.pdf {
		return nil
	}
	browser := sheet.Browser()
	if browser == "" {
		_, err := fmt.Fprintf(k.e.out, "No PDF: there is no Chromium on the PATH. Open %s in any browser, print it, and choose PDF as the printer.\n", made.Page)
		return err
	}
	pdf, err := sheet.Print(ctx, browser, made.Page, k.paper)
	if err != nil {
		_, err := fmt.Fprintf(k.e.out, "No PDF: %v. Open %s in any browser, print it, and choose PDF as the printer.\n", err, made.Page)
		return err
	}
	_, err = fmt.Fprintf(k.e.out, "%s: the same on paper\n", pdf)
	return err
}
