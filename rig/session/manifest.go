package session

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"quern/rig"
)

const (
	formatName    = "quern session"
	formatVersion = 1
	maxManifest   = 16 << 20 // bytes; a manifest is a few kilobytes, warnings and all
)

// State tells whether the session came to its proper end.
type State string

const (
	Unsealed State = "open"   // still recording, or interrupted
	Sealed   State = "sealed" // complete: Files lists every other file
)

// Manifest is manifest.json.
type Manifest struct {
	Format    string        `json:"format"`
	Version   int           `json:"version"`
	Session   string        `json:"session"`
	Bench     string        `json:"bench"`
	Unit      string        `json:"unit"`
	Procedure string        `json:"procedure"`
	Started   time.Time     `json:"started"`             // wall time of 0 s; a label, not a measurement
	TimeZone  string        `json:"time_zone,omitempty"` // IANA name; the session's days are those of this zone; "": UTC
	Tool      string        `json:"tool"`                // the program and its version
	Origin    rig.Origin    `json:"origin,omitempty"`    // how it came to be; "" in manifests older than the word
	State     State         `json:"state"`
	Settings  string        `json:"settings"`
	Journal   string        `json:"journal"`
	Streams   []StreamEntry `json:"streams"`
	Warnings  []rig.Warning `json:"warnings"` // stated while the session was written
	Files     []FileEntry   `json:"files"`    // when sealed, by path
	// Self is the SHA-256 of this file with the value of Self empty; when sealed.
	Self string `json:"manifest_sha256"`
}

// StreamEntry describes a stream and where its numbers are.
type StreamEntry struct {
	Channel  rig.Channel `json:"channel"`
	Form     rig.Form    `json:"form"`
	Unit     rig.Unit    `json:"unit"`
	RateHz   float64     `json:"rate_hz"`            // exact; a WAV header holds whole numbers only
	File     string      `json:"file"`               // the journal for readings
	Encoding string      `json:"encoding,omitempty"` // of a WAV file: "pcm16", "float64", ...
}

// Stream returns the entry as the vocabulary has it.
func (e StreamEntry) Stream() rig.Stream {
	return rig.Stream{Channel: e.Channel, Form: e.Form, Unit: e.Unit, RateHz: e.RateHz}
}

