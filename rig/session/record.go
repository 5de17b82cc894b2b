package session

import (
	"os"

	"quern/config"
	"quern/rig"
)

// ReadSetup returns the settings that were in force in the session in dir, without the rest of Open.
func ReadSetup(dir string) (config.Setup, error) {
	name := within(dir, settingsName)
	text, err := os.ReadFile(name)
	if err != nil {
		return config.Setup{}, unreadable(name, err, "the settings of the session")
	}
	return config.ReadSetup(name, text)
}

// OwnLab returns the rules that the session in dir keeps: its bench, its procedure and its unit; and the units that
// corrections name in its place, of which it knows the code and no nameplate.
func OwnLab(dir string) (*config.Lab, error) {
	set, err := ReadSetup(dir)
	if err != nil {
		return nil, err
	}
	known, err := OpenFacts(dir)
	if err != nil {
		return nil, err
	}
	l := set.Lab()
	for _, k := range known.Facts.Corrections {
		if k.Target == "unit" && l.Unit(k.New) == nil {
			l.Units = append(l.Units, config.DefaultUnit(k.New))
		}
	}
	return l, nil
}

// EncodeRecord writes a record in the exact form, and DecodeRecord reads it back, reasons of absent
// figures and all; times come back in UTC. It is for an index, which the folders can make again.
func EncodeRecord(r rig.Record) ([]byte, error) { return exactJSON(r) }

// DecodeRecord reads what EncodeRecord wrote.
func DecodeRecord(text []byte) (rig.Record, error) {
	var r rig.Record
	if err := readExact(text, &r); err != nil {
		return rig.Record{}, err
	}
	return r, nil
}
