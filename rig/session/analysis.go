package session

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"time"

	"quern/config"
	"quern/rig"
)

const (
	analysesName    = "analyses"
	analysisName    = "quern analysis"
	analysisVersion = 1
	keyDigits       = 16
	maxAnalysis     = 16 << 20 // bytes; one run makes some tens of kilobytes
)

// ErrStale is the cause of the error for an analysis of what the session no longer is.
var ErrStale = errors.New("the analysis is stale")

// Analysis is what a session came to under some settings. It is computed from what was sealed alone,
// not from facts, and can be computed again. Figures are kept exactly, absent ones with the reason.
type Analysis struct {
	Settings       string     // as config.Setup.TOML writes them
	SettingsSHA256 string     // of Settings: see SettingsSum
	Tool           string     // the program and its version
	Sealed         string     // manifest_sha256 of the session that it was computed from
	Made           time.Time  // a label
	Result         rig.Result // as it was given
}

// Key names the analysis in its folder.
func (a Analysis) Key() string { return KeyOf(textSum(a.Settings)) }

// SettingsSum returns the SHA-256 of the settings' text, in 64 small hexadecimal digits.
func SettingsSum(set config.Setup) string { return textSum(string(set.TOML())) }

// KeyOf returns the key of analyses under settings of that sum, its first 16 digits; "" if it is none.
func KeyOf(settingsSHA256 string) string {
	if len(settingsSHA256) < keyDigits {
		return ""
	}
	return settingsSHA256[:keyDigits]
}

// AnalysisKey returns the key of analyses under those settings: the first 16 digits of SettingsSum.
func AnalysisKey(set config.Setup) string { return KeyOf(SettingsSum(set)) }

