package main

import (
	"quern/config"
	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
	"quern/rig/session"
)

// replayAll says what this version of the program and the lab's present settings change in a whole catalogue.
func replayAll(e env, lab string, folders []string, asJSON bool) error {
	kept := campaign{e: e, settings: "stored"}
	was, err := kept.read(lab, folders)
	if err != nil {
		return err
	}
	mine := campaign{e: e, settings: "stored", tool: "quern " + version()}
	same, err := mine.read(lab, folders)
	if err != nil {
		return err
	}
	settings, err := settingsMoved(&mine)
	if err != nil {
		return err
	}
	is := same
	if len(settings) > 0 {
		new := campaign{e: e, settings: "lab", tool: mine.tool}
		if is, err = new.read(lab, folders); err != nil {
			return err
		}
	}
	c := report.Comparison{Tool: mine.tool, Programs: mine.others, ByProgram: score.Changed(was, same),
		Settings: settings, BySettings: score.Changed(same, is), Runs: len(is.Runs)}
	if asJSON {
		return report.ChangesJSON(e.out, c)
	}
	return report.Changes(e.out, c)
}

// settingsMoved says which settings of the analysis the lab has otherwise than the sessions that were read.
func settingsMoved(k *campaign) ([]report.SettingChange, error) {
	var all [][]config.Difference
	for _, r := range k.from.records {
		if r.Origin == rig.ByHand { // never analysed
			continue
		}
		stored, err := session.ReadSetup(k.from.dirs[r.Session])
		if err != nil {
			return nil, usageError{err}
		}
		present, err := k.from.lab.Setup(stored.Unit.ID, stored.Procedure.ID)
		if err != nil {
			return nil, usageError{err}
		}
		present.Bench.Name = stored.Bench.Name // no figure hangs on it
		all = append(all, config.Differences(stored.ForAnalysis(), present.ForAnalysis()))
	}
	return report.SettingChanges(all), nil
}
