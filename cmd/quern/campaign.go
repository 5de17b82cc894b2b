package main

import (
	"errors"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"quern/config"
	"quern/detect"
	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
	"quern/rig/session"
	"quern/rig/session/index"
)

// campaign is what the verbs of scoring are asked with.
type campaign struct {
	e        env
	lab      string
	settings string
	asOf     string
	noIndex  bool
	asJSON   bool
	own      bool // a session by itself may be judged by the rules that it keeps
	// tool asks for analyses that this version of the program made, "" for whichever is kept. Where another version's is
	// kept, it stays in its place: what was published may rest on it.
	tool   string
	others []report.ProgramChange // versions that made analyses which tool passed over
	from   madeFrom
}

// madeFrom is what a campaign was last made from.
type madeFrom struct {
	lab     *config.Lab
	records []rig.Record
	dirs    map[string]string // the folder of each session, by its name
	hand    []rig.HandValue
}

// flags adds those that the verbs of scoring share.
func (k *campaign) flags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&k.lab, "lab", "", "the lab folder: units, procedures, scorecard")
	f.StringVar(&k.settings, "settings", "stored", "analyse under the settings stored in each session, or lab: under the lab's present ones")
	f.StringVar(&k.asOf, "as-of", "", "leave out what was recorded or corrected after this day, such as 2026-03-31")
	f.BoolVar(&k.noIndex, "no-index", false, "read every session folder, and leave the index alone")
	f.BoolVar(&k.asJSON, "json", false, "print JSON")
}

// today is the day by which names are released, in the zone of the lab that was last read.
func (k *campaign) today() string { return k.from.lab.Day(k.e.now()) }

// read scores the sessions of the folders under the rules of a lab.
func (k *campaign) read(lab string, folders []string) (*score.Campaign, error) {
	l, hand, err := k.rules(lab, folders)
	if err != nil {
		return nil, err
	}
	var records, beside []rig.Record
	var skipped []score.Loose
	dirs := map[string]string{}
	for _, folder := range folders {
		found, err := k.records(l, folder)
		if err != nil {
			return nil, err
		}
		if len(found.Records)+len(found.Skipped) == 0 {
			fmt.Fprintf(k.e.err, "quern: %s: found no session in it, expected a folder of sessions%s\n", folder, below(folder))
		}
		records = append(records, found.Records...)
		for i, r := range found.Records {
			dirs[r.Session] = found.Dirs[i]
			for _, w := range r.Damage() { // a verdict can turn on what is missing
				fmt.Fprintf(k.e.err, "quern: session %s is damaged, and what comes of it may be wrong: %s\n", r.Session, w.Text)
			}
			if found.Dirs[i] == filepath.Clean(folder) { // a session by itself
				beside = append(beside, index.Beside(folder, r)...)
			}
		}
		for _, s := range found.Skipped {
			skipped = append(skipped, score.Loose{Session: s.Session, Why: s.Why})
		}
	}
	if k.asOf != "" {
		end, ok := l.EndOf(k.asOf)
		if !ok {
			return nil, usageError{fmt.Errorf("found --as-of %q, expected a day such as 2026-03-31", k.asOf)}
		}
		records, hand = rig.AsOf(records, hand, end)
		beside, _ = rig.AsOf(beside, nil, end)
	}
	k.from = madeFrom{l, records, dirs, hand}
	c, err := score.Score(l, records, hand, beside...)
	if err != nil {
		return nil, err
	}
	c.Loose = append(c.Loose, skipped...)
	if k.own && len(c.Runs) == 0 && len(c.Loose) == 1 && isSession(folders) {
		other := ""
		if lab == "" {
			other = "; by the lab's rules: --lab LAB"
		}
		return nil, usageError{fmt.Errorf("%s: found no run to judge: %s%s", folders[0], c.Loose[0].Why, other)}
	}
	return c, nil
}

