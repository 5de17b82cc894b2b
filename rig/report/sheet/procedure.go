package sheet

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"quern/config"
	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
)

// procedureView is what a unit came to under one procedure.
type procedureView struct {
	ID, Title, Beyond string
	How               []string
	Tests             []testView
	Runs              []runView
	Aside             []runView // those that do not count, with their values
	Columns           []string  // of the tables of figures
	Figures           []figuresRow
	Spread            *figure
	Spectrum          *figure
	NoSpectrum        string
	Balance           *figure
	Masses            []figuresRow
	Items             []itemRow
	Others            []othersRow // the same of other units; nil on a masked page
	OthersColumns     []string
}

// figuresRow is a measure over the runs.
type figuresRow struct {
	Name  string
	Cells []string
}

// itemRow is an ingredient over the runs.
type itemRow struct {
	Name, Asked string
	Cells       []string
}

type othersRow struct {
	Shown   string
	Own     bool
	Outcome string
	Verdict string
	Cells   []string
}

// procedures shows a unit under each procedure that its tests ask for.
func (b *book) procedures(u *score.Unit, of map[string]*exhibit) (out []procedureView) {
	for i, ts := range u.Tests {
		if ts.Test.Procedure == "" || slices.ContainsFunc(u.Tests[:i], func(t *score.TestScore) bool { return t.Test.Procedure == ts.Test.Procedure }) {
			continue
		}
		if pr := b.c.Lab.Procedure(ts.Test.Procedure); pr != nil {
			out = append(out, b.procedure(u, pr, ts, of))
		}
	}
	return out
}

func (b *book) procedure(u *score.Unit, pr *config.Procedure, ts *score.TestScore, of map[string]*exhibit) procedureView {
	v := procedureView{ID: pr.ID, Title: cmp.Or(pr.Title, pr.ID), Beyond: "The procedure is not marked as beyond the makers' instructions."}
	if pr.Beyond {
		v.Beyond = "Beyond instructions: it asks what the makers' instructions exclude, and its result says so."
	}
	for _, s := range pr.Steps() {
		v.How = append(v.How, report.PlainWords(s))
	}
	for _, t := range u.Tests {
		if t.Test.Procedure == pr.ID {
			v.Tests = append(v.Tests, b.testView(t))
		}
	}
	stem := u.Unit.ID + "-" + pr.ID
	title := u.Unit.Shown(b.Day) + ", " + v.Title
	var shown []*exhibit
	for i, r := range ts.Runs {
		x := of[r.Record.Session]
		shown = append(shown, x)
		heading := fmt.Sprintf("run %d of %d", i+1, len(ts.Runs))
		v.Runs = append(v.Runs, b.runView(x, r, fmt.Sprintf("%s-run-%d", pr.ID, i+1), heading, fmt.Sprintf("%s-run-%d", stem, i+1)))
		v.Columns = append(v.Columns, fmt.Sprintf("run %d", i+1))
	}
	for i, r := range ts.Aside {
		x := of[r.Record.Session]
		w := b.runView(x, r, fmt.Sprintf("%s-aside-%d", pr.ID, i+1), string(r.Status)+" run of "+r.Day(), fmt.Sprintf("%s-aside-%d", stem, i+1))
		w.Measures = b.few(r)
		v.Aside = append(v.Aside, w)
	}
	v.Figures = b.table(ts.Runs, keyMeasures)
	v.Masses = b.table(ts.Runs, massMeasures)
	v.Items = b.items(pr, ts.Runs)
	if len(ts.Runs) > 0 {
		v.Spread = b.spread(u, pr, title+": repeats", stem+"-repeats")
		v.Balance = b.balance(ts.Runs, title+": where the charge was found", stem+"-balance")
		if v.Spectrum = b.spectrum(shown, ts.Runs, title, stem+"-spectrum"); v.Spectrum == nil {
			v.NoSpectrum = "No third-octave levels were measured in any run."
		}
	}
	if !b.Masked {
		b.others(&v, u, pr)
	}
	return v
}

// keyMeasures are those that are shown of every run, and massMeasures those of its mass balance.
var (
	keyMeasures = []string{"run_time_s", "motor_on_s", "elapsed_s", "clear_s", "pauses", "stalls", "stall_s", "overloads", "trips", "left_share", "coarse_share", "sizeable_share",
		"laeq_db", "laeq_uncorrected_db", "background_db", "la10_db", "la90_db", "lafmax_db", "lcpeak_db", "lae_db", "idle_a", "mean_a", "max_a", "inrush_a", "drawn_as"}
	massMeasures = []string{"input_g", "left_g", "coarse_g", "fine_g", "passed_g", "discharge_g", "recovered_share"}
)

// table tells measures over runs; those that no run has, and nobody weighed or recorded, are left out.
func (b *book) table(runs []*score.Run, names []string) (out []figuresRow) {
	for _, name := range names {
		row := figuresRow{Name: report.NameWords(name)}
		some := false
		for _, r := range runs {
			v := r.Measure(name)
			some = some || v.OK || v.Why != "not-weighed" && v.Why != "not-recorded"
			row.Cells = append(row.Cells, b.Style.Value(name, v))
		}
		if some {
			out = append(out, row)
		}
	}
	return out
}

