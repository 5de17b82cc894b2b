package rig

import "testing"

// What a file is called must not break the line that tells about it, nor steer a terminal.
func TestFileErrorName(t *testing.T) {
	for name, want := range map[string]string{
		"lab/bench.toml":    "lab/bench.toml: found it",
		"küche/größe 2.wav": "küche/größe 2.wav: found it",
		`a"b\c.wav`:         `a"b\c.wav: found it`,
		"new\nline.wav":     `new\nline.wav: found it`,
		"x\x1b[31mred.wav":  `x\x1b[31mred.wav: found it`,
		"x\xff.wav":         `x\xff.wav: found it`,
	} {
		if got := (&FileError{File: name, Byte: -1, Found: "it"}).Error(); got != want {
			t.Errorf("%q: got %q, want %q", name, got, want)
		}
	}
}
