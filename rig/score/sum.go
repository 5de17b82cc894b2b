package score

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"

	"quern/rig"
)

// FactsSum is the SHA-256 of what the campaign was made of: for each session its name, the chain value
// that stands for its recordings and facts, and the checksum of the settings it was analysed under; then
// what was entered by hand. Two campaigns with the same one and the same rules have the same results.
func (c *Campaign) FactsSum() string {
	h := sha256.New()
	last := ""
	for _, r := range c.Runs {
		if r.Record.Session == last {
			continue
		}
		last = r.Record.Session
		fmt.Fprintf(h, "%s %s %s\n", r.Record.Session, r.Record.Chain, r.Record.Settings)
	}
	for _, u := range c.Lab.Units {
		for _, k := range c.Lab.Scorecard.Criteria {
			if v, ok := c.hand[handKey{u.ID, strings.TrimPrefix(k.Measure, rig.HandMeasure)}]; ok {
				fmt.Fprintf(h, "%s %s %g %g\n", v.Unit, v.Name, v.Value, v.U)
			}
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}
