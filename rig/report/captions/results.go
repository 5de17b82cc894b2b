package captions

import (
	"fmt"
	"strings"

	"quern/rig"
	"quern/rig/report"
)

// resultLines tells what a run came to, in the digits of the report.
func (s *Shot) resultLines(run int) []string {
	if run < 1 || run > len(s.Result.Runs) {
		return nil
	}
	r := s.Result.Runs[run-1]
	get := func(name string, f rig.Figure) string {
		if s.Final != nil {
			f = s.Final(run, name)
		}
		if !f.OK {
			return ""
		}
		return report.MeasureWords(name, f.V)
	}
	level, word := r.Sound.LAeqCorrectedDB, "LAeq "
	var first, second []string
	add := func(to *[]string, before, text string) {
		if text != "" {
			*to = append(*to, before+text)
		}
	}
	add(&first, "time ", get("run_time_s", r.RunTimeS))
	if text := get("laeq_db", level); text != "" {
		first = append(first, word+text)
	} else {
		add(&first, "LAeq as measured ", get("laeq_uncorrected_db", r.Sound.LAeqDB))
	}
	add(&second, "mean ", get("mean_a", r.Motor.MeanA))
	add(&second, "largest ", get("max_a", r.Motor.MaxA))
	var lines []string
	for i, l := range [][]string{first, second} {
		text := strings.Join(l, ", ")
		if i == 0 && len(s.Result.Runs) > 1 && text != "" {
			text = fmt.Sprintf("Run %d: %s", run, text)
		}
		if text != "" {
			lines = append(lines, cut(upper(text)))
		}
	}
	return lines
}

// plain returns text of one line that no form of file can take for anything else than text: white space
// is one blank, and an arrow that separates times a plain one.
func plain(s string) string {
	s = strings.Join(strings.Fields(report.Clean(s)), " ")
	for strings.Contains(s, "-->") {
		s = strings.ReplaceAll(s, "-->", "→")
	}
	return s
}
