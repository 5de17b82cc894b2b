package rig

import "strings"

var kindWords = map[Kind]string{
	MotorStart: "motor start", LoadStart: "load start", StallStart: "stall start", StallEnd: "stall end",
	OverloadStart: "overload start", OverloadEnd: "overload end", Trip: "trip (presumed)", MotorStop: "motor stop", LoadEnd: "chamber clear",
}

// Words tells a kind of event as people read it; an unknown one by its name.
func (k Kind) Words() string {
	if w, ok := kindWords[k]; ok {
		return w
	}
	return strings.ReplaceAll(string(k), "_", " ")
}

// WhyWords puts the reason why there is no figure into words, if it is a code: no-current.
func WhyWords(why string) string {
	if strings.Contains(why, " ") {
		return why
	}
	return strings.ReplaceAll(why, "-", " ")
}

// Words tells the motor's state as people read it, with a capital.
func (s State) Words() string {
	switch s {
	case NoLoad:
		return "No load"
	case Tripped:
		return "Tripped (presumed)"
	case "":
		return "Unknown"
	}
	return strings.ToUpper(string(s[:1])) + string(s[1:])
}
