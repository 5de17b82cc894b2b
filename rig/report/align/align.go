// Package align finds where a camera's sound stands in the microphone recording of a session, so that
// footage can be captioned without lining anything up by hand.
//
// Both recordings are brought to one low rate. A coarse stage compares how the energy of narrow bands rises
// and falls, in stretches of 20 s of the camera against all of the session; that stands up to echo, automatic
// gain, compression and clocks that drift. A fine stage then compares the waveforms themselves in windows of
// 2 s, every frequency with the same weight, so that the tones of a motor, which fit at every period, count
// for next to nothing (generalized cross-correlation with phase transform: Knapp and Carter, "The generalized
// correlation method for estimation of time delay", IEEE Trans. ASSP 24, 1976; from memory). A line through
// the lags of the windows is the offset and the drift of the camera's clock.
//
// Whether the two belong together at all is decided by the windows: those of a wrong pair show no lag that
// stands out, or lags that lie on no line. What is found out is in session seconds, on the time base that
// the session's anchors give.
//
// It is the sound that is lined up. Sound takes 2.9 ms a metre: to a camera three metres away it comes 9 ms late,
// and its picture is mapped that much too early.
package align

import (
	"fmt"
	"math"
)

// Sound is a recording that is read from first to last.
type Sound interface {
	// RateHz returns the nominal number of samples a second.
	RateHz() float64
	// Next returns the next samples, on any scale, and the instant of the first of them, s. They are valid
	// until the next call. After the last it returns io.EOF. Instants never go back; a jump is a gap.
	Next() (atS float64, samples []float64, err error)
}

// Alignment says where a camera's clock stands on the session's: an instant c of the camera, s from its first
// sample, is the session's instant OffsetS + c (1 + DriftPPM 1e-6).
type Alignment struct {
	Session    string     `json:"session"`
	Camera     string     `json:"camera"`
	Method     Method     `json:"method"`
	OffsetS    float64    `json:"offset_s"`      // session time of the camera's first sample
	DriftPPM   float64    `json:"drift_ppm"`     // by how much the camera's clock is slow, millionths
	DriftKnown bool       `json:"drift_known"`   // false: taken as 0, or held down by what clocks usually do
	WithinS    float64    `json:"within_s"`      // half-width, at 95 %, of the error within the overlap
	Confidence *float64   `json:"confidence"`    // that the two belong together, at most 0.9999; nil: a person says so
	Overlap    [2]float64 `json:"overlap_s"`     // session time
	CameraS    float64    `json:"camera_s"`      // length of the camera's recording; 0: not known
	Windows    int        `json:"windows"`       // compared
	Agreeing   int        `json:"windows_agree"` // whose lags lie on the line
}

// Method is how an alignment was found.
type Method string

const (
	BySound Method = "sound" // by the sound of both
	ByHand  Method = "hand"  // by instants that a person read off the footage
)

// SessionS returns the session's instant of an instant of the camera's clock.
func (a Alignment) SessionS(cameraS float64) float64 {
	return a.OffsetS + cameraS*(1+a.DriftPPM*1e-6)
}

// CameraAtS returns the camera's instant of an instant of the session.
func (a Alignment) CameraAtS(sessionS float64) float64 {
	return (sessionS - a.OffsetS) / (1 + a.DriftPPM*1e-6)
}

// Refusal says why two recordings are not lined up.
type Refusal struct {
	Code string // one of those below
	Why  string // a sentence
	Do   string // what to do about it
}

// Codes of refusals.
const (
	Silent    = "silent"    // there is nothing to be heard
	TooShort  = "too-short" // the recordings, or what they have in common
	NoMatch   = "no-match"  // they do not belong together, or that cannot be told from chance
	Ambiguous = "ambiguous" // more than one place fits
	Imprecise = "imprecise" // the place is not known well enough
)

func (r *Refusal) Error() string { return r.Why + ": " + r.Do }

// Limits of what is looked for and accepted.
const (
	MostDriftPPM   = 300.0  // between two clocks; crystals are off by less than 100 (common practice)
	LeastOverlapS  = 4.0    // below it there are too few windows to tell
	leastSure      = 0.99   // confidence
	mostWithinS    = 0.010  // a result less precise than that is of no use to an editor
	mostConfidence = 0.9999 // no evidence from sound makes it certain
)

