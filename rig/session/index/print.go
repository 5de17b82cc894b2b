package index

import (
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"golang.org/x/sys/unix"

	"quern/rig/session"
)

// Names inside a session's folder.
const (
	manifestName = "manifest.json"
	settingsName = "settings.toml"
	journalName  = "journal.lp"
	addendaName  = "addenda.lp"
)

func analysisFile(key string) string { return "analyses/" + key + ".json" }

// settled is how old a change must be before a file's state is kept. Times of files have steps: of two
// changes within one step the second could not be told from the first. The coarsest in use is the 2 s
// of FAT.
const settled = 2 * time.Second

// filesOf lists what a session's facts were read from. The folder itself is among them: it changes when
// a file in it comes, goes, or is put in another's place.
func filesOf(dir string, b session.Brief) []string {
	out := []string{".", manifestName, settingsName, journalName}
	for _, f := range b.Manifest.Files {
		if !slices.Contains(out, f.Path) {
			out = append(out, f.Path)
		}
	}
	var st unix.Stat_t
	if unix.Lstat(filepath.Join(dir, addendaName), &st) == nil {
		out = append(out, addendaName)
	}
	return out
}

// printOf tells the state of files by which they are known again: a line each with its size, the times
// of its last change of content and of anything, and its number in the file system. False: one is
// missing, or a link to elsewhere, or was changed too late for what was read since began to be surely
// what is there.
func printOf(dir string, began time.Time, files ...string) (string, bool) {
	limit := began.Add(-settled).UnixNano()
	var out []byte
	for _, name := range files {
		var changed int64
		var ok bool
		if out, changed, ok = appendState(out, dir, name); !ok || changed > limit || strings.ContainsAny(name, "\n\t") {
			return "", false
		}
	}
	return string(out), true
}

// unchanged tells whether files are as printOf found them.
func unchanged(dir, print string) bool {
	var now []byte
	for l := range strings.Lines(print) {
		name, _, _ := strings.Cut(l, "\t")
		var ok bool
		if now, _, ok = appendState(now[:0], dir, name); !ok || string(now) != l {
			return false
		}
	}
	return true
}

// appendState appends a file's line; changed is the time that no program can set, ns since 1970.
func appendState(dst []byte, dir, name string) (_ []byte, changed int64, ok bool) {
	path := dir + "/" + name
	var st unix.Stat_t
	if unix.Lstat(path, &st) != nil || st.Mode&unix.S_IFMT == unix.S_IFLNK {
		return dst, 0, false
	}
	dst = append(append(dst, name...), '\t')
	dst = append(strconv.AppendInt(dst, st.Size, 10), ' ')
	dst = append(strconv.AppendInt(dst, st.Mtim.Nano(), 10), ' ')
	dst = append(strconv.AppendInt(dst, st.Ctim.Nano(), 10), ' ')
	return append(strconv.AppendUint(dst, uint64(st.Ino), 10), '\n'), st.Ctim.Nano(), true
}
