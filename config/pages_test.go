package config

import (
	"bytes"
	"strings"
	"testing"
)

// Who sees the pages is the lab's matter: neither the settings of a session nor the checksum of its analyses know of it.
func TestPagesAreNoMatterOfSessions(t *testing.T) {
	lab := contractLab()
	lab["bench.toml"] = file("")
	without := mustRead(t, lab)
	lab["bench.toml"] = file("[pages]\nviewers = true\n")
	open := mustRead(t, lab)
	if without.Bench.Pages.Viewers || !open.Bench.Pages.Viewers {
		t.Fatalf("viewers: %v by default, %v where the lab says so", without.Bench.Pages.Viewers, open.Bench.Pages.Viewers)
	}
	a, err := without.Setup("unit-a", "mixed")
	if err != nil {
		t.Fatal(err)
	}
	b, err := open.Setup("unit-a", "mixed")
	if err != nil {
		t.Fatal(err)
	}
	whole := b
	whole.Bench.Pages.Viewers = true
	for _, text := range [][]byte{b.TOML(), whole.TOML(), b.ForAnalysis().TOML(), whole.ForAnalysis().TOML()} {
		if bytes.Contains(text, []byte("pages")) || bytes.Contains(text, []byte("viewers")) {
			t.Errorf("a session holds it:\n%s", text)
		}
	}
	if !bytes.Equal(a.TOML(), b.TOML()) || without.RulesSum() != open.RulesSum() {
		t.Error("the settings of a session depend on who sees the pages")
	}
	for l, want := range map[*Lab]string{without: "on the network a device has to pair before it sees anything", open: "Pages: on the network whoever has not paired may watch"} {
		var text strings.Builder
		if err := Explain(&text, l); err != nil || !strings.Contains(text.String(), want) {
			t.Errorf("%v: no %q in\n%s", err, want, &text)
		}
	}
}