func textSum(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// Analysed returns what StoreAnalysis takes for a result of this session.
func (s *Session) Analysed(set config.Setup, tool string, made time.Time, result rig.Result) Analysis {
	text := string(set.TOML())
	return Analysis{Settings: text, SettingsSHA256: textSum(text), Tool: tool, Sealed: s.manifest.Self, Made: made.UTC(), Result: result}
}

// analysisFile is analyses/KEY.json, in the exact form: see appendExact. Its last key is the SHA-256
// of all bytes before that key's value.
type analysisFile struct {
	Format   string     `json:"format"`
	Version  int        `json:"version"`
	Key      string     `json:"key"`
	Sum      string     `json:"settings_sha256"`
	Tool     string     `json:"tool"`
	Sealed   string     `json:"sealed"`
	Made     time.Time  `json:"made"`
	Settings string     `json:"settings"`
	Result   rig.Result `json:"result"`
	Self     string     `json:"analysis_sha256"`
}

const selfKey = `"analysis_sha256":"`

// StoreAnalysis keeps an analysis in the folder of the sealed session from which it was computed, in
// place of one under the same settings. The file is whole or not there.
func StoreAnalysis(dir string, a Analysis) error { return storeAnalysis(osDisk{}, dir, a) }

func storeAnalysis(d disk, dir string, a Analysis) error {
	m, err := ReadManifest(dir)
	if err != nil {
		return err
	}
	if m.Self == "" || a.Sealed != m.Self {
		return &rig.FileError{File: within(dir, manifestName), Byte: -1, Found: fmt.Sprintf("manifest_sha256 %q", m.Self),
			Want: fmt.Sprintf("the sealed session that was analysed, %q", a.Sealed), Do: "analyse it as it is now", Err: ErrStale}
	}
	text, err := a.encode()
	if err != nil {
		return fmt.Errorf("session %s: %w", dir, err)
	}
	folder := within(dir, analysesName)
	if err = d.Mkdir(folder); err == nil {
		err = d.SyncDir(dir)
	}
	if err != nil && !errors.Is(err, fs.ErrExist) {
		return unwritable(folder, err)
	}
	lock, err := lockFolder(folder, true)
	if err != nil {
		return err
	}
	defer lock.Close()
	if err := removeLeftovers(d, folder, ""); err != nil {
		return unwritable(folder, err)
	}
	name := within(folder, a.Key()+".json")
	err = writeWhole(d, name, func(f io.Writer) error {
		_, err := f.Write(text)
		return err
	})
	if err != nil {
		return unwritable(name, err)
	}
	return nil
}

func (a Analysis) encode() ([]byte, error) {
	text, err := exactJSON(analysisFile{Format: analysisName, Version: analysisVersion, Key: a.Key(), Sum: textSum(a.Settings),
		Tool: a.Tool, Sealed: a.Sealed, Made: a.Made.UTC(), Settings: a.Settings, Result: a.Result})
	if err != nil {
		return nil, err
	}
	text = text[:len(text)-len(`"}`)]
	if text = fmt.Appendf(text, "%s\"}\n", textSum(string(text))); len(text) > maxAnalysis {
		return nil, fmt.Errorf("an analysis of %d bytes, more than 16 MiB", len(text))
	}
	return text, nil
}

// parseAnalysis reads what encode writes; name stands in errors.
func parseAnalysis(name string, text []byte) (Analysis, error) {
	fault := func(found string, cause error) (Analysis, error) {
		return Analysis{}, &rig.FileError{File: name, Byte: -1, Found: found, Want: "an analysis as this program writes it",
			Do: "delete the file and analyse the session again", Err: cause}
	}
	const end = 2*sha256.Size + len("\"}\n")
	if len(text) > maxAnalysis {
		return fault("more than 16 MiB", nil)
	}
	if len(text) < end || !bytes.HasSuffix(text[:len(text)-end], []byte(selfKey)) {
		return fault("no "+selfKey+"...\" at the end", nil)
	}
	var f analysisFile
	if err := readExact(text[:len(text)-1], &f); err != nil {
		return fault("a text that does not read ("+err.Error()+")", err)
	}
	if f.Format != analysisName || f.Version != analysisVersion {
		return fault(fmt.Sprintf("format %q, version %d", f.Format, f.Version), nil)
	}
	if string(text[len(text)-end:]) != f.Self+"\"}\n" || f.Self != textSum(string(text[:len(text)-end])) {
		return fault("a text that its analysis_sha256 does not prove", nil)
	}
	a := Analysis{Settings: f.Settings, SettingsSHA256: f.Sum, Tool: f.Tool, Sealed: f.Sealed, Made: f.Made, Result: f.Result}
	if f.Sum != textSum(f.Settings) || f.Key != a.Key() {
		return fault("settings that are not those of its key", nil)
	}
	return a, nil
}

// readAnalysis reads one file, whatever session it is of.
func readAnalysis(dir, key string) (Analysis, error) {
	name := within(dir, analysesName+"/"+key+".json")
	missing := func(err error) (Analysis, error) {
		return Analysis{}, &rig.FileError{File: name, Byte: -1, Found: "a file that cannot be read (" + rig.Reason(err) + ")",
			Want: "a stored analysis", Do: "analyse the session under these settings", Err: err}
	}
	f, err := openRegular(name)
	if err != nil {
		return missing(err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxAnalysis+1))
	if err != nil {
		return missing(err)
	}
	a, err := parseAnalysis(name, text)
	if err == nil && a.Key() != key {
		return missing(fmt.Errorf("it is the analysis %s", a.Key()))
	}
	return a, err
}

// Analyses returns all stored analyses of a session that read. The error joins those of files that do not.
func Analyses(dir string) ([]Analysis, error) {
	entries, err := os.ReadDir(within(dir, analysesName))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, unreadable(within(dir, analysesName), err, "a folder of analyses")
	}
	var out []Analysis
	var bad []error
	for _, e := range entries {
		if key, ok := analysisKey(analysesName + "/" + e.Name()); ok {
			a, err := readAnalysis(dir, key)
			if err != nil {
				bad = append(bad, err)
				continue
			}
			out = append(out, a)
		}
	}
	return out, errors.Join(bad...)
}

// LoadAnalysis returns a stored analysis. The error is fs.ErrNotExist if there is none, ErrStale if
// it is of what the session no longer is.
func LoadAnalysis(dir, key string) (Analysis, error) {
	m, err := ReadManifest(dir)
	if err != nil {
		return Analysis{}, err
	}
	return Brief{Manifest: m, dir: dir}.Analysis(key)
}

// Analysis is LoadAnalysis without reading the manifest again.
func (b Brief) Analysis(key string) (Analysis, error) {
	if !isKey(key) {
		return Analysis{}, fmt.Errorf("session %s: key %q of an analysis, expected %d hexadecimal digits", b.dir, key, keyDigits)
	}
	a, err := readAnalysis(b.dir, key)
	if err != nil {
		return Analysis{}, err
	}
	if b.Manifest.Self == "" || a.Sealed != b.Manifest.Self {
		return Analysis{}, &rig.FileError{File: within(b.dir, analysesName+"/"+key+".json"), Byte: -1,
			Found: fmt.Sprintf("an analysis of a session sealed as %.16q", a.Sealed), Want: fmt.Sprintf("%.16q", b.Manifest.Self),
			Do: "analyse the session again", Err: ErrStale}
	}
	return a, nil
}

// analysisKey returns the key of the analysis in a file of the session, false if it is no such file.
func analysisKey(path string) (string, bool) {
	rest, ok := strings.CutPrefix(path, analysesName+"/")
	key, json := strings.CutSuffix(rest, ".json")
	return key, ok && json && isKey(key)
}

func isKey(s string) bool {
	return len(s) == keyDigits && strings.Trim(s, "0123456789abcdef") == ""
}
