package live

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"quern/rig"
)

// Print writes a snapshot as one screen of text. The error is w's.
func (s Snapshot) Print(w io.Writer) error {
	t := tabwriter.NewWriter(w, 0, 1, 2, ' ', 0)
	p := func(format string, args ...any) { fmt.Fprintf(t, format+"\n", args...) }
	fmt.Fprintln(w, s.Say)
	if s.Caution != "" {
		fmt.Fprintln(w, "CAUTION", s.Caution)
	}
	fmt.Fprintln(w)
	p("unit\t%s", s.Unit)
	p("procedure\t%s, limit %s", s.Procedure, clock(rig.Fig(s.LimitS)))
	if s.Session == "" {
		p("session\tnone open")
	} else {
		p("session\t%s, at %s", s.Session, clock(s.AtS))
	}
	p("motor\t%s%s", s.State, since(s))
	if s.Session != "" && s.Run > 0 {
		p("run %d\tmotor on %s", s.Run, clock(s.MotorOnS))
	}
	p("sound\t%s", shown(s.LevelDB, "%.1f dB(A)"))
	p("current\t%s", shown(s.CurrentA, "%.2f A"))
	if s.Scale == nil {
		p("mass\t%s", shown(s.MassG, "%g g"))
	} else {
		s.Scale.lines(p)
	}
	for _, x := range s.Extra {
		p("%s\t%s", x.Channel, shown(x.Value, "%g "+string(x.Unit)))
	}
	if free := float64(s.DiskFree); free < 2e9 {
		p("disk\t%.0f MB left", free/1e6)
	} else {
		p("disk\t%.1f GB left", free/1e9)
	}
	if !s.ClockGood {
		p("clock\tnot set by a time service: dates may be wrong, durations are not")
	}
	if s.CutOff != nil {
		p("before\t%s", s.Before())
	}
	if s.Fault != "" {
		p("fault\t%s", s.Fault)
	}
	p("")
	p("source\tstate\tage\tsamples\trejects\tgaps\tdrift\t")
	for _, x := range s.Sources {
		p("%s\t%s\t%s\t%d\t%d\t%d\t%s\t%s", x.Channel, x.State, shown(x.AgeS, "%.1f s"), x.Samples, x.Rejects, x.Gaps, shown(x.DriftPPM, "%+.0f ppm"), x.remarks())
	}
	if err := t.Flush(); err != nil {
		return err
	}
	for i, ev := range s.Events[max(0, len(s.Events)-8):] {
		if i == 0 {
			fmt.Fprintln(w)
		}
		if _, err := fmt.Fprintf(w, "%9s  %-14s %s\n", clock(ev.AtS), ev.Kind, ev.Evidence); err != nil {
			return err
		}
	}
	return nil
}

// remarks says what is odd about a source: what it does, what comes, and what of it could not be taken.
func (x SourceNow) remarks() string {
	var all []string
	for _, s := range []string{x.Reason, x.Note} {
		if s != "" {
			all = append(all, s)
		}
	}
	if x.Reject != "" {
		all = append(all, "last reject: "+x.Reject)
	}
	return strings.Join(all, "; ")
}

func shown(f rig.Figure, format string) string {
	if !f.OK {
		return "-"
	}
	return fmt.Sprintf(format, f.V)
}

func since(s Snapshot) string {
	if !s.SinceS.OK {
		return ""
	}
	return " for " + clock(s.SinceS)
}

// clock writes seconds as m:ss.s.
func clock(f rig.Figure) string {
	if !f.OK {
		return "-"
	}
	tenths := int(f.V*10 + 0.5)
	return fmt.Sprintf("%d:%02d.%d", tenths/600, tenths/10%60, tenths%10)
}
