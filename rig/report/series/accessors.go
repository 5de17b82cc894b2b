package series

import (
	"slices"

	"quern/config"
	"quern/rig/session"
)

// Dir returns the session's folder.
func (s *Session) Dir() string { return s.dir }

// Recorded returns the session as it is on disk.
func (s *Session) Recorded() *session.Session { return s.ses }

// Manifest returns what was recorded, where and how.
func (s *Session) Manifest() session.Manifest { return s.manifest }

// Setup returns the settings that were in force.
func (s *Session) Setup() config.Setup { return s.set }

// Key names what is derived from the session under its settings: it changes when that may.
func (s *Session) Key() string { return s.key }

// Streams tells what was recorded of each channel.
func (s *Session) Streams() []StreamNow { return slices.Clone(s.streams) }

// Sampled says whether a series is a recording, of which there are samples.
func (s *Session) Sampled(channel string) bool {
	w := s.waves[channel]
	return w != nil && w.rec != nil
}

// Derived returns the share of the series that is derived.
func (s *Session) Derived() float64 {
	if s.whole.Over() {
		return 1
	}
	least := 1.0
	for _, w := range s.waves {
		least = min(least, w.job.Reached())
	}
	for _, x := range s.series {
		least = min(least, x.job.Reached())
	}
	return least
}

// Over says whether nothing more is being derived.
func (s *Session) Over() bool { return s.whole.Over() }
