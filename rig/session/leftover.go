package session

import (
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// unfinished is what the folder of a session is called before it has its own name: see makeRoot.
var unfinished = regexp.MustCompile(`^\..+` + regexp.QuoteMeta(temporary) + `-[0-9]+$`)

// ClearUnfinished removes what imports that were cut off left hidden in the folder of sessions dir, and returns the names.
// Nothing is lost by that: what was being copied is where it was. One that is being made at this moment is locked, and
// left alone, as is whatever holds anything that no session begins with.
func ClearUnfinished(dir string) []string {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil // whoever makes a session in it says so
	}
	var cleared []string
	for _, e := range entries {
		if at := filepath.Join(dir, e.Name()); e.IsDir() && unfinished.MatchString(e.Name()) && clearDead(at) {
			cleared = append(cleared, e.Name())
		}
	}
	return cleared
}

// clearDead removes the unfinished session at root, if nobody is making it.
func clearDead(root string) bool {
	lock, err := lockFolder(root, false)
	if err != nil {
		return false
	}
	defer lock.Close() // nothing was written to it
	entries, err := lock.ReadDir(-1)
	if err != nil {
		return false
	}
	for _, e := range entries {
		name := strings.TrimSuffix(e.Name(), temporary)
		if !slices.Contains([]string{recordingsName, settingsName, manifestName, journalName}, name) {
			return false
		}
	}
	return os.RemoveAll(root) == nil
}

// lockRoot takes the lock of the folder that was just made at root; false: another program, which took it for one that was
// left behind, was faster. Where there are no locks nothing is ever cleared, and it is made without.
func lockRoot(root string) (lock *os.File, ours bool) {
	lock, err := lockFolder(root, false)
	if err != nil {
		_, gone := os.Lstat(root)
		return nil, gone == nil && !errors.Is(err, errLocked)
	}
	held, err := lock.Stat()
	there, gone := os.Lstat(root)
	if err != nil || gone != nil || !os.SameFile(held, there) {
		_ = lock.Close() // of a folder that is no more
		return nil, false
	}
	return lock, true
}
