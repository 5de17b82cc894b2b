package timecode

import (
	"fmt"
	"strconv"
	"strings"
)

const (
	dayHours = 24
	tens     = 10 // every so many minutes no number is left out
)

// perTen returns the frames of ten minutes, and of a minute in which numbers are left out.
func (r Rate) perTen() (ten, one int64) {
	return 600*r.Count - 9*r.Drop, 60*r.Count - r.Drop
}

// Code returns the time code of a frame: hh:mm:ss:ff, with a semicolon before the frames of drop-frame code.
// After 24 hours it begins again.
func (r Rate) Code(frame int64) string {
	ten, one := r.perTen()
	day := dayHours * 6 * ten
	frame = ((frame % day) + day) % day
	if r.Drop > 0 {
		n, rest := frame/ten, frame%ten
		frame += 9 * r.Drop * n
		if rest >= r.Drop { // the first minute of the ten leaves out nothing
			frame += r.Drop * ((rest - r.Drop) / one)
		}
	}
	mark := ":"
	if r.Drop > 0 {
		mark = ";"
	}
	s := frame / r.Count
	return fmt.Sprintf("%02d:%02d:%02d%s%02d", s/3600, s/60%60, s%60, mark, frame%r.Count)
}

// ParseCode reads a time code and returns its frame.
func (r Rate) ParseCode(s string) (int64, error) {
	fault := func(why string) (int64, error) {
		return 0, fmt.Errorf("found time code %q, expected hh:mm:ss:ff at %s frames a second: %s", s, r.Name, why)
	}
	parts := strings.FieldsFunc(s, func(c rune) bool { return c == ':' || c == ';' })
	if len(s) != 11 || len(parts) != 4 {
		return fault("two digits each, such as 01:00:00:00")
	}
	if strings.Contains(s[:8], ";") || (s[8] == ';') && r.Drop == 0 {
		return fault("a semicolon stands before the frames of drop-frame code only")
	}
	var v [4]int64
	for i, p := range parts {
		if len(p) != 2 || strings.Trim(p, "0123456789") != "" {
			return fault("two digits each, such as 01:00:00:00")
		}
		v[i], _ = strconv.ParseInt(p, 10, 64)
	}
	switch {
	case v[0] >= dayHours || v[1] >= 60 || v[2] >= 60 || v[3] >= r.Count:
		return fault(fmt.Sprintf("hours to 23, minutes and seconds to 59, frames to %d", r.Count-1))
	case r.Drop > 0 && v[1]%tens != 0 && v[2] == 0 && v[3] < r.Drop:
		return fault("drop-frame code leaves this number out")
	}
	minutes := v[0]*60 + v[1]
	return (minutes*60+v[2])*r.Count + v[3] - r.Drop*(minutes-minutes/tens), nil
}
