package index

import (
	"os"
	"path/filepath"

	"quern/rig"
	"quern/rig/session"
)

// Beside returns what the sessions beside that in dir, in the same folder, have of checks of the day: those of the
// record's bench and day that are sealed and hold one. Of them there are name, bench, start and checks, and
// nothing else: their runs are another matter. Sessions that do not read have none. The index is not used, and not
// made; of sessions of other days only the manifest is read.
func Beside(dir string, rec rig.Record) []rig.Record {
	at, err := filepath.Abs(dir)
	if err != nil {
		return nil
	}
	folder := filepath.Dir(at)
	if isSession(folder) { // what a session holds are no sessions
		return nil
	}
	names, _, err := sessions(folder)
	if err != nil {
		return nil
	}
	here, err := os.Stat(at)
	if err != nil {
		return nil
	}
	var out []rig.Record
	for _, name := range names {
		there := filepath.Join(folder, name)
		if info, err := os.Stat(there); err != nil || os.SameFile(info, here) {
			continue
		}
		m, err := session.ReadManifest(there)
		if err != nil || m.State != session.Sealed || m.Bench != rec.Bench {
			continue
		}
		own := rig.Record{Bench: m.Bench, Started: m.Started.UTC(), TimeZone: m.TimeZone}
		if own.Day() != rec.Day() {
			continue
		}
		b, err := session.OpenFacts(there)
		if err != nil || len(b.Facts.Checks) == 0 {
			continue
		}
		own.Session, own.Facts = m.Session, rig.Facts{Checks: b.Facts.Checks, Corrections: b.Facts.Corrections} // some withdraw a check
		out = append(out, own)
	}
	return out
}
