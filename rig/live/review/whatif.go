package review

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"

	"quern/config"
	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
)

// WhatIf is what a session would come to under other thresholds. Nothing of it is kept.
type WhatIf struct {
	Settings []KeyChange     `json:"settings"` // that differ from those of the session
	Runs     []rig.Run       `json:"runs"`     // as they would be
	Warnings []rig.Warning   `json:"warnings"`
	Changes  json.RawMessage `json:"changes"` // as 'quern replay --all --json' tells them
}

// KeyChange is a threshold that is asked to be another.
type KeyChange struct {
	Key string `json:"key"` // such as detect.motor.stall_ratio
	Old string `json:"old"`
	New string `json:"new"`
}

// mostLines bounds what is asked for; there are some thirty keys.
const (
	mostLines   = 200
	longestLine = 200 // bytes
	detectTable = "bench.detect."
)

// edit is a line that sets a key.
type edit struct {
	key, value string // the key as settings.toml has it
	line       int
}

// mistake says what is wrong with a line.
func mistake(line int, found, want, do string) error {
	return &rig.FileError{File: "what-if", Line: line, Byte: -1, Found: found, Want: want, Do: do}
}

// edits reads lines of TOML: tables, and keys of the thresholds. A key may stand under its table
// ([detect.motor], stall_ratio = 0.8) or by its whole name (detect.motor.stall_ratio = 0.8, or the same
// without detect).
func edits(text string) ([]edit, error) {
	var out []edit
	seen := map[string]int{}
	table := ""
	lines := strings.Split(text, "\n")
	if len(lines) > mostLines {
		return nil, mistake(0, fmt.Sprintf("%d lines", len(lines)), fmt.Sprintf("at most %d", mostLines), "leave out what does not change")
	}
	for i, l := range lines {
		l = strings.TrimSpace(l)
		if len(l) > longestLine {
			return nil, mistake(i+1, fmt.Sprintf("%d bytes", len(l)), fmt.Sprintf("at most %d", longestLine), "")
		}
		switch {
		case l == "" || l[0] == '#':
			continue
		case l[0] == '[':
			name, rest, closed := strings.Cut(l[1:], "]")
			if rest = strings.TrimSpace(rest); !closed || rest != "" && rest[0] != '#' {
				return nil, mistake(i+1, clip40(l), "a table such as [detect.motor]", "")
			}
			table = full(strings.TrimSpace(name)) + "."
			continue
		}
		key, value, ok := strings.Cut(l, "=")
		key, value = strings.TrimSpace(key), strings.TrimSpace(value)
		if !ok || value == "" || strings.Trim(key, "abcdefghijklmnopqrstuvwxyz0123456789_.") != "" || key == "" {
			return nil, mistake(i+1, clip40(l), "a line such as detect.motor.stall_ratio = 0.8", "")
		}
		if table == "" {
			key = full(key)
		} else {
			key = table + key
		}
		if seen[key] > 0 {
			return nil, mistake(i+1, shortKey(key)+" once more", "each key once", fmt.Sprintf("it stands in line %d already", seen[key]))
		}
		seen[key] = i + 1
		out = append(out, edit{key, value, i + 1})
	}
	return out, nil
}

// full returns the name that a key or a table of the thresholds has in settings.toml.
func full(name string) string {
	name = strings.TrimPrefix(strings.TrimPrefix(name+".", "bench."), "detect.")
	return strings.TrimSuffix(detectTable+name, ".")
}

func shortKey(key string) string { return strings.TrimPrefix(key, "bench.") }

// detectText returns the thresholds in force, as edits reads them.
func detectText(set config.Setup) string {
	var b strings.Builder
	on := false
	for l := range strings.Lines(string(set.TOML())) {
		if strings.HasPrefix(l, "[") {
			name := strings.Trim(strings.TrimSpace(l), "[]")
			if on = strings.HasPrefix(name, detectTable); on {
				fmt.Fprintf(&b, "[%s]\n", shortKey(name))
			}
		} else if on {
			b.WriteString(l)
		}
	}
	return strings.TrimRight(b.String(), "\n") + "\n"
}

