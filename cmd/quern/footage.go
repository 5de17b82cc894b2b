package main

import (
	"fmt"

	"quern/rig"
	"quern/rig/report/footage"
	"quern/rig/session"
)

// footageOf asks the lab, if one is named, what it says of a session that was filmed.
func footageOf(k *campaign, ses *session.Session, dir string) (*footage.Told, error) {
	t := &footage.Told{Session: ses, Dir: dir, Present: k.settings == "lab"}
	if k.lab != "" {
		camp, err := k.read(k.lab, []string{dir})
		if err != nil {
			return nil, err
		}
		t.Campaign, t.Today = camp, k.today()
	}
	n, err := t.Uncounted()
	if err != nil {
		return nil, usageError{err}
	}
	if n > 0 {
		fmt.Fprintf(k.e.err, "quern: the session has %s, counted only with --lab\n", rig.Count(n, "correction"))
	}
	return t, nil
}
