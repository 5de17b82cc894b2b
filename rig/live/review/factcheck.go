package review

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"quern/rig"
)

// tidy makes one line of a text.
func tidy(s string) string { return strings.Join(strings.Fields(s), " ") }

// lines makes one line of each text, and says which is too long.
func lines(most int, all ...*string) error {
	for _, s := range all {
		if *s = tidy(*s); len(*s) > most {
			return fmt.Errorf("found a text of %d bytes, %q, expected at most %d", len(*s), clip40(*s), most)
		}
	}
	return nil
}

func within(name string, f rig.Figure, least, most float64) error {
	if f.OK && !(f.V >= least && f.V <= most) {
		return fmt.Errorf("found %s %g, expected %g to %g", name, f.V, least, most)
	}
	return nil
}

func placed(run int, atS rig.Figure) error {
	if run < 0 || run > rig.MostRun {
		return fmt.Errorf("found run %d, expected one from 1, or 0 for the only one", run)
	}
	return within("at_s", atS, 0, rig.MostAtS)
}

func (w *WeighingFact) check() error {
	switch {
	case w.Fact != 0 || w.Who != "" || w.Shown != "" || w.Stable != nil || w.SpreadG.OK || w.SlopeGPerMin.OK || w.Auto || w.Shaken:
		return errors.New("a weighing that is typed has run, role, item, vessel, gross_g, tare_g, net_g, drained_s, at_s and note: leave out the rest")
	case !w.GrossG.OK && !w.NetG.OK:
		return errors.New("found no mass, expected gross_g or net_g")
	case !slices.Contains(rig.Roles, w.Role):
		return fmt.Errorf("found role %q, expected one of %q", clip40(string(w.Role)), rig.Roles)
	}
	return errors.Join(placed(w.Run, w.AtS), lines(rig.LongestWord, &w.Item, &w.Vessel), lines(rig.LongestText, &w.Note), within("gross_g", w.GrossG, -rig.MostMassG, rig.MostMassG),
		within("tare_g", w.TareG, -rig.MostMassG, rig.MostMassG), within("net_g", w.NetG, -rig.MostMassG, rig.MostMassG), within("drained_s", w.DrainedS, 0, rig.MostAtS))
}

func (c *CheckFact) check() error {
	switch {
	case c.Fact != 0 || c.Who != "":
		return errors.New("a check has kind, nominal, found, at_s and note: leave out the rest")
	case !slices.Contains(rig.CheckKinds, c.Kind):
		return fmt.Errorf("found kind %q, expected one of %q", clip40(string(c.Kind)), rig.CheckKinds)
	case !c.Found.OK:
		return errors.New("found no value, expected what the instrument showed (found)")
	}
	return errors.Join(placed(0, c.AtS), lines(rig.LongestText, &c.Note), within("nominal", c.Nominal, -rig.MostNumber, rig.MostNumber), within("found", c.Found, -rig.MostNumber, rig.MostNumber))
}

func (r *RemarkFact) check() error {
	if r.Fact != 0 || r.Who != "" {
		return errors.New("a remark has text, run and at_s: leave out the rest")
	}
	if err := errors.Join(placed(r.Run, r.AtS), lines(rig.LongestText, &r.Text)); err != nil {
		return err
	}
	if r.Text == "" {
		return errors.New("found no text, expected what is to be remarked")
	}
	return nil
}

func (k *CorrectionFact) check(facts rig.Facts) error {
	if k.Fact != 0 || k.At != "" || k.Who != "" {
		return errors.New("a correction has run, target, old, new, u and why: leave out the rest")
	}
	if err := errors.Join(placed(k.Run, rig.Figure{}), lines(rig.LongestWord, &k.Target, &k.Old), lines(rig.LongestText, &k.New, &k.Why), within("u", k.U, 0, rig.MostNumber)); err != nil {
		return err
	}
	if err := (rig.Correction{Target: k.Target, New: k.New}).Check(); err != nil {
		return err
	}
	if k.Why == "" {
		return errors.New("found no reason, expected one (why): a correction without it is none")
	}
	if name, ok := strings.CutPrefix(k.Target, "check."); ok && !slices.ContainsFunc(facts.Checks, func(c rig.Check) bool { return strconv.Itoa(c.Fact) == name }) {
		return fmt.Errorf("found no check %s in this session", name)
	}
	if n, ok := weighingOf(k.Target); ok {
		i := slices.IndexFunc(facts.Weighings, func(w rig.Weighing) bool { return w.Fact == n })
		if i < 0 {
			var have []string
			for _, w := range facts.Weighings {
				have = append(have, strconv.Itoa(w.Fact))
			}
			return fmt.Errorf("found no weighing %d in this session, expected one of %s", n, strings.Join(have, ", "))
		}
		if net := facts.Weighings[i].NetG; k.Old == "" && net.OK {
			k.Old = number(net.V)
		}
	}
	return nil
}

func weighingOf(target string) (int, bool) {
	name, ok := strings.CutPrefix(target, "weighing.")
	n, err := strconv.Atoi(name)
	return n, ok && err == nil
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