// changed returns the settings with some thresholds replaced. They are read as strictly as any settings,
// and errors name the line of the text.
func changed(set config.Setup, text string) (config.Setup, []KeyChange, error) {
	asked, err := edits(text)
	if err != nil {
		return set, nil, err
	}
	lines := strings.Split(string(set.TOML()), "\n")
	at, ends := map[string]int{}, map[string]int{} // line of each key, and of each table's last
	for key, i := range keyLines(lines) {
		table := key[:strings.LastIndexByte(key, '.')]
		at[key], ends[table] = i, max(i, ends[table])
	}
	var out []KeyChange
	from := map[int]int{} // line of the settings to that of the text
	added := map[int][]edit{}
	for _, e := range asked {
		table, key := e.key[:strings.LastIndexByte(e.key, '.')], e.key[strings.LastIndexByte(e.key, '.')+1:]
		i, known := at[e.key]
		if !known { // put where it is looked at, and refused
			end, there := ends[table]
			if !there || !strings.HasPrefix(table, strings.TrimSuffix(detectTable, ".")) {
				return set, nil, mistake(e.line, shortKey(e.key), "a key of detect.sound, detect.motor, detect.load or detect.heard", "only thresholds can be tried out")
			}
			added[end] = append(added[end], e)
			continue
		}
		_, old, _ := strings.Cut(lines[i], " = ")
		lines[i] = key + " = " + e.value
		from[i] = e.line
		out = append(out, KeyChange{shortKey(e.key), old, ""})
	}
	var merged []string
	origin := map[int]int{} // line of the merged text, from 1
	for i, l := range lines {
		merged = append(merged, l)
		if from[i] > 0 {
			origin[len(merged)] = from[i]
		}
		for _, e := range added[i] {
			merged = append(merged, e.key[strings.LastIndexByte(e.key, '.')+1:]+" = "+e.value)
			origin[len(merged)] = e.line
		}
	}
	now, err := config.ReadSetup("what-if", []byte(strings.Join(merged, "\n")))
	if err != nil {
		return set, nil, placedAt(err, origin)
	}
	is := map[string]string{}
	lines = strings.Split(string(now.TOML()), "\n")
	for key, i := range keyLines(lines) {
		_, is[shortKey(key)], _ = strings.Cut(lines[i], " = ")
	}
	kept := out[:0]
	for _, c := range out {
		if c.New = is[c.Key]; c.New != c.Old {
			kept = append(kept, c)
		}
	}
	return now, kept, nil
}

// keyLines tells on which of its lines the settings hold each key, by its whole name.
func keyLines(lines []string) map[string]int {
	at := map[string]int{}
	table := ""
	for i, l := range lines {
		if strings.HasPrefix(l, "[") {
			table = strings.Trim(l, "[]")
		} else if key, _, ok := strings.Cut(l, " = "); ok {
			at[table+"."+key] = i
		}
	}
	return at
}

// placedAt moves problems from the lines of the settings to those of the text.
func placedAt(err error, origin map[int]int) error {
	var all config.Problems
	if !errors.As(err, &all) {
		return err
	}
	var out config.Problems
	for _, p := range all {
		q := *p
		q.Line, q.Column, q.Byte = origin[p.Line], 0, -1
		out = append(out, &q)
	}
	return out
}

// WhatIf analyses a session again with some thresholds of its settings replaced, and says what would change
// against those that are in force. One at a time is worked on.
func (h *Shelf) WhatIf(ctx context.Context, name, text string) (WhatIf, error) {
	out := WhatIf{Settings: []KeyChange{}, Runs: []rig.Run{}, Warnings: []rig.Warning{}}
	err := h.with(ctx, name, func(s *Session) error {
		k, err := s.know(ctx, &h.o, name)
		if err != nil {
			return err
		}
		now, keys, err := changed(k.set, text)
		if err != nil {
			return fault(http.StatusUnprocessableEntity, "%s", err)
		}
		out.Settings = append(out.Settings, keys...)
		return h.whatIf.try(func() error {
			ctx, cancel := context.WithTimeout(ctx, h.o.WhatIfWithin)
			defer cancel()
			select {
			case <-k.Done():
				err = k.Err()
			case <-ctx.Done():
				err = ctx.Err()
			}
			res := k.result
			if err == nil && len(keys) > 0 && len(s.Manifest().Streams) > 0 {
				res, err = s.analyse(ctx, now.ForAnalysis(), nil)
			}
			if errors.Is(err, context.DeadlineExceeded) {
				return fault(http.StatusServiceUnavailable, "the analysis took longer than %s: use 'quern replay SESSION --lab LAB' for a session this long", h.o.WhatIfWithin)
			}
			if err != nil {
				return err
			}
			out.Runs = append(out.Runs, res.Runs...)
			out.Warnings = append(out.Warnings, res.Warnings...)
			out.Changes, err = k.changes(res)
			return err
		})
	})
	if errors.Is(err, errBusy) {
		err = fault(http.StatusServiceUnavailable, "another session is being analysed under other settings: ask again in some seconds")
	}
	return out, err
}

// changes compares what a session comes to with another result of it.
func (k known) changes(res rig.Result) (json.RawMessage, error) {
	lab := k.lab
	if lab == nil || lab.Unit(k.set.Unit.ID) == nil || lab.Procedure(k.set.Procedure.ID) == nil {
		// Its own settings are lab enough to compare runs.
		lab = &config.Lab{Bench: k.set.Bench, Units: []config.Unit{k.set.Unit}, Procedures: []config.Procedure{k.set.Procedure}, Scorecard: config.Scorecard{Level: 0.95}}
	}
	was := k.record()
	is := was
	is.Result = res
	var c [2]*score.Campaign
	for i, r := range []rig.Record{was, is} {
		var err error
		if c[i], err = score.Score(lab, []rig.Record{r}, nil); err != nil {
			return nil, err
		}
	}
	var b bytes.Buffer
	err := report.ChangesJSON(&b, report.Comparison{BySettings: score.Changed(c[0], c[1]), Runs: len(c[1].Runs)})
	return b.Bytes(), err
}
