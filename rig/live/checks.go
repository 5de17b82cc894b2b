package live

import (
	"os"
	"path/filepath"
	"time"

	"quern/rig"
	"quern/rig/session"
)

// CheckNow is a check of an instrument that stands on record.
type CheckNow struct {
	Session string        `json:"session"`
	Fact    int           `json:"fact"`
	Kind    rig.CheckKind `json:"kind"`
	Day     string        `json:"day"` // of the bench: a check counts for the runs of its day

	Withdrawn bool `json:"withdrawn,omitempty"` // it does not count
}

// day is the present day of the bench.
func (e *Engine) day() string {
	z, _ := rig.Zone(e.setup.Bench.TimeZone) // a Setup is checked
	return e.opts.Wall().In(z).Format(time.DateOnly)
}

// checksOn finds what was checked on a day, in whichever of a bench's sessions in a folder: a bench that is started again after a loss
// of power need not be checked again. A session that cannot be read is told by others, and holds none.
func checksOn(dir, bench, day string) []CheckNow {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil // it is made with the first session
	}
	var out []CheckNow
	for _, en := range entries {
		at := filepath.Join(dir, en.Name())
		m, err := session.ReadManifest(at)
		if err != nil || m.Bench != bench {
			continue
		}
		if r := (rig.Record{Started: m.Started, TimeZone: m.TimeZone}); r.Day() != day {
			continue
		}
		b, err := session.OpenFacts(at)
		if err != nil {
			continue
		}
		for _, k := range b.Facts.Checks {
			out = append(out, CheckNow{m.Session, k.Fact, k.Kind, day, !b.Facts.CheckCounts(k.Fact)})
		}
	}
	return out
}