// FileEntry is a file as it was sealed; Path is relative to the session, with slashes.
type FileEntry struct {
	Path   string `json:"path"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// encode returns the one text that stands for m.
func (m Manifest) encode() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(m); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// digest returns what Self must be.
func (m Manifest) digest() string {
	m.Self = ""
	b, err := m.encode()
	if err != nil {
		return ""
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// proves tells whether a sealed manifest says what was sealed.
func (m Manifest) proves() bool { return m.Self != "" && m.Self == m.digest() }

// lists tells whether the file was there when the session was sealed.
func (m Manifest) lists(path string) bool {
	return slices.ContainsFunc(m.Files, func(f FileEntry) bool { return f.Path == path })
}

// sized tells whether a file of that size was sealed.
func (m Manifest) sized(path string, bytes int64) bool {
	return slices.ContainsFunc(m.Files, func(f FileEntry) bool { return f.Path == path && f.Bytes == bytes })
}

// ReadManifest returns the manifest of the session in dir, without the rest of Open: whether what it names is there,
// and proves itself, is not looked at.
func ReadManifest(dir string) (Manifest, error) {
	m, _, err := manifestText(dir)
	return m, err
}

// manifestText returns a manifest and its text as it lies on the disk.
func manifestText(dir string) (Manifest, []byte, error) {
	name := within(dir, manifestName)
	f, err := os.Open(name)
	if err != nil {
		return Manifest{}, nil, noSession(dir, err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxManifest+1))
	if err != nil {
		return Manifest{}, nil, unreadable(name, err, "a session folder with its manifest")
	}
	m, err := parseManifest(name, text)
	return m, text, err
}

// parseManifest reads a manifest strictly; name stands in errors.
func parseManifest(name string, b []byte) (Manifest, error) {
	fault := func(found, want string, cause error) (Manifest, error) {
		return Manifest{}, &rig.FileError{File: name, Byte: -1, Found: found, Want: want,
			Do: "restore the file from a copy; nothing but this program writes it", Err: cause}
	}
	if len(b) > maxManifest {
		return fault("more than 16 MiB", "a manifest of some kilobytes", nil)
	}
	if !utf8.Valid(b) {
		return fault("text that is not UTF-8", "a manifest as it was written", nil)
	}
	// The version is looked at first: a later one may hold what this program does not know.
	var head struct {
		Format  string `json:"format"`
		Version int    `json:"version"`
	}
	if err := json.Unmarshal(b, &head); err != nil {
		return Manifest{}, jsonFault(name, b, err)
	}
	if head.Format != formatName {
		return fault(fmt.Sprintf("format %q", head.Format), fmt.Sprintf("%q", formatName), nil)
	}
	if head.Version != formatVersion {
		return Manifest{}, &rig.FileError{File: name, Byte: -1, Found: fmt.Sprintf("version %d", head.Version),
			Want: fmt.Sprintf("version %d", formatVersion), Do: "read it with a program of that version"}
	}
	var m Manifest
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(&m); err != nil {
		return Manifest{}, jsonFault(name, b, err)
	}
	if err := m.check(); err != nil {
		return fault(err.Error(), "a manifest as it was written", err)
	}
	return m, nil
}

// jsonFault puts the place of a fault into words.
func jsonFault(name string, b []byte, err error) error {
	e := &rig.FileError{File: name, Byte: -1, Found: err.Error(), Want: "a manifest as it was written",
		Do: "restore the file from a copy; nothing but this program writes it", Err: err}
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		e.Byte = syntax.Offset
	case errors.As(err, &kind):
		e.Byte = kind.Offset
		e.Found = "a JSON " + kind.Value
		if kind.Field != "" {
			e.Found += " as " + kind.Field
		}
	}
	if e.Byte >= 0 && e.Byte <= int64(len(b)) {
		e.Line = 1 + bytes.Count(b[:e.Byte], []byte("\n"))
	}
	return e
}

// check holds the rules of a manifest. Files have fixed names, so a manifest cannot point out of
// its folder.
func (m Manifest) check() error {
	switch {
	case m.Session == "":
		return errors.New("no session name")
	case m.Settings != settingsName:
		return fmt.Errorf("settings %q, not %q", m.Settings, settingsName)
	case m.Journal != journalName:
		return fmt.Errorf("journal %q, not %q", m.Journal, journalName)
	case m.State != Unsealed && m.State != Sealed:
		return fmt.Errorf("state %q, not %q or %q", m.State, Unsealed, Sealed)
	case !slices.Contains([]rig.Origin{"", rig.Recorded, rig.Imported, rig.ByHand}, m.Origin):
		return fmt.Errorf("origin %q, not %q, %q or %q", m.Origin, rig.Recorded, rig.Imported, rig.ByHand)
	case m.State == Unsealed && (m.Self != "" || len(m.Files) > 0):
		return errors.New("checksums in a session that is not sealed")
	}
	if err := CheckStart(m.Started); err != nil {
		return err
	}
	if _, ok := rig.Zone(m.TimeZone); !ok {
		return fmt.Errorf("time_zone %q, which this program does not know", m.TimeZone)
	}
	for i, e := range m.Streams {
		if err := e.check(); err != nil {
			return fmt.Errorf("stream %d: %w", i+1, err)
		}
		for _, other := range m.Streams[:i] {
			if other.Channel == e.Channel {
				return fmt.Errorf("stream %d: channel %q stands twice", i+1, e.Channel)
			}
		}
	}
	for i, f := range m.Files {
		if !plainPath(f.Path) || f.Bytes < 0 || len(f.SHA256) != 2*sha256.Size {
			return fmt.Errorf("file %d: %q is no entry of a sealed file", i+1, f.Path)
		}
		if i > 0 && m.Files[i-1].Path >= f.Path {
			return fmt.Errorf("file %d: %q out of order", i+1, f.Path)
		}
	}
	return nil
}

// CheckStart makes sure that every time of a long session fits into 64 bits of nanoseconds.
func CheckStart(t time.Time) error {
	if y := t.UTC().Year(); y < 1700 || y > 2200 {
		return fmt.Errorf("a start in the year %d, expected one from 1700 to 2200", y)
	}
	return nil
}

func (e StreamEntry) check() error {
	if !rig.IsID(string(e.Channel)) {
		return fmt.Errorf("channel %q, not %s", e.Channel, rig.IDWords)
	}
	if reserved(string(e.Channel)) {
		return fmt.Errorf("channel %q, a name that the journal uses otherwise", e.Channel)
	}
	if e.Form != rig.Waveform {
		if _, err := readingField(e.Stream()); err != nil {
			return err
		}
		if e.RateHz != 0 || e.File != journalName || e.Encoding != "" {
			return fmt.Errorf("readings of %q with a rate, a file or an encoding of their own", e.Channel)
		}
		return nil
	}
	if e.Unit != rig.FullScale && e.Unit != rig.Ampere {
		return fmt.Errorf("waveform of %q in unit %q, not %q or %q", e.Channel, e.Unit, rig.FullScale, rig.Ampere)
	}
	if !(e.RateHz > 0) || math.IsInf(e.RateHz, 0) || e.RateHz > maxRateHz {
		return fmt.Errorf("rate_hz %v of %q, not above 0 and at most %d", e.RateHz, e.Channel, maxRateHz)
	}
	if e.File != recordingName(e.Channel) {
		return fmt.Errorf("file %q of %q, not %q", e.File, e.Channel, recordingName(e.Channel))
	}
	_, err := encodingOf(e.Encoding)
	return err
}

// maxRateHz bounds what a stream may claim; ten times what sound cards do.
const maxRateHz = 2_000_000

func recordingName(c rig.Channel) string { return recordingsName + "/" + string(c) + ".wav" }

// plainPath tells whether p stays inside the folder.
func plainPath(p string) bool {
	for _, part := range strings.Split(p, "/") {
		if part == "" || part == "." || part == ".." || strings.ContainsAny(part, "\\\x00") {
			return false
		}
	}
	return true
}
