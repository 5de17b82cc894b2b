package intact

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"quern/rig"
)

var errHalf = errors.New("half of it")

func half(w io.Writer) error {
	_, err := io.WriteString(w, "ne")
	return errors.Join(err, errHalf)
}

// holds checks the names in a folder and, of one of them, the content.
func holds(t *testing.T, dir, name, text string, want ...string) {
	t.Helper()
	var names []string
	entries, err := os.ReadDir(dir)
	for _, e := range entries {
		names = append(names, e.Name())
	}
	if err != nil || !slices.Equal(names, want) {
		t.Errorf("%s holds %q (%v), want %q", dir, names, err, want)
	}
	if name == "" {
		return
	}
	if b, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(b) != text {
		t.Errorf("%s holds %q (%v), want %q", name, b, err, text)
	}
}

func TestFileIsNewOrAsItWas(t *testing.T) {
	for name, put := range map[string]func(string, fs.FileMode, func(io.Writer) error) error{"File": File, "Remade": Remade} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, "a")
			if err := put(path, 0o644, half); !errors.Is(err, errHalf) {
				t.Errorf("half written: %v", err)
			}
			holds(t, dir, "", "")
			if err := put(path, 0o640, Bytes([]byte("old"))); err != nil {
				t.Fatal(err)
			}
			if err := put(path, 0o644, half); !errors.Is(err, errHalf) {
				t.Errorf("half written over it: %v", err)
			}
			holds(t, dir, "a", "old", "a")
			if info, err := os.Stat(path); err != nil || info.Mode() != 0o640 {
				t.Errorf("mode %v, %v", info.Mode(), err)
			}
			if err := put(path, 0o644, Bytes([]byte("new"))); err != nil {
				t.Fatal(err)
			}
			holds(t, dir, "a", "new", "a")
			if err := put(dir, 0o644, Bytes([]byte("in the place of a folder"))); err == nil {
				t.Error("a file took the place of a folder")
			}
			holds(t, dir, "a", "new", "a")
		})
	}
}

func TestFolderIsThereOrNot(t *testing.T) {
	dir := t.TempDir()
	made := filepath.Join(dir, "made")
	with := func(err error) func(string) error {
		return func(begun string) error {
			return errors.Join(os.WriteFile(filepath.Join(begun, "a"), []byte("it"), 0o600), err)
		}
	}
	if err := Folder(made, with(errHalf)); !errors.Is(err, errHalf) {
		t.Errorf("half written: %v", err)
	}
	holds(t, dir, "", "")
	if err := Folder(made+"/", with(nil)); err != nil {
		t.Fatal(err)
	}
	holds(t, dir, "", "", "made")
	holds(t, made, "a", "it", "a")
	if info, err := os.Stat(made); err != nil || info.Mode().Perm() != 0o755 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	if err := Folder(made, func(string) error { return nil }); err == nil {
		t.Error("a folder took the place of another")
	}
	holds(t, dir, "", "", "made")
	holds(t, made, "a", "it", "a")
}

// TestNoPlace: the error names the folder that is missing, not the hidden name in it.
func TestNoPlace(t *testing.T) {
	gone := filepath.Join(t.TempDir(), "gone")
	path := filepath.Join(gone, "a")
	want := gone + ": found nothing of that name, expected a folder in which a can be written: make it, or name another"
	for name, err := range map[string]error{
		"file": File(path, 0o644, half), "remade": Remade(path, 0o644, half), "folder": Folder(path, func(string) error { return nil }),
	} {
		if f := (*rig.FileError)(nil); !errors.As(err, &f) || !errors.Is(err, fs.ErrNotExist) || err.Error() != want {
			t.Errorf("%s: %v, want %s", name, err, want)
		}
	}
}
