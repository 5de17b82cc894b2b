package rig

import (
	"fmt"
	"strings"
)

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

// Within refuses a text of more than so many bytes; what names it in the error: "a note".
func Within(what, text string, most int) error {
	if len(text) > most {
		return fmt.Errorf("found %s of %d bytes, expected at most %d: shorten it", what, len(text), most)
	}
	return nil
}

// Check refuses a value by hand with texts that are too long.
func (v HandValue) Check() error {
	if err := Within("a note", v.Note, LongestText); err != nil {
		return err
	}
	return Within("a name of who judged it", v.Who, LongestWord)
}

// IsID tells whether s is the id of something: small letters, digits and hyphens, of which none comes first.
func IsID(s string) bool {
	return s != "" && len(s) <= LongestID && s[0] != '-' && strings.TrimLeft(s, "abcdefghijklmnopqrstuvwxyz0123456789-") == ""
}
