package frame

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"quern/config"
	"quern/rig"
)

// Usual returns the description of a frame that config fills in where a lab says nothing.
func Usual() config.Frame {
	return config.Frame{Shape: "number-unit", End: "line", Stable: "ST S G", Unstable: "US SD U D M ?",
		OutOfRange: "OL UL OF HH LL + -", Unit: "g", Checksum: "none", ChecksumSep: "*"}
}

// Weights of a proposal's score; the project's own choice. A shape that demands more of a line is less
// likely to fit by chance.
const (
	bareWeight   = 0.9 // a number and nothing else
	fieldsWeight = 0.7 // a field that was picked because numbers stand in it
	fewFrames    = 3   // fewer frames than this are no proof
)

// Propose guesses from heard bytes how frames are described. The score runs from 0, nothing fits, to 1:
// all of several frames could be read. The explanation is for people, one sentence or two.
func Propose(heard []byte) (cfg config.Frame, score float64, explanation string) {
	heard = heard[:min(len(heard), 1<<16)]
	cfg = Usual()
	if len(heard) == 0 {
		return cfg, 0, "Nothing was heard: perhaps the device sends only when asked, or when a key is pressed."
	}
	var best trial
	for _, end := range ends(heard) {
		for _, c := range candidates(heard, end) {
			if t := try(c, heard); t.score > best.score {
				best = t
			}
		}
	}
	if best.score == 0 {
		return cfg, 0, fmt.Sprintf("No number was found in %d bytes: perhaps the rate or the parity is another.", len(heard))
	}
	return best.cfg, best.score, best.explain()
}

// ends lists what may end frames, the likeliest first.
func ends(heard []byte) []string {
	if bytes.IndexByte(heard, etx) >= 0 {
		return []string{"etx", "line"}
	}
	return []string{"line"}
}

// candidates lists descriptions to try. Where several fit as well, the first wins.
func candidates(heard []byte, end string) []config.Frame {
	var out []config.Frame
	base := Usual()
	base.End = end
	for _, sum := range []string{"crc32", "crc16-modbus", "crc16-ccitt", "crc8", "xor", "sum", "none"} {
		if sum != "none" && !bytes.Contains(heard, []byte(base.ChecksumSep)) {
			continue
		}
		base.Checksum = sum
		for _, s := range []string{"mark-kind-number-unit", "number-unit", "mark-number-unit", "number-unit-mark", "number"} {
			c := base
			c.Shape = s
			out = append(out, c)
		}
		for field := 1; field <= 8; field++ {
			c := base
			c.Shape, c.NumberPart = "fields", field
			out = append(out, c)
			if bytes.IndexByte(heard, ';') >= 0 {
				c.Separator = ";"
				out = append(out, c)
			}
		}
	}
	return out
}

// trial is how well a description fits.
type trial struct {
	cfg                        config.Frame
	read, over, rejected, mark int
	points                     int // numbers with a fraction
	unit                       string
	units                      int // different ones
	score                      float64
}

func try(c config.Frame, heard []byte) trial {
	t := trial{cfg: c}
	r, err := New(c)
	if err != nil {
		return t
	}
	var units []string
	r.Push(heard, func(f Found) {
		switch {
		case f.Reject != "":
			t.rejected++
		case f.OutOfRange != "":
			t.over++
		default:
			t.read++
			if f.Reading.Stable != rig.Unsaid {
				t.mark++
			}
			if f.Reading.Value != float64(int64(f.Reading.Value)) {
				t.points++
			}
			if !slices.Contains(units, f.Reading.Unit) {
				units = append(units, f.Reading.Unit)
			}
		}
	})
	if t.read == 0 {
		return t
	}
	t.unit, t.units = units[0], len(units)
	all := t.read + t.over + t.rejected
	t.score = float64(t.read+t.over) / float64(all) * float64(min(all, fewFrames)) / fewFrames
	switch {
	case c.Shape == "fields":
		// Of several fields with numbers, one with fractions is likelier the measured one.
		t.score *= fieldsWeight * (0.9 + 0.1*float64(t.points)/float64(t.read))
	case c.Shape == "number":
		t.score *= bareWeight
	case c.Shape != "number" && c.Shape != "number-unit" && t.mark == 0:
		t.score *= bareWeight // a shape with a mark that no frame has
	}
	if t.units > 2 {
		t.score /= float64(t.units) // units that change from frame to frame are chance
	}
	if slices.Contains([]string{"g", "kg", "oz", "lb"}, t.unit) {
		t.cfg.Unit = t.unit
	}
	return t
}

func (t trial) explain() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d of %d frames fit the shape %s", t.read+t.over, t.read+t.over+t.rejected, t.cfg.Shape)
	if t.cfg.Shape == "fields" {
		fmt.Fprintf(&b, ", with the number in field %d: make sure that it is the one on the display", t.cfg.NumberPart)
	}
	if t.cfg.Checksum != "none" {
		fmt.Fprintf(&b, ", and their check value is %s", t.cfg.Checksum)
	}
	switch {
	case t.unit != "":
		fmt.Fprintf(&b, "; the unit is %s", t.unit)
	default:
		b.WriteString("; they name no unit: set unit_word to the one on the display")
	}
	b.WriteString(".")
	if t.mark > 0 {
		b.WriteString(" They tell whether the reading is steady: make sure that it changes when the pan is touched.")
	}
	return b.String()
}
