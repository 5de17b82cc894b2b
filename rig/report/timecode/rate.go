// Package timecode counts the frames of film: rates, the instants of frames, SMPTE time code, and times as people write
// them.
package timecode

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Rate is a frame rate with the way its frames are numbered.
type Rate struct {
	Name     string // as it is written: "29.97df"
	Num, Den int64  // frames a second, exactly
	Count    int64  // numbers a second of time code: Num/Den rounded up
	Drop     int64  // numbers left out every minute but the tenth, so that the code keeps up with the clock
}

// Rates are those that cameras and editors use. Those of NTSC are 1000/1001 of a whole number, and are counted
// as that number; drop-frame numbering leaves out numbers, never frames (SMPTE ST 12-1, from memory).
var Rates = []Rate{
	{"23.976", 24000, 1001, 24, 0}, {"24", 24, 1, 24, 0}, {"25", 25, 1, 25, 0},
	{"29.97", 30000, 1001, 30, 0}, {"29.97df", 30000, 1001, 30, 2}, {"30", 30, 1, 30, 0},
	{"50", 50, 1, 50, 0}, {"59.94", 60000, 1001, 60, 0}, {"59.94df", 60000, 1001, 60, 4}, {"60", 60, 1, 60, 0},
}

// ParseRate reads the name of a rate, or its exact form such as 30000/1001.
func ParseRate(s string) (Rate, error) {
	var names []string
	for _, r := range Rates {
		if s == r.Name || s == r.String() {
			return r, nil
		}
		names = append(names, r.Name)
	}
	return Rate{}, fmt.Errorf("found %q, expected one of %s (df: drop-frame), or 30000/1001 and the like", s, strings.Join(names, ", "))
}

// String returns the rate as programs for film take it: "25", "30000/1001". How frames are numbered does not show in it.
func (r Rate) String() string {
	if r.Den == 1 {
		return strconv.FormatInt(r.Num, 10)
	}
	return fmt.Sprintf("%d/%d", r.Num, r.Den)
}

// PerSecond returns the frames a second.
func (r Rate) PerSecond() float64 { return float64(r.Num) / float64(r.Den) }

// Nearest returns the frame whose beginning is nearest to an instant, s.
func (r Rate) Nearest(atS float64) int64 { return int64(math.Round(atS * r.PerSecond())) }

// SecondsOf returns the instant at which frame n begins, counted from frame 0, s. It is rounded once, so
// that no error grows with n.
func (r Rate) SecondsOf(n int64) float64 {
	whole, rest := n/r.Num*r.Den, n%r.Num*r.Den
	return float64(whole+rest/r.Num) + float64(rest%r.Num)/float64(r.Num)
}

// FrameAt returns the frame that stands at an instant: the last that has begun.
func (r Rate) FrameAt(atS float64) int64 {
	n := int64(math.Floor(atS * float64(r.Num) / float64(r.Den)))
	for r.SecondsOf(n+1) <= atS {
		n++
	}
	for n > 0 && r.SecondsOf(n) > atS {
		n--
	}
	return n
}
