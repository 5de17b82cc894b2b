package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"

	"quern/rig"
)

// KindWords tells a kind of event in words that may be printed anywhere.
func KindWords(k rig.Kind) string { return Clean(k.Words()) }

// decibels prints a level to 0.1 dB: the resolution asked of sound level meters (IEC 61672-1, from memory).
func decibels(v float64) string { return fixed(v, 1) }

// amperes prints to 0.01 A below 10 A and 0.1 A above: three digits, as good as clamps are (common practice).
func amperes(v float64) string {
	if math.Abs(math.Round(v*100)/100) < 10 {
		return fixed(v, 2)
	}
	return fixed(v, 1)
}

// fixed prints with so many decimals, and never "-0.0".
func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

// minutes prints a time or a duration as m:ss.s, minutes uncounted by hours: 65 minutes are 65:00.0.
func minutes(s float64) string {
	sign := ""
	tenths := math.Round(s*10) + 0 // no negative zero
	if tenths < 0 {
		sign, tenths = "-", -tenths
	}
	m := math.Floor(tenths / 600)
	return fmt.Sprintf("%s%.0f:%04.1f", sign, m, (tenths-600*m)/10)
}

// Clean returns text that neither a terminal nor XML can take for anything else than text: what
// cannot be printed becomes a question mark, and every white space one blank.
func Clean(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case r == unicode.ReplacementChar || !unicode.IsPrint(r):
			return '?'
		}
		return r
	}, s)
}

// cut shortens text to n runes; an ellipsis says so.
func cut(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}

// reason returns the text of the first warning that has one of the codes, in the order of the codes.
func reason(ws []rig.Warning, codes ...string) string {
	for _, c := range codes {
		for _, w := range ws {
			if w.Code == c {
				return Clean(w.Text)
			}
		}
	}
	return ""
}

// OriginWords tells how a session came to be.
func OriginWords(o rig.Origin) string {
	switch o {
	case rig.Imported:
		return "imported from recordings made elsewhere"
	case rig.ByHand:
		return "taken by hand, without a recording"
	}
	return "recorded"
}
