package live

import (
	"cmp"
	"strings"
	"testing"

	"quern/rig"
)

// TestRemarksOfASource: the screen tells all that is odd about a source, apart from each other, and nothing of one
// that does well.
func TestRemarksOfASource(t *testing.T) {
	for want, x := range map[string]SourceNow{
		"": {},
		"the port is gone: plug it in; it repeats itself; last reject: \"12,x g\" no number": {Reason: "the port is gone: plug it in", Note: "it repeats itself",
			Rejects: 3, Reject: `"12,x g" no number`},
		"last reject: no end of a line": {Rejects: 1, Reject: "no end of a line"},
	} {
		x.Channel, x.AgeS = rig.Scale, rig.Fig(0.5)
		var b strings.Builder
		if err := (Snapshot{Sources: []SourceNow{x}}).Print(&b); err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(strings.TrimSpace(b.String()), "\n")
		if last := lines[len(lines)-1]; !strings.HasPrefix(last, "scale ") || !strings.HasSuffix(last, cmp.Or(want, "-")) {
			t.Errorf("got %q, want it to end with %q", last, want)
		}
	}
}
