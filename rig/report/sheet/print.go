package sheet

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"quern/rig/intact"
)

// Browser returns the Chromium on the PATH that can print; "": there is none.
func Browser() string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "google-chrome-stable"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

// printWithin is how long a browser may take.
const printWithin = 2 * time.Minute

// papers are the sizes of paper as styles name them.
var papers = map[string]string{"a4": "A4", "letter": "letter"}

// Print prints a page to PDF beside it, on paper a4 or letter, and returns the file. The browser gets a folder
// of its own that is removed, and no network: the page needs none.
func Print(ctx context.Context, browser, page, paper string) (string, error) {
	size, ok := papers[paper]
	if !ok {
		return "", fmt.Errorf("found paper %q, expected a4 or letter", paper)
	}
	b, err := os.ReadFile(page)
	if err != nil {
		return "", err
	}
	// The page itself leaves the size to the printer; what is printed here is a copy that names it.
	// What is folded on a screen is open on paper.
	b = bytes.ReplaceAll(b, []byte("<details>"), []byte("<details open>"))
	sized := bytes.Replace(b, []byte("</style>"), []byte("@page { size: "+size+"; }\n</style>"), 1)
	dir, err := os.MkdirTemp("", "quern-print-")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(dir)
	in, out := filepath.Join(dir, "page.html"), filepath.Join(dir, "page.pdf")
	if err := os.WriteFile(in, sized, 0o600); err != nil {
		return "", err
	}
	ctx, cancel := context.WithTimeout(ctx, printWithin)
	defer cancel()
	args := []string{"--headless", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync",
		"--disable-extensions", "--host-resolver-rules=MAP * ~NOTFOUND", "--user-data-dir=" + filepath.Join(dir, "browser"), "--no-pdf-header-footer", "--print-to-pdf=" + out}
	if os.Geteuid() == 0 { // a browser's own walls cannot be put up by root
		args = append(args, "--no-sandbox")
	}
	cmd := exec.CommandContext(ctx, browser, append(args, (&url.URL{Scheme: "file", Path: in}).String())...)
	cmd.WaitDelay = 5 * time.Second
	var said bytes.Buffer
	cmd.Stderr = &said
	err = cmd.Run()
	made, readErr := os.ReadFile(out)
	if readErr != nil || !bytes.HasPrefix(made, []byte("%PDF-")) {
		lines := strings.Split(strings.TrimSpace(said.String()), "\n")
		return "", fmt.Errorf("%s did not print the page (%s)", filepath.Base(browser), cmp.Or(lines[len(lines)-1], errors.Join(err, readErr).Error()))
	}
	pdf := strings.TrimSuffix(page, filepath.Ext(page)) + ".pdf"
	if err := intact.Remade(pdf, 0o644, intact.Bytes(made)); err != nil {
		return "", unwritable(pdf, err)
	}
	return pdf, nil
}
