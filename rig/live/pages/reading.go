package pages

import (
	"os"
	"path/filepath"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/score"
	"quern/rig/session"
	"quern/rig/session/index"
)

// reading is the sessions as they were found at one time. It does not change once it is published.
type reading struct {
	print   string
	at      time.Time
	records []rig.Record
	hand    []rig.HandValue
	skipped []index.Skipped
	lacking []lacking
	day     string      // on which it was read
	lab     *config.Lab // never nil; without a lab folder: what the sessions hold
	wrong   string      // of the lab folder or the sessions' folder; "": nothing
	rows    []row       // newest first

	campaign *score.Campaign
}

// read reads the sessions' folder and the lab, and scores the runs.
func (c *Catalogue) read() *reading {
	r := &reading{print: print(c.dir, c.labDir), at: c.now(), lab: &config.Lab{}}
	if c.labDir != "" {
		lab, err := config.Read(os.DirFS(c.labDir))
		if err == nil {
			r.lab = lab
			r.hand, err = lab.ReadHand(os.DirFS(c.labDir))
		}
		if err != nil {
			r.wrong = config.First(c.labDir, config.In(c.labDir, err)).Error()
		}
	}
	r.lab.OwnZone(c.zone)
	r.day = c.day(r)
	found, err := index.Read(c.dir, index.Options{Lab: r.lab, Analyse: func(dir string, set config.Setup) (rig.Result, string, error) {
		return rig.Result{}, "", c.lacks(r, filepath.Base(dir), set)
	}})
	if err != nil {
		r.wrong = err.Error()
		return r
	}
	r.records = found.Records
	waiting := map[string]bool{}
	for _, l := range r.lacking {
		waiting[l.name] = true
	}
	for _, s := range found.Skipped {
		if !waiting[s.Session] {
			r.skipped = append(r.skipped, s)
		}
	}
	if c.labDir == "" || r.wrong != "" {
		r.lab = ofSessions(c.dir, found.Records)
		r.lab.OwnZone(c.zone)
		r.day = c.day(r)
	}
	if r.campaign, err = score.Score(r.lab, r.records, r.hand); err != nil {
		r.wrong = err.Error()
		r.campaign = &score.Campaign{Lab: r.lab}
	}
	r.rows = c.rowsOf(r, r.day)
	return r
}

// day is the one by which names are released, in the zone of the lab that was read.
func (c *Catalogue) day(r *reading) string { return r.lab.Day(c.now()) }

// lacks notes a session that has no analysis. What it returns makes the index leave the session out.
func (c *Catalogue) lacks(r *reading, name string, set config.Setup) error {
	c.mu.Lock()
	f, failed := c.failed[name]
	c.mu.Unlock()
	if failed && f.key == session.AnalysisKey(set) {
		return &rig.FileError{File: name, Byte: -1, Found: "no analysis: " + f.why}
	}
	r.lacking = append(r.lacking, lacking{name, set})
	return &rig.FileError{File: name, Byte: -1, Found: errNotYet.Error(), Err: errNotYet}
}

// ofSessions is a lab without a scorecard, of what sessions say of their unit and procedure: the last word
// counts.
func ofSessions(dir string, records []rig.Record) *config.Lab {
	lab := &config.Lab{Bench: config.DefaultBench()}
	for i := len(records) - 1; i >= 0; i-- {
		r := &records[i]
		if lab.Unit(r.Unit) != nil && lab.Procedure(r.Procedure) != nil {
			continue
		}
		set, err := session.ReadSetup(filepath.Join(dir, r.Session))
		if err != nil {
			continue // it is among the loose ones
		}
		if lab.Unit(set.Unit.ID) == nil {
			lab.Units = append(lab.Units, set.Unit)
		}
		if lab.Procedure(set.Procedure.ID) == nil {
			lab.Procedures = append(lab.Procedures, set.Procedure)
		}
	}
	return lab
}

// record returns the record of a session; nil: there is none of that name.
func (r *reading) record(name string) *rig.Record {
	for i := range r.records {
		if r.records[i].Session == name {
			return &r.records[i]
		}
	}
	return nil
}

// runs returns the runs of a session.
func (r *reading) runs(name string) []*score.Run {
	var out []*score.Run
	if r.campaign == nil {
		return nil
	}
	for _, run := range r.campaign.Runs {
		if run.Record.Session == name {
			out = append(out, run)
		}
	}
	return out
}
