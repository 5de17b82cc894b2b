package live

import (
	"encoding/json"
	"fmt"

	"quern/rig"
)

// Said puts what the daemon answered to an act into a line of words, for whoever asked at a keyboard.
func Said(a Asked, answer []byte) (string, error) {
	var to any
	var say func() string
	switch a.Act {
	case Weigh:
		var w WeighingNow
		to, say = &w, func() string { return onRecord(w.Session, w.Fact, w.words()+w.whence()) }
	case ToWeigh:
		var x ExpectNow
		to, say = &x, func() string { return "weighed next, by itself when it is at rest: " + x.words() }
	case Drain:
		var d DrainNow
		to, say = &d, func() string { return d.words() }
	case Check:
		var on OnRecord
		to, say = &on, func() string { return onRecord(on.Session, on.Fact, on.Say) }
	case Undo, Void, Correct:
		var on OnRecord
		to, say = &on, func() string { return onRecord(on.Session, on.Fact, on.Target+" is now "+on.New) }
	case Begin:
		return "a session is open", nil
	case End:
		return "the session is closed", nil
	case Mark:
		return "marked: " + a.Text, nil
	case Choose:
		return "chosen", nil
	case Tare, Zero:
		return pressed(a.Act) + ": its next readings show whether it did", nil
	default:
		return string(answer), nil
	}
	if err := json.Unmarshal(answer, to); err != nil {
		return "", fmt.Errorf("the daemon's answer cannot be read: %w", err)
	}
	return say(), nil
}

func onRecord(session string, fact int, what string) string {
	return fmt.Sprintf("%s: fact %d on record: %s", session, fact, what)
}

// whence says from what the net mass came.
func (w *WeighingNow) whence() string {
	if !w.TareG.OK || !w.GrossG.OK {
		return ""
	}
	return fmt.Sprintf("; %s g on the pan less %s g (%s)", grams(w.GrossG.V), grams(w.TareG.V), w.TareFrom)
}

// words says how long leftovers drain yet.
func (d *DrainNow) words() string {
	text := fmt.Sprintf("drained %s of %s", clock(d.DrainedS), clock(rig.Fig(d.TargetS)))
	if d.WaitS > 0 {
		text += ": weigh in " + clock(rig.Fig(d.WaitS)) + " at the earliest"
	}
	return text
}
