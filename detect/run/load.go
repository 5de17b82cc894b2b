package run

import (
	"math"

	"quern/config"
	"quern/rig"
)

// blockS is the length over which current and sound are looked at together, s.
const blockS = 0.1

// rowsBack is how many readings back from a stop a reading may begin that holds some of it: it is half a reading away.
const rowsBack = 1.6

// repeatsS is how long a display may show a reading once more, s.
const repeatsS = 0.5

// youngS after a start a current above the band is the run-up's, s.
const youngS = 1.0

// block is a tenth of a second of a running motor.
type block struct {
	fromS, toS float64
	meanA      float32 // mean of the cycle RMS
	mostA      float32 // and the largest, without d.c.
	sdA        float32 // deviation of the cycle RMS from a straight line within the block
	sdRad      float32 // deviation of the current's phase from an even run
	laDB       float32 // A-weighted equivalent level; NaN: not heard
	topDB      float32 // A-weighted level of its loudest 20 ms
	trebleDB   float32 // level above 4 kHz of its loudest 20 ms there; NaN: not heard
	guestA     float32 // what other appliances drew of it
	young      bool    // the run-up may still show
	held       bool    // stalled or overloaded: loaded without any doubt
	stepped    bool    // the current stepped within a cycle, as the supply does

	// A reading may be a mean over many blocks: so many of them before this one, and so many after it.
	part, rest int16
}

// loads gathers the blocks of a run and tells from them what was in the chamber. Memory grows with
// the length of a run by 64 bytes a block.
type loads struct {
	set       config.DetectLoad
	induction bool
	pulsed    bool    // behind a rectifier
	wave      bool    // the current is a waveform
	restA     float64 // what flowed while the motor was off, RMS
	ear       *ear
	blocks    []block
	weighed   []evidence // of the blocks, when the run is over
	open      block
	rowS      float64 // between readings, if they are longer than a block
	digitA    float64 // least step from one reading to another: they may be given in few digits; 0: none seen
	n         int
	digitN    int // times that was seen
	lastA     float64
	fellS     float64 // the last block in which less flowed than in the one before
	sum       float64
	phase     line // of the fundamental
	course    line // of the cycle RMS
	jumps     jumps
	jump      jump // the last that none has taken back
	stretches []Interval
	endedS    float64    // the clamp's recording ended then and the sound went on; 0: it did not
	foreign   []Interval // in which another appliance was switched
	warnings  []rig.Warning
}

func newLoads(s *config.Setup, e *ear) loads {
	return loads{set: s.Bench.Detect.Load, induction: s.Unit.Motor == "induction", pulsed: s.Unit.Motor == "permanent-magnet", ear: e}
}

func (l *loads) begin() {
	l.blocks, l.stretches = l.blocks[:0], l.stretches[:0]
	l.n = 0
}

func (l *loads) start(atS float64) {
	l.stretches = append(l.stretches, Interval{atS, atS})
	l.n = 0
}

func (l *loads) stop(atS float64) {
	l.stretches[len(l.stretches)-1].ToS = atS
	l.n = 0 // the last, torn block holds the switching
	for n := len(l.blocks); n > 0 && l.rowS > 0 && l.blocks[n-1].fromS > atS-rowsBack*l.rowS; n = len(l.blocks) {
		l.blocks = l.blocks[:n-1] // and so may the last reading
	}
}

// push takes a record of the motor past its start.
func (l *loads) push(c Current, s rig.State, guestA float64) {
	if s == rig.Starting {
		l.n, l.jumps.n, l.jump = 0, 0, jump{}
		from := l.stretches[len(l.stretches)-1].FromS // a rotor that was thought to turn has not yet
		for n := len(l.blocks); n > 0 && l.blocks[n-1].fromS >= from; n = len(l.blocks) {
			l.blocks = l.blocks[:n-1]
		}
		return
	}
	l.wave = c.Wave
	j, stepped := l.jumps.push(c)
	if l.n == 0 {
		l.open = block{fromS: c.StartS, guestA: float32(guestA)}
		if s := c.EndS - c.StartS; !c.Wave && s >= 2*blockS-1e-6 {
			l.open.rest = int16(min(s/blockS+1e-6, math.MaxInt16)) - 1
		}
		l.sum, l.phase, l.course = 0, line{}, line{}
	}
	l.n++
	l.sum += c.RMSA
	if !c.Torn {
		l.open.mostA = max(l.open.mostA, float32(c.SwingA))
	}
	l.course.add(c.EndS, c.RMSA)
	switch d := math.Abs(c.RMSA - l.lastA); {
	case c.Wave || d == 0:
	case l.digitA == 0 || d < 0.99*l.digitA:
		l.digitA, l.digitN = d, 1
	case d < 1.01*l.digitA:
		l.digitN++
	}
	l.lastA = c.RMSA
	if c.Locked {
		l.phase.add(c.EndS, c.Turns)
	}
	l.open.held = l.open.held || s == rig.Stalled || s == rig.Overloaded
	if s := c.EndS - c.StartS; !c.Wave && s > blockS {
		l.rowS = s
	}
	if big := math.Abs(j.bigA); stepped && l.induction && big > l.band(c.RMSA, 0) && big < sagMost*c.RMSA {
		l.jumped(j)
	} else if l.induction && c.Wave && !l.ear.any { // a smaller one shows in what it makes the current do for a while; the sound would tell
		if j, ok := l.jumps.swung(); ok && math.Abs(j.bigA) < l.band(c.RMSA, 0) {
			l.steps(j.at)
		}
	}
	for ; l.open.rest > 0; l.n = 1 {
		b := l.open
		l.close(b.fromS + blockS)
		b.fromS += blockS
		b.part, b.rest = b.part+1, b.rest-1
		b.young = l.blocks[len(l.blocks)-1].young
		l.open = b
	}
	if l.open.part == 0 && c.EndS-l.open.fromS < blockS-1e-6 {
		return
	}
	l.close(c.EndS)
}

