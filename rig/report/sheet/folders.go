package sheet

import (
	"os"
	"path/filepath"

	"quern/rig"
	"quern/rig/session"
)

// Folders finds the folders of sessions: each of the folders given is a session's own, or holds sessions. The
// answer is by the name that a session has in its records, which a copied folder keeps.
func Folders(folders []string) (map[string]string, error) {
	out := map[string]string{}
	add := func(dir string) error {
		if _, err := os.Stat(filepath.Join(dir, "manifest.json")); err != nil {
			return nil // no session
		}
		dir, err := filepath.Abs(dir)
		if err != nil {
			return err
		}
		name := filepath.Base(dir)
		if b, err := session.OpenFacts(dir); err == nil { // what does not read has no record either
			name = b.Manifest.Session
		}
		out[name] = dir
		return nil
	}
	for _, folder := range folders {
		if err := add(folder); err != nil {
			return nil, err
		}
		entries, err := os.ReadDir(folder)
		if err != nil {
			return nil, &rig.FileError{File: folder, Byte: -1, Found: err.Error(), Want: "a folder of sessions", Do: "name the folder that --out of serve or import filled", Err: err}
		}
		for _, e := range entries {
			if e.IsDir() {
				if err := add(filepath.Join(folder, e.Name())); err != nil {
					return nil, err
				}
			}
		}
	}
	return out, nil
}
