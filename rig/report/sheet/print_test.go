package sheet

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A browser prints the page, on either paper; the page itself stays as it was.
func TestPrint(t *testing.T) {
	browser := Browser()
	if browser == "" {
		t.Skip("no Chromium on the PATH")
	}
	if testing.Short() {
		t.Skip("a browser takes seconds")
	}
	before, m := made(t, "session", nil)
	for paper, box := range map[string]string{"a4": "594.95", "letter": "612"} {
		pdf, err := Print(t.Context(), browser, m.Page, paper)
		must(t, err)
		b, err := os.ReadFile(pdf)
		must(t, err)
		if filepath.Dir(pdf) != filepath.Dir(m.Page) || !bytes.HasPrefix(b, []byte("%PDF-")) || len(b) < 20000 {
			t.Errorf("%s: %s of %d bytes is no page on paper", paper, pdf, len(b))
		}
		// A4 is 210 mm x 297 mm (ISO 216), letter 8.5 in x 11 in; a point is 1/72 in. The browser rounds.
		if !bytes.Contains(b, []byte("/MediaBox [0 0 "+box)) {
			t.Errorf("%s: no page of that size", paper)
		}
	}
	after, err := os.ReadFile(m.Page)
	must(t, err)
	if apart(string(after)) != before {
		t.Error("printing changed the page")
	}
}

func TestPrintFails(t *testing.T) {
	page := filepath.Join(t.TempDir(), "page.html")
	must(t, os.WriteFile(page, []byte("<style></style>"), 0o644))
	if _, err := Print(t.Context(), "/bin/false", page, "a4"); err == nil || !strings.Contains(err.Error(), "false did not print the page") {
		t.Errorf("got %v", err)
	}
	if _, err := Print(t.Context(), "/bin/false", page, "a3"); err == nil || !strings.Contains(err.Error(), "expected a4 or letter") {
		t.Errorf("got %v", err)
	}
	if _, err := os.Stat(strings.TrimSuffix(page, ".html") + ".pdf"); err == nil {
		t.Error("something was left behind")
	}
}
