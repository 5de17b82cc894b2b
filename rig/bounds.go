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

// IDWords says what an id may be.
const IDWords = "up to 63 letters (a to z), digits, hyphens and underscores, such as unit-a"

// IsID tells whether s is the id of something: letters and digits, and between them hyphens and underscores.
func IsID(s string) bool {
	for i := range len(s) {
		switch c := s[i] | 0x20; { // the capitals' bit
		case c >= 'a' && c <= 'z', s[i] >= '0' && s[i] <= '9':
		case i > 0 && (s[i] == '-' || s[i] == '_'):
		default:
			return false
		}
	}
	return s != "" && len(s) <= LongestID
}

// LikeID returns what ids have in common that could be taken for one another, by people and as names of files.
func LikeID(id string) string { return strings.ReplaceAll(strings.ToLower(id), "_", "-") }
