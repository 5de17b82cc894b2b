package overlay

import (
	"quern/rig"
	"quern/rig/report"
)

// eventWords tells an event as the report does; a question mark says that it is not sure.
func eventWords(e rig.Event) string {
	word := plain(report.KindWords(e.Kind))
	if sure, ok := e.Sure.Value(); ok && sure < 0.5 {
		word += "?"
	}
	return word
}
