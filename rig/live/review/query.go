package review

import (
	"context"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"quern/rig"
)

// asked reads the parameters of a request strictly: those that are known, each once.
type asked struct {
	values url.Values
	err    error
}

func ask(r *http.Request, known ...string) *asked {
	v, err := url.ParseQuery(r.URL.RawQuery)
	a := &asked{values: v}
	if err != nil {
		a.fail("found a query that does not read, expected name=value joined by &")
	}
	for name, all := range v {
		if !slices.Contains(known, name) {
			a.fail("found parameter %q, expected one of %s", clip40(name), strings.Join(known, ", "))
		} else if len(all) != 1 {
			a.fail("found parameter %s %d times, expected it once", name, len(all))
		}
	}
	return a
}

func (a *asked) fail(format string, args ...any) {
	if a.err == nil {
		a.err = fault(http.StatusBadRequest, format, args...)
	}
}

func (a *asked) has(name string) bool { return len(a.values[name]) > 0 }

// seconds returns an instant; otherwise the value given.
func (a *asked) seconds(name string, otherwise float64) float64 {
	if !a.has(name) {
		return otherwise
	}
	text := a.values.Get(name)
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(math.Abs(v) <= mostViewS) || strings.ContainsAny(text, "xXpP_") {
		a.fail("found %s=%q, expected seconds from -%g to %g, such as 12.5", name, clip40(text), mostViewS, mostViewS)
		return otherwise
	}
	return v
}

func (a *asked) whole(name string, least, most, otherwise int) int {
	if !a.has(name) {
		return otherwise
	}
	v, err := strconv.Atoi(a.values.Get(name))
	if err != nil || v < least || v > most {
		a.fail("found %s=%q, expected a whole number from %d to %d", name, clip40(a.values.Get(name)), least, most)
		return otherwise
	}
	return v
}

// view returns the stretch of time that is asked for, in seconds of the session, and what was added to the
// instants of the request.
func (h *Shelf) view(ctx context.Context, a *asked, name string, lastS float64) (fromS, toS, offsetS float64, err error) {
	offsetS = a.seconds("offset", 0)
	if run := a.whole("run", 1, rig.MostRun, 0); run > 0 {
		if a.has("offset") {
			a.fail("found both offset and run, expected one of them")
		}
		if a.err == nil {
			if offsetS, err = h.Align(ctx, name, run); err != nil {
				return 0, 0, 0, err
			}
		}
	}
	fromS = a.seconds("from", -offsetS) + offsetS
	toS = a.seconds("to", lastS-offsetS) + offsetS
	if a.err == nil && !(toS-fromS >= leastViewS) {
		a.fail("found a view from %g to %g s, expected an end after the beginning", fromS-offsetS, toS-offsetS)
	}
	return fromS, toS, offsetS, a.err
}
