package review

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"quern/rig"
	"quern/rig/session"
)

// Addition is what is to be put on record: exactly one of its parts. A weighing, a check and a remark that
// do not say when are of now.
type Addition struct {
	Who        string          `json:"who,omitempty"` // unless it is known who asks
	Weighing   *WeighingFact   `json:"weighing,omitempty"`
	Check      *CheckFact      `json:"check,omitempty"`
	Correction *CorrectionFact `json:"correction,omitempty"`
	Remark     *RemarkFact     `json:"remark,omitempty"`
	Undo       *Undo           `json:"undo,omitempty"`
}

// Undo takes back a correction or a weighing, by a further correction.
type Undo struct {
	Fact int    `json:"fact"`
	Why  string `json:"why,omitempty"`
}

// Added says what was put on record.
type Added struct {
	Fact  int    `json:"fact"`
	Who   string `json:"who"`
	Chain string `json:"chain"` // stands for everything that is now on record
}

// Append puts a fact on record in a sealed session. Nothing that was recorded changes.
func (h *Shelf) Append(ctx context.Context, name string, a Addition) (Added, error) {
	var out Added
	err := h.with(ctx, name, func(s *Session) error {
		h.amend.Lock()
		defer h.amend.Unlock()
		b, err := session.OpenFacts(s.Dir())
		if err != nil {
			return err
		}
		now := h.o.Now()
		if k := a.Correction; k != nil && h.o.Lab != nil && h.o.Lab() != nil {
			err = h.o.Lab().Names(k.Target, k.New)
		}
		if err == nil {
			a, err = a.checked(b.Facts, b.Manifest)
		}
		if err != nil {
			return fault(http.StatusBadRequest, "%s", err)
		}
		if k := a.Correction; k != nil && k.Old == "" {
			k.Old = s.measured(ctx, &h.o, name, k)
		}
		am, err := session.Amend(s.Dir(), h.o.Tool, now)
		if err != nil {
			return fault(http.StatusConflict, "nothing can be added to session %s now: %s", name, err)
		}
		atS := max(0, now.Sub(b.Manifest.Started).Seconds())
		fact, err := a.append(am, atS)
		if err != nil {
			return errors.Join(fault(http.StatusBadRequest, "%s", err), am.Abandon())
		}
		if err := am.Close(); err != nil {
			return err
		}
		out = Added{fact, a.Who, am.Chain()}
		return nil
	})
	if err == nil && h.o.Changed != nil {
		h.o.Changed(name)
	}
	return out, err
}

// checked returns the addition with an undo made a correction, if all of it makes sense.
func (a Addition) checked(facts rig.Facts, m session.Manifest) (Addition, error) {
	parts := 0
	for _, there := range []bool{a.Weighing != nil, a.Check != nil, a.Correction != nil, a.Remark != nil, a.Undo != nil} {
		if there {
			parts++
		}
	}
	if parts != 1 {
		return a, fmt.Errorf("found %d facts, expected exactly one of weighing, check, correction, remark and undo", parts)
	}
	if a.Who = tidy(a.Who); a.Who == "" || len(a.Who) > rig.LongestWord {
		return a, fmt.Errorf("found %q for who puts it on record, expected a name of at most %d bytes: pair with a name, or say who", clip40(a.Who), rig.LongestWord)
	}
	if a.Undo != nil {
		k, err := a.Undo.correction(facts, m)
		if err != nil {
			return a, err
		}
		a.Correction, a.Undo = k, nil
	}
	switch {
	case a.Weighing != nil:
		return a, a.Weighing.check()
	case a.Check != nil:
		return a, a.Check.check()
	case a.Correction != nil:
		return a, a.Correction.check(facts)
	}
	return a, a.Remark.check()
}

