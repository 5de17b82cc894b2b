package rig

import "strings"

// Bounds of what people put on record, whichever way it comes; each text is one line of it.
const (
	LongestText = 1000 // bytes of a remark, a mark, a note, a reason
	LongestWord = 100  // bytes of a name or a value
	LongestID   = 63   // bytes
	MostMassG   = 1e6  // g
	MostNumber  = 1e9  // of any other number, in its own unit
	MostAtS     = 1e8  // s; three years after the session's start
	MostRun     = 1000
)

// IsID tells whether s is the id of something: small letters, digits and hyphens, of which none comes first.
func IsID(s string) bool {
	return s != "" && len(s) <= LongestID && s[0] != '-' && strings.TrimLeft(s, "abcdefghijklmnopqrstuvwxyz0123456789-") == ""
}
