package live

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"quern/detect/mass"
	"quern/rig"
	"quern/rig/report"
)

// OnRecord says where something that a person said was put.
type OnRecord struct {
	Session string `json:"session"`
	Fact    int    `json:"fact"`
	Target  string `json:"target,omitempty"` // of a correction
	New     string `json:"new,omitempty"`
	Say     string `json:"say,omitempty"` // of a check: what it showed, and what follows from that
}

// checked puts a comparison of an instrument on record; without a session it opens one, for checks are
// made before the first run of a day.
func (e *Engine) checked(k rig.Check) (OnRecord, error) {
	if !slices.Contains(rig.CheckKinds, k.Kind) {
		return OnRecord{}, fmt.Errorf("found kind %q, expected one of %s", k.Kind, words(rig.CheckKinds))
	}
	if !k.Found.OK {
		return OnRecord{}, errors.New("found no value, expected what the instrument showed (found)")
	}
	if e.rec == nil {
		e.open(e.sup.NowS(), "a check of the "+string(k.Kind))
		if e.rec == nil {
			return OnRecord{}, errors.New("no session could be opened: see the daemon's fault in quern status")
		}
	}
	k.AtS = max(0, e.sup.NowS()-e.rec.fold.baseS)
	fact, err := e.rec.w.AppendCheck(k)
	if err == nil {
		err = e.kept()
	}
	if err != nil {
		return OnRecord{}, err
	}
	e.checks = append(e.checks, CheckNow{Session: e.rec.name, Fact: fact, Kind: k.Kind, Day: e.day()})
	return OnRecord{Session: e.rec.name, Fact: fact, Say: report.CheckWords(k, &e.setup.Bench)}, nil
}

// correct puts a correction on record in the open session.
func (e *Engine) correct(k rig.Correction) (OnRecord, error) {
	if e.rec == nil {
		return OnRecord{}, errors.New("no session is open: correct a closed one with quern correct SESSION")
	}
	if err := k.Check(); err != nil {
		return OnRecord{}, err
	}
	switch {
	case k.Why == "":
		return OnRecord{}, errors.New("found no reason, expected one (why): a correction without it is none")
	case k.Who == "":
		return OnRecord{}, errors.New("found nobody's name, expected who corrects it (who)")
	}
	i, err := e.corrected(k.Target)
	if err != nil {
		return OnRecord{}, err
	}
	check, err := e.checkOf(k.Target)
	if err != nil {
		return OnRecord{}, err
	}
	if i >= 0 && k.Old == "" {
		k.Old = shownNet(e.pan.booked[i].counts())
	}
	k.At = e.opts.Wall()
	fact, err := e.rec.w.AppendCorrection(k)
	if err == nil {
		err = e.kept()
	}
	if err != nil {
		return OnRecord{}, err
	}
	if i >= 0 {
		e.amend(i, k.New)
	}
	if check >= 0 {
		e.checks = slices.Clone(e.checks) // snapshots hold the old ones
		e.checks[check].Withdrawn = k.New == "withdrawn"
	}
	return OnRecord{Session: e.rec.name, Fact: fact, Target: k.Target, New: k.New}, nil
}

// corrected finds the weighing that a correction is of; -1: it is of something else.
func (e *Engine) corrected(target string) (int, error) {
	number, ok := strings.CutPrefix(target, "weighing.")
	if !ok {
		return -1, nil
	}
	n, _ := strconv.Atoi(number) // it was checked
	i := slices.IndexFunc(e.pan.booked, func(w WeighingNow) bool { return w.Fact == n })
	if i < 0 {
		var have []string
		for _, w := range e.pan.booked {
			have = append(have, strconv.Itoa(w.Fact))
		}
		return 0, fmt.Errorf("found no weighing %d in this session, expected one of %s", n, strings.Join(have, ", "))
	}
	return i, nil
}

// checkOf finds the check of the open session that a correction is of; -1: it is of something else.
func (e *Engine) checkOf(target string) (int, error) {
	number, ok := strings.CutPrefix(target, "check.")
	if !ok {
		return -1, nil
	}
	n, _ := strconv.Atoi(number) // it was checked
	i := slices.IndexFunc(e.checks, func(k CheckNow) bool { return k.Session == e.rec.name && k.Fact == n })
	if i < 0 {
		return 0, fmt.Errorf("found no check %d in this session: correct one of a closed session with quern correct SESSION", n)
	}
	return i, nil
}

func shownNet(f rig.Figure) string {
	if !f.OK {
		return f.Why
	}
	return strconv.FormatFloat(f.V, 'f', -1, 64)
}

// amend shows a weighing as it was corrected.
func (e *Engine) amend(i int, to string) {
	p := &e.pan
	p.booked = slices.Clone(p.booked) // snapshots hold the old ones
	w := &p.booked[i]
	w.Withdrawn, w.CorrectedG = to == "withdrawn", rig.Figure{}
	if v, err := strconv.ParseFloat(to, 64); err == nil {
		w.CorrectedG = rig.Fig(v)
	}
	p.takenG = rig.Figure{}
}

// undo withdraws the last weighing of the session that still counts, and expects it again if it had been
// expected.
func (e *Engine) undo(who, why string) (OnRecord, error) {
	if e.rec == nil {
		return OnRecord{}, errors.New("no session is open: withdraw a weighing of a closed one with quern correct SESSION")
	}
	for _, w := range slices.Backward(e.pan.booked) {
		if w.Withdrawn {
			continue
		}
		if why == "" {
			why = "taken back at the bench"
		}
		done, err := e.correct(rig.Correction{Target: "weighing." + strconv.Itoa(w.Fact), New: "withdrawn", Who: who, Why: why})
		if err == nil && w.expected {
			e.pan.await(&w.as)
		}
		return done, err
	}
	return OnRecord{}, errors.New("no weighing of this session is left to take back; anything else is corrected (correct), and stays")
}

// startDrain starts the drain timer now.
func (e *Engine) startDrain() DrainNow {
	if e.pan.drain == nil {
		e.pan.drain = e.newDrain(e.sup.NowS())
	}
	e.pan.drain.Start(e.sup.NowS())
	return *e.drainNow(e.sup.NowS())
}

var errNoScale = errors.New("this bench has no scale: describe one in bench.toml, [scale.device]")

// expecting sets what is weighed next.
func (e *Engine) expecting(a Ask) (ExpectNow, error) {
	if !e.hasScale {
		return ExpectNow{}, errNoScale
	}
	if err := e.check(a.Expect, a.Force); err != nil {
		return ExpectNow{}, err
	}
	e.pan.await(&a.Expect)
	return *e.expectNow(e.pan.taker.Now().MassG), nil
}

// DrainNow is how long leftovers have drained.
type DrainNow struct {
	DrainedS rig.Figure  `json:"drained_s"` // absent: it has not begun
	TargetS  float64     `json:"target_s"`
	WaitS    float64     `json:"wait_s"` // until they can be read in time
	Timing   mass.Timing `json:"timing"`
}

func (e *Engine) drainNow(nowS float64) *DrainNow {
	if e.pan.drain == nil {
		return nil
	}
	var of rig.Role // what comes next
	if x := e.pan.expect; x != nil {
		of = x.Role
	}
	d := e.pan.drain.At(nowS, of)
	return &DrainNow{DrainedS: d.DrainedS, TargetS: e.setup.Procedure.After.DrainS, WaitS: round3(d.WaitS), Timing: d.Timing}
}
