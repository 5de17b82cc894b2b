package review

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"quern/rig"
	"quern/rig/report/series/recorded"
)

type changesJSON struct {
	Runs    int `json:"runs"`
	Changes []struct {
		Events []struct {
			Kind rig.Kind `json:"kind"`
			Old  *float64 `json:"old_s"`
			New  *float64 `json:"new_s"`
		} `json:"events"`
		Measures []struct {
			Measure  string   `json:"measure"`
			Old, New *float64 `json:"-"`
		} `json:"measures"`
	} `json:"changes"`
}

// TestWhatIf: with a protector that takes ten minutes a trip becomes a stop, and nothing is kept of it.
func TestWhatIf(t *testing.T) {
	for _, lab := range []bool{true, false} {
		h, dir := whole(t, "stall-and-trip", func(o *Options) {
			if !lab {
				o.Lab = nil
			}
		})
		before := listing(t, dir)
		same, err := h.WhatIf(t.Context(), "s", "# nothing\n\n[detect.motor]\nstall_ratio = 0.70 # as it is")
		if err != nil || len(same.Settings) != 0 || len(same.Runs) != 1 || string(same.Changes) != `{"runs":1,"changes":[]}`+"\n" {
			t.Fatalf("nothing changed: %+v, %v", same, err)
		}
		for _, text := range []string{"[detect.motor]\ntrip_after_s = 600\nstall_ratio = 0.8", "[motor]\ntrip_after_s=600.0\nstall_ratio = 0.80", "detect.motor.trip_after_s = 6e2\r\nmotor.stall_ratio = 0.8\r\n"} {
			got, err := h.WhatIf(t.Context(), "s", text)
			if err != nil {
				t.Fatal(err)
			}
			if len(got.Settings) != 2 || got.Settings[0] != (KeyChange{"detect.motor.trip_after_s", "3.0", "600.0"}) {
				t.Errorf("settings %+v", got.Settings)
			}
			var c changesJSON
			if err := json.Unmarshal(got.Changes, &c); err != nil || c.Runs != 1 || len(c.Changes) != 1 {
				t.Fatalf("%s (%v)", got.Changes, err)
			}
			gone, came, moved := false, false, false
			for _, e := range c.Changes[0].Events {
				gone = gone || e.Kind == rig.Trip && e.Old != nil && e.New == nil
				came = came || e.Kind == rig.MotorStop && e.Old == nil && e.New != nil
				moved = moved || e.Kind == rig.StallStart && e.Old != nil && e.New != nil
			}
			if !gone || !came || !moved || len(c.Changes[0].Measures) == 0 {
				t.Errorf("the trip did not become a stop, or the stall did not move: %s", got.Changes)
			}
		}
		if after := listing(t, dir); after != before {
			t.Errorf("the session holds %s, want %s", after, before)
		}
	}
}