// rules reads a lab and what was entered by hand; without one, the rules that a session keeps.
func (k *campaign) rules(lab string, folders []string) (*config.Lab, []rig.HandValue, error) {
	if k.ownRules(lab, folders) {
		if k.settings == "lab" {
			return nil, nil, usageError{errors.New("found --settings lab without --lab, expected the folder whose settings are meant")}
		}
		l, err := session.OwnLab(folders[0])
		if err != nil {
			return nil, nil, usageError{err}
		}
		return l, nil, nil
	}
	l, err := readLab(k.e, lab)
	if err != nil {
		return nil, nil, err
	}
	hand, err := l.ReadHand(labFS(lab))
	if err != nil {
		return nil, nil, usageError{config.In(lab, err)}
	}
	return l, hand, nil
}

// ownRules tells whether a session by itself is to be judged by the rules that it keeps.
func (k *campaign) ownRules(lab string, folders []string) bool {
	return k.own && lab == "" && isSession(folders)
}

// isSession tells whether a session by itself was named, and no folder of them.
func isSession(folders []string) bool {
	if len(folders) != 1 {
		return false
	}
	_, err := session.ReadManifest(folders[0])
	return err == nil
}

// below names the folder within that was probably meant.
func below(folder string) string {
	all, err := filepath.Glob(filepath.Join(folder, "*", "*", "manifest.json"))
	if err != nil || len(all) == 0 {
		return ""
	}
	return ", perhaps " + filepath.Dir(filepath.Dir(all[0]))
}

// records reads a folder of sessions. What has no analysis yet is analysed, and the result kept.
func (k *campaign) records(l *config.Lab, folder string) (index.Found, error) {
	if k.settings != "stored" && k.settings != "lab" {
		return index.Found{}, usageError{fmt.Errorf("found --settings %q, expected stored or lab", k.settings)}
	}
	bar := progress{e: k.e, what: "sessions"}
	found, err := index.Read(folder, index.Options{Lab: l, Present: k.settings == "lab", Without: k.noIndex,
		Tool: k.tool, Analyse: k.analyse,
		Step: func(done, of int) { bar.n, bar.of = done-1, of; bar.step() }})
	bar.done()
	if err != nil {
		return found, usageError{err}
	}
	return found, nil
}

// analyse makes the analysis that a session lacks under given settings.
func (k *campaign) analyse(dir string, set config.Setup) (rig.Result, string, error) {
	kept, err := session.LoadAnalysis(dir, session.AnalysisKey(set))
	if k.tool == "" || err != nil {
		return reanalyse(k.e, dir, set)
	}
	k.others = report.AddProgram(k.others, kept.Tool)
	ses, err := session.Open(dir)
	if err != nil {
		return rig.Result{}, "", err
	}
	res, err := replayed(k.e, ses, set, detect.Trace{})
	return res, session.SettingsSum(set), err
}

// reanalyse analyses a session under given settings and keeps what came of it.
func reanalyse(e env, dir string, set config.Setup) (rig.Result, string, error) {
	ses, err := session.Open(dir)
	if err != nil {
		return rig.Result{}, "", err
	}
	res, err := replayed(e, ses, set, detect.Trace{})
	if err != nil {
		return rig.Result{}, "", err
	}
	a := ses.Analysed(set, "quern "+version(), e.now(), res)
	if err := session.StoreAnalysis(dir, a); err != nil { // it only saves time
		fmt.Fprintf(e.err, "quern: the analysis of %s could not be kept: %v\n", dir, err)
	}
	return res, a.SettingsSHA256, nil
}

// readLab reads a lab folder for a verb that needs one.
func readLab(e env, lab string) (*config.Lab, error) {
	if lab == "" {
		return nil, usageError{fmt.Errorf("--lab names the lab folder; it is missing")}
	}
	l, err := config.Read(labFS(lab))
	if err != nil {
		return nil, usageError{config.First(lab, config.In(lab, err))}
	}
	l.OwnZone(e.zone)
	return l, nil
}
