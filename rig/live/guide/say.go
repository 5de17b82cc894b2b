package guide

import (
	"fmt"
	"slices"
	"strings"

	"quern/rig"
)

// say puts the step to do now into words, with the acts that fit.
func (b *builder) say(g *Guide, s *Step) {
	in := b.in
	switch {
	case in.State == rig.Stalled:
		sayStalled(g)
		return
	case b.at == paused:
		b.sayPaused(g)
		return
	case s.Role == rig.Charge:
		b.sayCharge(g, s)
		return
	case s.Role != "":
		b.sayLeftover(g, s)
		return
	case strings.HasPrefix(s.ID, "check-"):
		g.Say, g.How = s.Title, s.Detail
		kind := rig.CheckKind(strings.TrimPrefix(s.ID, "check-"))
		g.Offer = Offer{Act: Check, Label: "Put on record", Step: s.ID, Kind: kind, Unit: checkUnits[kind]}
		g.Also = []Offer{skip(s, "Not today")}
		return
	}
	b.sayWork(g, s)
}

func skip(s *Step, label string) Offer { return Offer{Act: SaySkips, Label: label, Step: s.ID} }

// over ends a run that nothing else says is over.
var over = Offer{Act: SayDone, Label: "The run is over", Step: "run"}

// sayStalled says first what is safe. The main button, and a foot switch with it, notes what was done: a press too
// many does no harm, and the run goes on once the jam is free.
func sayStalled(g *Guide) {
	g.Say = "Stalled: pull the plug"
	g.How = "Off at the switch is not isolated. Wait until nothing turns; then tongs or the wrench socket, never fingers."
	g.Offer = Offer{Act: Mark, Label: "Jam: plug is out", Text: "jam: the plug is out"}
	g.Also = []Offer{
		{Act: Mark, Label: "A piece is wedged", Text: "jam: a piece is wedged"},
		over,
	}
}

func (b *builder) sayPaused(g *Guide) {
	in, p := b.in, b.p
	g.Offer = over
	if in.State == rig.Tripped || in.Trips > 0 && in.StillS.OK && in.StillS.V < p.ResetWaitS {
		g.Say = "Tripped (presumed): pull the plug"
		g.How = fmt.Sprintf("Keep the plug in your own hand. Let it cool, then reset it and go on: reset %d of %d.", in.Trips, p.Resets)
		g.Count = count("cooling", in.StillS, p.ResetWaitS)
		g.Offer = Offer{Act: Mark, Label: "Protector opened", Text: "why it stopped: the protector opened"}
		for _, x := range [][2]string{{"I switched off", "I switched off"}, {"Fuse or RCD", "fuse or RCD"}, {"Unplugged", "it was unplugged"}} {
			g.Also = append(g.Also, Offer{Act: Mark, Label: x[0], Text: "why it stopped: " + x[1]})
		}
		g.Also = append(g.Also, over)
		return
	}
	g.Say, g.How = "Switch on again, or end the run", "The motor stands, and the chamber was not clear."
	g.Count = count("pause", in.StillS, p.LongestPauseS)
}

func count(what string, at rig.Figure, of float64) *Count {
	if !at.OK || !(of > 0) {
		return nil
	}
	return &Count{What: what, AtS: at.V, OfS: of}
}

func (b *builder) sayCharge(g *Guide, s *Step) {
	in := b.in
	what := "the charge"
	if s.Item != "" {
		what = plain(s.Item)
	}
	g.Say = fmt.Sprintf("Weigh in %s of %s", grams(s.TargetG.V), what)
	if s.Item == "" {
		g.Say = "Weigh in the charge, " + grams(s.TargetG.V)
	}
	g.Say = strings.ReplaceAll(g.Say, " g", "\u00a0g") // a number and its unit stay together
	g.How = sentence(s.Detail)
	if in.Expects && in.Role == rig.Charge && in.Item == s.Item {
		g.How = strings.TrimSpace(g.How + " It is taken by itself when it rests within the tolerance.")
	}
	b.offerWeighing(g, s)
}

// sentence makes a sentence of a few words.
func sentence(s string) string {
	if s == "" || strings.HasSuffix(s, ".") {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:] + "."
}

func (b *builder) sayLeftover(g *Guide, s *Step) {
	g.Say, g.How = s.Title, sentence(s.Detail)
	p := &b.p.After
	waited := slices.ContainsFunc(b.in.Weighings, func(w Weighed) bool { // for the scale, which was busy
		return w.Timing != "" && w.Role != s.Role && w.AgeS.OK && w.AgeS.V <= p.DrainToleranceS
	})
	if b.in.DrainedS.OK && b.in.DrainedS.V > p.DrainS+p.DrainToleranceS && !waited {
		g.How = strings.TrimSpace(g.How + " It has drained longer than it should: it is marked late.")
	}
	b.offerWeighing(g, s)
}

func (b *builder) offerWeighing(g *Guide, s *Step) {
	in := b.in
	if !in.Scale {
		g.How = strings.TrimSpace(g.How + " No scale is connected: type the mass in afterwards.")
		g.Offer = Offer{Act: SaySkips, Label: "Go on", Step: s.ID}
		return
	}
	g.Offer = Offer{Act: Weigh, Label: "Take weight", Step: s.ID, Role: s.Role, Item: s.Item}
	if !(in.Expects && in.Role == s.Role && in.Item == s.Item) {
		g.Also = append(g.Also, Offer{Act: Await, Label: "Take by itself", Step: s.ID, Role: s.Role, Item: s.Item})
	}
	g.Also = append(g.Also, skip(s, "Leave out"))
}