// Find lines a camera's sound up with a session's. An error that is a [*Refusal] says that they do not match,
// or that it cannot be told; any other comes from reading.
func Find(camera, session Sound) (Alignment, error) {
	a, _, err := find(camera, session)
	return a, err
}

// trail is what was looked at on the way, for tests and plots.
type trail struct {
	rateHz float64
	coarse []candidate
	best   fit
}

func find(camera, session Sound) (Alignment, *trail, error) {
	rate, err := commonRate(camera.RateHz(), session.RateHz())
	if err != nil {
		return Alignment{}, nil, err
	}
	tr := &trail{rateHz: rate}
	cam, err := read(camera, rate)
	if err != nil {
		return Alignment{}, tr, err
	}
	ses, err := read(session, rate)
	if err != nil {
		return Alignment{}, tr, err
	}
	for _, x := range []struct {
		what string
		s    *track
	}{{"camera's file", cam}, {"session", ses}} {
		if x.s.seconds() < LeastOverlapS {
			return Alignment{}, tr, &Refusal{TooShort, fmt.Sprintf("the %s holds %.1f s of sound", x.what, x.s.seconds()), fmt.Sprintf("at least %.0f s of both are needed", LeastOverlapS)}
		}
		if x.s.silent() {
			return Alignment{}, tr, &Refusal{Silent, "there is no sound in the " + x.what, "check the channel, and that the sound was recorded"}
		}
	}
	tr.coarse = coarse(newFeatures(cam), newFeatures(ses))
	a, err := settle(cam, ses, tr)
	return a, tr, err
}

// settle tries the lines that the coarse stage found and accepts one of them.
func settle(cam, ses *track, tr *trail) (Alignment, error) {
	lines := linesOf(tr.coarse)
	if len(lines) == 0 {
		return Alignment{}, &Refusal{NoMatch, "the camera's sound is found nowhere in the session", "check that they are of the same day and the same run"}
	}
	var best, other fit
	for i, l := range lines {
		f := fine(cam, ses, l)
		if f.evidence > best.evidence || i == 0 {
			if !f.near(best) {
				other = best
			}
			best = f
		} else if f.evidence > other.evidence && !f.near(best) {
			other = f
		}
	}
	tr.best = best
	a := best.alignment()
	switch {
	case *a.Confidence < leastSure:
		return a, &Refusal{NoMatch, fmt.Sprintf("the best place in the session fits in %d of %d windows, which chance does too", a.Agreeing, a.Windows), "check that they are of the same run, and that at least some seconds of the motor are heard in both"}
	case other.evidence > best.evidence/3 && confidence(other.evidence) > 0.5:
		return a, &Refusal{Ambiguous, fmt.Sprintf("the sound fits at %.3f s of the session, and nearly as well at %.3f s", best.camStartS+best.at(best.camStartS), other.camStartS+other.at(other.camStartS)), "take a longer part of the footage, with a start, a stop or a knock in it"}
	case a.Overlap[1]-a.Overlap[0] < LeastOverlapS:
		return a, &Refusal{TooShort, fmt.Sprintf("camera and session have only %.1f s in common", a.Overlap[1]-a.Overlap[0]), fmt.Sprintf("at least %.0f s are needed", LeastOverlapS)}
	case !(a.WithinS <= mostWithinS):
		return a, &Refusal{Imprecise, fmt.Sprintf("the place is known only to %.0f ms", 1000*a.WithinS), "take a longer part of the footage"}
	}
	return a, nil
}

// commonRate returns the rate at which both are compared: what is above 2 kHz differs most between two places
// in a room and suffers most from compression.
func commonRate(a, b float64) (float64, error) {
	const mostHz, leastHz = 4000, 800
	r := math.Floor(min(a, b, mostHz)/100) * 100
	if !(r >= leastHz) || math.IsInf(a+b, 0) {
		return 0, &Refusal{NoMatch, fmt.Sprintf("found sample rates of %g Hz and %g Hz", a, b), fmt.Sprintf("both must be at least %d Hz", leastHz)}
	}
	return r, nil
}