// close ends the block at hand.
func (l *loads) close(atS float64) {
	b := l.open
	b.toS = atS
	m := l.sum / float64(l.n)
	b.meanA, b.sdA = float32(m), float32(l.course.deviation())
	b.sdRad = float32(2 * math.Pi * l.phase.deviation())
	if b.part == 0 {
		b.young = l.young(m, b.fromS-l.rowS/2) // the start lies somewhere in a reading before it
	}
	b.laDB, b.topDB, b.trebleDB = l.ear.tenth(b.fromS, b.toS)
	l.blocks = append(l.blocks, b)
	l.n = 0
}

// parts is how many blocks the reading of a block holds.
func (b *block) parts() float64 { return float64(b.part) + 1 + float64(b.rest) }

// young says whether a block still belongs to the run-up: it comes soon after the start, or the current has been falling
// from block to block since.
func (l *loads) young(meanA, fromS float64) bool {
	on := l.stretches[len(l.stretches)-1].FromS
	n := len(l.blocks)
	if n == 0 || l.blocks[n-1].fromS < on {
		return fromS <= on+rampUntilS // a long run-up may have only just ended
	}
	last := &l.blocks[n-1]
	if meanA < (1-leastStep)*float64(last.meanA) {
		l.fellS = fromS
	}
	repeats := float32(meanA) == last.meanA && fromS < l.fellS+repeatsS
	return fromS < on+youngS || last.young && (fromS == l.fellS || repeats)
}

// line fits a straight line and tells how far the points lie from it.
//
// The mains turns evenly over a tenth of a second, so what the current's phase deviates from a line is
// the motor's doing: load current stands at right angles to magnetising current, and shows in the
// phase long before it shows in the RMS.
type line struct {
	n, x0, y0, sx, sy, sxx, sxy, syy float64
}

func (l *line) add(x, y float64) {
	if l.n == 0 {
		l.x0, l.y0 = x, y
	}
	x, y = x-l.x0, y-l.y0
	l.n++
	l.sx += x
	l.sy += y
	l.sxx += x * x
	l.sxy += x * y
	l.syy += y * y
}

// slope returns that of the line.
func (l *line) slope() float64 { return (l.sxy - l.sx*l.sy/l.n) / (l.sxx - l.sx*l.sx/l.n) }

// deviation returns the root mean square distance in y; 0 for fewer than 4 points.
func (l *line) deviation() float64 {
	if l.n < 4 {
		return 0
	}
	vx, vy, c := l.sxx-l.sx*l.sx/l.n, l.syy-l.sy*l.sy/l.n, l.sxy-l.sx*l.sy/l.n
	return math.Sqrt(max(vy-c*c/vx, 0) / l.n)
}

// tenth returns the level between two instants, that of the loudest 20 ms in it, and that of the 20 ms loudest above
// 4 kHz there.
func (e *ear) tenth(fromS, toS float64) (laDB, topDB, trebleDB float32) {
	nan := float32(math.NaN())
	la, _, ok := e.levels(fromS, toS)
	if !ok {
		return nan, nan, nan
	}
	top, treble := 0.0, 0.0
	fs := e.frames[e.first(fromS):]
	for i := range fs {
		if fs[i].StartS >= toS {
			break
		}
		if i > 0 {
			s := fs[i].EndS - fs[i-1].StartS
			top = max(top, (fs[i-1].EA+fs[i].EA)/s)
			treble = max(treble, (fs[i-1].ET+fs[i].ET)/s) // NaN stays one
		}
	}
	if treble == 0 {
		return float32(la), float32(levelDB(top)), nan // nothing at all up there was not measured
	}
	return float32(la), float32(levelDB(top)), float32(levelDB(treble))
}
