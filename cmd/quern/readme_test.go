package main

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"quern/rig"
)

// The README's table of measures is that of the program.
func TestReadmeMeasures(t *testing.T) {
	b, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range rig.Measures {
		if row := fmt.Sprintf("| `%s` | %s | %s |\n", m.Name, m.Unit, m.What); !strings.Contains(string(b), row) {
			t.Errorf("README.md lacks %s", row)
		}
	}
}

// Every command that the README or the demonstration runs exists.
func TestDocumentedCommands(t *testing.T) {
	root := command(env{})
	for _, file := range []string{"../../README.md", "../../deploy/demo.sh"} {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(string(b)) {
			_, after, ok := strings.Cut(line, "    quern ")
			if !ok || !strings.HasPrefix(line, "    quern ") {
				continue
			}
			words := strings.Fields(after)
			c, _, err := root.Find(words[:1])
			if err != nil || c == root {
				t.Errorf("%s: quern %s is no command", file, words[0])
				continue
			}
			for _, w := range words {
				if name, flag := strings.CutPrefix(w, "--"); flag && c.Flags().Lookup(strings.TrimRight(strings.SplitN(name, "=", 2)[0], ";.,")) == nil && name != "help" {
					t.Errorf("%s: quern %s has no %s", file, words[0], w)
				}
			}
		}
	}
}