// few are the values of a run that does not count.
func (b *book) few(r *score.Run) (out []measureView) {
	for _, name := range []string{"run_time_s", "left_share", "coarse_share", "laeq_db", "stalls", "trips"} {
		if v := r.Measure(name); v.OK {
			out = append(out, measureView{Name: report.NameWords(name), Value: b.Style.Value(name, v)})
		}
	}
	return out
}

// items tells what was weighed in, ingredient by ingredient.
func (b *book) items(pr *config.Procedure, runs []*score.Run) (out []itemRow) {
	at := map[string]int{}
	for i, r := range runs {
		for _, it := range r.Items() {
			n, ok := at[it.Name]
			if !ok {
				row := itemRow{Name: strings.ReplaceAll(it.Name, "-", " "), Asked: "not in the recipe", Cells: make([]string, len(runs))}
				if it.MassG > 0 {
					row.Asked = b.Style.Measure("input_g", it.MassG) + " ±" + b.Style.Measure("input_g", it.ToleranceG)
				}
				for j := range row.Cells {
					row.Cells[j] = "-"
				}
				n = len(out)
				at[it.Name] = n
				out = append(out, row)
			}
			if it.Net.OK {
				out[n].Cells[i] = b.Style.Measure("input_g", it.Net.V)
				if it.Off {
					out[n].Cells[i] += " (outside)"
				}
			} else if it.Net.Why != "" {
				out[n].Cells[i] = report.NoValue(it.Net.Why)
			}
		}
	}
	return out
}

// spread shows the repeats of every criterion under a procedure, and of gates on other measures.
func (b *book) spread(u *score.Unit, pr *config.Procedure, title, stem string) *figure {
	p := report.Spread{Title: title, Style: b.Style}
	seen := map[string]bool{}
	for _, ts := range u.Tests {
		if ts.Test.Procedure != pr.ID {
			continue
		}
		for _, k := range ts.Criteria {
			if seen[k.Criterion.Measure] {
				continue
			}
			seen[k.Criterion.Measure] = true
			row := report.SpreadRow{Name: report.NameWords(k.Criterion.Measure), Measure: k.Criterion.Measure, Mean: k.Mean.Figure, Half: rig.Absent("no-repeats"), Far: k.Repeats.Outliers, Limit: rig.Absent("no-gate")}
			if k.Repeats.Half.OK {
				row.Half = rig.Fig(k.Repeats.Half.V)
			}
			for _, x := range k.PerRun {
				row.Runs = append(row.Runs, orNaN(x.Value.Figure))
			}
			for _, g := range pr.Gates {
				if g.Measure == k.Criterion.Measure {
					row.Limit, row.AtMost = rig.Fig(g.Limit), g.Side != "at-least"
				}
			}
			p.Rows = append(p.Rows, row)
		}
		for _, g := range ts.Gates {
			if seen[g.Gate.Measure] {
				continue
			}
			seen[g.Gate.Measure] = true
			row := report.SpreadRow{Name: report.NameWords(g.Gate.Measure), Measure: g.Gate.Measure, Half: rig.Absent("no-repeats"), Limit: rig.Fig(g.Gate.Limit), AtMost: g.Gate.Side != "at-least", Mean: rig.Absent("not-a-criterion")}
			sum, n := 0.0, 0
			for _, r := range g.Runs {
				row.Runs = append(row.Runs, orNaN(r.Value.Figure))
				if r.Value.OK {
					sum, n = sum+r.Value.V, n+1
				}
			}
			if n > 0 {
				row.Mean = rig.Fig(sum / float64(n))
			}
			p.Rows = append(p.Rows, row)
		}
	}
	if len(p.Rows) == 0 {
		return nil
	}
	return b.figure(stem, title+": each run and the mean of every criterion", "Three runs of one unit say almost nothing about its spread, so the interval comes from the scatter of all units' runs.", p)
}

// others shows what the same procedure made of the other units.
func (b *book) others(v *procedureView, u *score.Unit, pr *config.Procedure) {
	v.OthersColumns = []string{"stalls", "trips", "inrush", "no-load current", "run time"}
	for _, o := range b.c.Units {
		for _, ts := range o.Tests {
			if ts.Test.Procedure != pr.ID || len(ts.Runs) == 0 {
				continue
			}
			row := othersRow{Shown: o.Unit.Shown(b.Day), Own: o == u, Outcome: report.OutcomeWords(ts), Verdict: verdictOf(ts)}
			for _, name := range []string{"stalls", "trips", "inrush_a", "idle_a", "run_time_s"} {
				row.Cells = append(row.Cells, b.among(ts.Runs, name))
			}
			v.Others = append(v.Others, row)
			break
		}
	}
}

// nothing stands where no run has a measure.
const nothing = "-"

// among tells a measure of several runs: "0, 1, 0" for counts, "28.1 A to 29.8 A" for others.
func (b *book) among(runs []*score.Run, name string) string {
	m, _ := rig.FindMeasure(name)
	var all []float64
	var counts []string
	for _, r := range runs {
		if v := r.Measure(name); v.OK {
			all = append(all, v.V)
			counts = append(counts, b.Style.Measure(name, v.V))
		}
	}
	if len(all) == 0 {
		return nothing
	}
	if m.Counted() {
		return strings.Join(counts, ", ")
	}
	lo, hi := b.Style.Measure(name, slices.Min(all)), b.Style.Measure(name, slices.Max(all))
	if lo == hi {
		return lo
	}
	return lo + " to " + hi
}