func (a Addition) append(am *session.Amendments, nowS float64) (int, error) {
	at := func(f rig.Figure) float64 {
		if f.OK {
			return f.V
		}
		return nowS
	}
	switch {
	case a.Weighing != nil:
		w := a.Weighing
		return am.AppendWeighing(rig.Weighing{AtS: at(w.AtS), Run: w.Run, Role: w.Role, Item: w.Item, Vessel: w.Vessel, GrossG: w.GrossG, TareG: w.TareG,
			NetG: w.NetG, Shown: "g", DrainedS: w.DrainedS, Typed: true, Who: a.Who, Note: w.Note})
	case a.Check != nil:
		c := a.Check
		return am.AppendCheck(rig.Check{AtS: at(c.AtS), Kind: c.Kind, Nominal: c.Nominal, Found: c.Found, Who: a.Who, Note: c.Note})
	case a.Correction != nil:
		k := a.Correction
		return am.AppendCorrection(rig.Correction{Run: k.Run, Target: k.Target, Old: k.Old, New: k.New, U: k.U, Who: a.Who, Why: k.Why})
	}
	return am.AppendRemark(rig.Remark{AtS: at(a.Remark.AtS), Run: a.Remark.Run, Text: a.Remark.Text, Who: a.Who})
}

// correction makes the correction that takes a fact back: what stood there before it stands there again.
func (u *Undo) correction(facts rig.Facts, m session.Manifest) (*CorrectionFact, error) {
	out := &CorrectionFact{Why: u.Why}
	if tidy(out.Why) == "" {
		out.Why = fmt.Sprintf("fact %d taken back", u.Fact)
	}
	for _, w := range facts.Weighings {
		if w.Fact == u.Fact {
			out.Target, out.New = fmt.Sprintf("weighing.%d", w.Fact), "withdrawn"
			return out, nil
		}
	}
	for _, k := range facts.Checks {
		if k.Fact == u.Fact {
			out.Target, out.New = fmt.Sprintf("check.%d", k.Fact), "withdrawn"
			return out, nil
		}
	}
	i := slices.IndexFunc(facts.Corrections, func(k rig.Correction) bool { return k.Fact == u.Fact })
	if i < 0 {
		return nil, fmt.Errorf("found fact %d to take back, expected the number of a correction, a weighing or a check of this session: a remark stays, add another beside it", u.Fact)
	}
	k := facts.Corrections[i]
	same := func(x rig.Correction) bool { return x.Target == k.Target && x.Run == k.Run }
	if j := slices.IndexFunc(facts.Corrections[i+1:], same); j >= 0 {
		return nil, fmt.Errorf("fact %d is no longer in force: fact %d came after it, take that back", u.Fact, facts.Corrections[i+1+j].Fact)
	}
	out.Run, out.Target, out.Old = k.Run, k.Target, k.New
	for _, x := range slices.Backward(facts.Corrections[:i]) {
		if same(x) {
			out.New, out.U = x.New, x.U
			return out, nil
		}
	}
	out.New = before(k, facts, m)
	if out.New == "" {
		return nil, fmt.Errorf("what %s was before fact %d is not known: type it in with a correction", k.Target, u.Fact)
	}
	return out, nil
}

// before returns what stood where a first correction stands; "": that is not known.
func before(k rig.Correction, facts rig.Facts, m session.Manifest) string {
	what, _, _ := strings.Cut(k.Target, ".")
	switch what {
	case "unit":
		return m.Unit
	case "procedure":
		return m.Procedure
	case "kind":
		return "scored"
	case "void", "failed":
		return "no"
	case "check":
		return "counts"
	case "weighing":
		n, _ := weighingOf(k.Target)
		for _, w := range facts.Weighings {
			if w.Fact == n && w.NetG.OK {
				return number(w.NetG.V)
			}
		}
	case "measure":
		if v, err := strconv.ParseFloat(k.Old, 64); k.Old == "absent" || err == nil && v-v == 0 {
			return k.Old
		}
	}
	return ""
}

// measured returns the measure that a correction is of, as it stands; "": it is of none, or that is not
// known at present.
func (s *Session) measured(ctx context.Context, o *Options, name string, c *CorrectionFact) string {
	measure, ok := strings.CutPrefix(c.Target, "measure.")
	if !ok {
		return ""
	}
	k, err := s.know(ctx, o, name)
	if err != nil || !k.Over() {
		return ""
	}
	runs, _ := k.judged()
	for _, r := range runs {
		if c.Run == r.N || c.Run == 0 && len(runs) == 1 {
			if v := r.Measure(measure); v.OK {
				return number(v.V)
			}
			return "absent"
		}
	}
	return ""
}
