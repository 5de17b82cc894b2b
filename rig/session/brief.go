package session

import (
	"cmp"
	"fmt"

	"quern/rig"
)

// Brief is what a folder tells of a session without its settings and recordings: all that scoring
// needs beside the stored analysis.
type Brief struct {
	Manifest Manifest
	Facts    rig.Facts     // journal, then addenda
	Chain    string        // see Session.Chain
	Warnings []rig.Warning // as Open gives them, but for those of the recordings' contents

	dir string
}

// OpenFacts reads the manifest and the facts of a session, in a fraction of the time of Open. The
// journal and the addenda prove themselves batch by batch, the recordings by their size.
func OpenFacts(dir string) (Brief, error) {
	m, err := ReadManifest(dir)
	if err != nil {
		return Brief{}, err
	}
	s := &Session{dir: dir, manifest: m, warnings: append([]rig.Warning(nil), m.Warnings...)}
	s.checkFiles()
	s.checkBytes()
	j, err := s.openJournal()
	if err != nil {
		return Brief{}, err
	}
	defer j.Close()
	var c collector
	if err := c.collect(j, s.checkBatch); err != nil {
		return Brief{}, err
	}
	a, err := loadAddenda(dir, m, c.last)
	if err == nil {
		err = a.sense
	}
	if err != nil {
		return Brief{}, err
	}
	return Brief{Manifest: m, Facts: joined(c.facts, a.facts), Chain: a.chain,
		Warnings: append(s.warnings, a.warnings()...), dir: dir}, nil
}

// Record returns what scoring needs of the session but for its analysis: Settings and Result stay empty.
func (b Brief) Record() rig.Record {
	m := b.Manifest
	return rig.Record{Session: m.Session, Bench: m.Bench, Unit: m.Unit, Procedure: m.Procedure, Origin: cmp.Or(m.Origin, rig.Recorded),
		Started: m.Started.UTC(), TimeZone: m.TimeZone, Tool: m.Tool, Sealed: m.Self, Chain: b.Chain, Facts: b.Facts, Warnings: b.Warnings}
}

// Facts returns what people put on record, in the order in which they did: first what the journal
// holds, then what was added since as Open found it. A fact that this program cannot read, though it
// proves itself, is an error.
func (s *Session) Facts() (rig.Facts, error) {
	j, err := s.openJournal()
	if err != nil {
		return rig.Facts{}, err
	}
	defer j.Close()
	var c collector
	if err := c.collect(j, nil); err != nil {
		return rig.Facts{}, err
	}
	if s.addenda.sense != nil {
		return rig.Facts{}, s.addenda.sense
	}
	if first := s.addenda.first; first > 0 && first <= c.last {
		return rig.Facts{}, &rig.FileError{File: within(s.dir, addendaName), Byte: -1,
			Found: fmt.Sprintf("fact %d after fact %d of the journal", first, c.last), Want: "each number once", Do: "restore both from a copy"}
	}
	return joined(c.facts, s.addenda.facts), nil
}

// Chain returns the value that stands for everything that was sealed and added, in order: the chain
// value of the last batch of the addenda that Open found, or manifest_sha256 if there are none. A
// session whose published value is no longer among its chain values was cut. It is "" for a session
// that is not sealed.
func (s *Session) Chain() string { return s.addenda.chain }

// joined returns the facts of a, then those of b.
func joined(a, b rig.Facts) rig.Facts {
	return rig.Facts{
		Weighings:   append(a.Weighings, b.Weighings...),
		Checks:      append(a.Checks, b.Checks...),
		Corrections: append(a.Corrections, b.Corrections...),
		Remarks:     append(a.Remarks, b.Remarks...),
	}
}