// sayWork says what is neither weighed nor checked.
func (b *builder) sayWork(g *Guide, s *Step) {
	in, p := b.in, b.p
	g.Offer = Offer{Act: SayDone, Label: "Done", Step: s.ID}
	switch s.ID {
	case "quiet":
		g.Say, g.How = "Everything off, and quiet", s.Detail
		g.Offer = skip(s, "Go on without")
		g.Count = count("quiet", in.QuietS, p.Checks.BackgroundS)
	case "water":
		g.Say = "Water on, " + s.Detail
		g.Offer.Label = "Water is on"
	case "start":
		g.Say, g.How = "Switch on", "It is seen by itself. Let it run empty for a few seconds."
		g.Offer = Offer{}
		if b.at == running {
			g.Say, g.How = "Let it run empty", "Its no-load current and level are learned."
			g.Count = count("empty", in.OnS, emptyS)
		}
	case "feed":
		g.Say, g.How = "Feed: "+s.Detail, "Guard in place, eyes covered, face away from the opening."
		g.Offer.Label = "All is in"
	case "held-back":
		g.Say, g.How = "Feed what was held back: "+s.Detail, "When the rest has gone through."
		g.Offer.Label = "All is in"
	case "run":
		g.Say, g.How = "Let it run until it is clear", "It is seen by itself; say so if you hear it first."
		g.Offer.Label = "It is clear"
	case "flush":
		g.Say, g.How = "Clear: let the water run", "Then switch off."
		g.Offer = Offer{}
		g.Count = count("flush", in.ClearS, p.Water.FlushS)
	case "stop":
		b.sayStop(g)
	case "drain":
		g.Say, g.How = "Let the leftovers drain", s.Detail
		g.Offer = skip(s, "Weigh now")
		g.Also = []Offer{{Act: Drain, Label: "Drains from now", Step: s.ID}}
		g.Count = count("drain", in.DrainedS, p.After.DrainS)
	case "done":
		g.Say, g.How = "Done: end the session", "Clean the unit; it rests "+clock(p.CooldownS)+" before its next run."
		g.Offer = Offer{Act: End, Label: "End session"}
	}
}

func (b *builder) sayStop(g *Guide) {
	in := b.in
	if b.at == running {
		g.Say, g.How = "Switch off, and pull the plug", "It is seen by itself."
		if in.limit(b.p) && !in.ClearS.OK {
			g.Say, g.How = "Time is up: switch off", "Pull the plug."
		}
		g.Offer = Offer{}
		return
	}
	g.Say, g.How = "Pull the plug", "Before anybody reaches in."
	g.Offer.Label = "It is out"
}

// Limits of what hurts.
const (
	loudDB   = 85.0   // dB(A): upper exposure action value of Directive 2003/10/EC, and NIOSH's recommended limit
	rawS     = 7200.0 // s out of the cold that perishables may be (USDA FSIS)
	rawSoonS = 3600.0 // s: from here on it is said; above 32 degC it is already the limit (ditto)
)

// dangers lists what can hurt now, the worst first.
func (b *builder) dangers(now string) []Danger {
	in := b.in
	var out []Danger
	switch {
	case in.State == rig.Stalled:
		out = append(out, Danger{"jam", "It starts once freed: keep hold of the plug."})
	case in.State == rig.Tripped, b.at == paused && in.Trips > 0:
		out = append(out, Danger{"restart", "It may restart by itself: plug out first."})
	case b.at == paused, b.at == after && in.Said["stop"] != Done && now != "done":
		out = append(out, Danger{"plug", "Plug out before you reach into the chamber."})
	}
	if in.on() && in.LevelDB.OK && in.LevelDB.V > loudDB {
		out = append(out, Danger{"loud", "Above 85 dB(A): wear hearing protection."})
	}
	if text := b.rawMeat(); text != "" {
		out = append(out, Danger{"raw", text})
	}
	return out
}

// raw words tell that an ingredient spoils quickly. Those that are cooked do not count.
var (
	rawWords    = []string{"chicken", "poultry", "turkey", "meat", "beef", "pork", "lamb", "fish", "shrimp", "steak", "rib", "wing", "drumstick", "sausage"}
	cookedWords = []string{"cooked", "boiled", "roast", "fried", "baked"}
)

func spoils(name, preparation string) bool {
	prep := strings.ToLower(preparation)
	for _, w := range cookedWords {
		if strings.Contains(prep, w) && !strings.Contains(prep, "un"+w) {
			return false
		}
	}
	for _, part := range strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return r == '-' || r == ' ' }) {
		for _, w := range rawWords {
			if part == w || part == w+"s" {
				return true
			}
		}
	}
	return false
}

// rawMeat says how long the oldest raw ingredient has been out, before it is fed.
func (b *builder) rawMeat() string {
	if b.at == after {
		return ""
	}
	oldest := 0.0
	for _, it := range b.p.Items {
		if w, is := b.in.weighed(rig.Charge, it.Name); is && spoils(it.Name, it.Preparation) && w.AgeS.OK {
			oldest = max(oldest, w.AgeS.V)
		}
	}
	switch {
	case oldest >= rawS:
		return "Raw meat or fish has been out of the cold for more than two hours: throw it away and weigh in a new charge."
	case oldest >= rawSoonS:
		return fmt.Sprintf("Raw meat or fish has been out for %.0f min since it was weighed in: two hours out of the cold at most.", oldest/60)
	}
	return ""
}
