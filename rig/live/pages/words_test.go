package pages

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"quern/rig"
)

// The pages' scripts call events what the program calls them.
func TestScriptsCallEventsAlike(t *testing.T) {
	script, err := os.ReadFile("../web/src/ribbon.ts")
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range rig.Kinds {
		if want := fmt.Sprintf("  %s: %q,\n", k, k.Words()); !strings.Contains(string(script), want) {
			t.Errorf("ribbon.ts lacks %q", want)
		}
	}
}