func listing(t *testing.T, dir string) string {
	t.Helper()
	var out []string
	err := filepath.Walk(dir, func(path string, _ os.FileInfo, err error) error {
		out = append(out, path)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(out, "\n")
}

func TestWhatIfRefused(t *testing.T) {
	set := recorded.Setup(t)
	for _, c := range []struct{ text, says string }{
		{"stall", "what-if:1: found stall, expected a line such as"},
		{"[detect.motor\nstall_ratio = 0.8", "what-if:1: found [detect.motor, expected a table"},
		{"\n[detect.motor]\nstall_ratio = 0.8\nstall_ratio = 0.9", "what-if:4: found detect.motor.stall_ratio once more, expected each key once: it stands in line 3 already"},
		{"[detect.motor]\nstall_ratio = 3", "what-if:2: found "},
		{"[detect.motor]\nstall_ratio = 'high'", "what-if:2: found "},
		{"[detect.motor]\n# a comment\nstall_ratoi = 0.8", "what-if:3: found "},
		{"[detect.motor]\nstall_ratio = 0,8", "what-if:2:"},
		{"[detect.sound]\nclip_samples = 2.5", "what-if:2: found "},
		{"[supply]\nfrequency_hz = 50", "what-if:2: found detect.supply.frequency_hz, expected a key of detect.sound"},
		{"[bench.supply]\nfrequency_hz = 50", "only thresholds can be tried out"},
		{"unit.rated_current_a = 5", "only thresholds can be tried out"},
		{"[detect.motor]\nstall_leave_ratio = 0.9", "what-if"},
		{"x = " + strings.Repeat("1", 300), "what-if:1: found 304 bytes"},
		{strings.Repeat("\n", 300), "what-if: found 301 lines"},
		{"[detect.motor]\nstall_ratio = \"\"\"", "what-if:"},
		{"Motor.stall_ratio = 1", "what-if:1: found"},
	} {
		if _, _, err := changed(set, c.text); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%.60q: %v, want %q", c.text, err, c.says)
		}
	}
}

// TestDetectText: what is given to be changed changes nothing as it is.
func TestDetectText(t *testing.T) {
	set := recorded.Setup(t)
	text := detectText(set)
	if !strings.HasPrefix(text, "[detect.sound]\n") || !strings.Contains(text, "\n[detect.heard]\n") {
		t.Errorf("the thresholds are told as\n%s", text)
	}
	now, keys, err := changed(set, text)
	if err != nil || len(keys) > 0 || string(now.TOML()) != string(set.TOML()) {
		t.Errorf("as they are they change %v (%v)", keys, err)
	}
	now, keys, err = changed(set, strings.Replace(text, "stall_ratio = 0.7", "stall_ratio = 0.75", 1))
	if err != nil || len(keys) != 1 || now.Bench.Detect.Motor.StallRatio != 0.75 {
		t.Errorf("one changed: %v, %g (%v)", keys, now.Bench.Detect.Motor.StallRatio, err)
	}
}

// TestWhatIfEnds: it ends with its deadline, and with whoever asked.
func TestWhatIfEnds(t *testing.T) {
	h, _ := whole(t, "plain", func(o *Options) { o.WhatIfWithin = time.Nanosecond })
	if _, err := h.WhatIf(t.Context(), "s", "motor.stall_ratio = 0.8"); statusOf(err) != 503 || !strings.Contains(err.Error(), "longer than 1ns") {
		t.Errorf("without time: %v", err)
	}
	h.o.WhatIfWithin = time.Minute
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := h.WhatIf(ctx, "s", "motor.stall_ratio = 0.8"); err == nil {
		t.Error("nobody waits any more, and it was done all the same")
	}
	h.whatIf.Lock()
	_, err := h.WhatIf(t.Context(), "s", "motor.stall_ratio = 0.8")
	h.whatIf.Unlock()
	if statusOf(err) != 503 || !strings.Contains(err.Error(), "another session") {
		t.Errorf("beside another: %v", err)
	}
}

// FuzzWhatIf: what reads gives thresholds within their ranges that read back alike, and touches nothing else.
func FuzzWhatIf(f *testing.F) {
	set := recorded.Setup(f)
	f.Add(detectText(set))
	f.Add("[detect.motor]\nstall_ratio = 0.8 # x\n")
	f.Add("motor.on_hold_s=1e-2")
	f.Add("[heard]\nhold_s = 1_0.5\r\n[load]\n")
	f.Fuzz(func(t *testing.T, text string) {
		now, keys, err := changed(set, text)
		if err != nil {
			if strings.TrimSpace(err.Error()) == "" {
				t.Fatal("an error without words")
			}
			return
		}
		var again strings.Builder
		for _, k := range keys {
			again.WriteString(k.Key + " = " + k.New + "\n")
		}
		twice, _, err := changed(set, again.String())
		if err != nil || string(twice.TOML()) != string(now.TOML()) {
			t.Fatalf("%q does not read back: %v", again.String(), err)
		}
		now.Bench.Detect = set.Bench.Detect
		if string(now.TOML()) != string(set.TOML()) {
			t.Fatalf("%q changed something else", text)
		}
	})
}
