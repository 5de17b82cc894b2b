package timecode

import (
	"fmt"
	"strconv"
	"strings"
)

// mostS bounds a film, s: a day.
const mostS = 86400

// ParseTime reads a time as 75, 75.5, 1:15.5 or 1:01:15, s. Minutes and seconds after a colon are below 60.
func ParseTime(s string) (float64, error) {
	fault := fmt.Errorf("found %q, expected a time such as 1:15.5, 75.5 or 1:01:15, at most a day", s)
	parts := strings.Split(s, ":")
	if len(parts) > 3 {
		return 0, fault
	}
	total := 0.0
	for i, p := range parts {
		if p == "" || strings.Trim(p, "0123456789.") != "" || i < len(parts)-1 && strings.Contains(p, ".") {
			return 0, fault
		}
		v, err := strconv.ParseFloat(p, 64)
		if err != nil || i > 0 && v >= 60 {
			return 0, fault
		}
		total = 60*total + v
	}
	if total > mostS {
		return 0, fault
	}
	return total, nil
}
