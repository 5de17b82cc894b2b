package overlay

import "math"

const (
	mostS  = 86400.0 // s of a session that are kept: a day
	tenthS = 0.1
	heldS  = 2.0                 // s; a reading is shown for so long, until the next
	held   = int(heldS / tenthS) // in tenths
)

// Track is a curve in steps of a tenth of a second: the mean of what was measured in each. The zero Track
// is empty and ready for use.
type Track struct {
	sum   []float64 // NaN: the source was dead
	n     []int32
	value []float32 // by tenth, once settled; NaN: nothing
	total []float64 // of value from the first tenth on, what is missing left out
	count []int32
}

// Add takes a value at an instant; NaN says that the source was dead there. Times outside of 0 to a day
// are ignored.
func (t *Track) Add(atS, v float64) {
	if !(atS >= 0 && atS < mostS) || math.IsInf(v, 0) {
		return
	}
	k := int(atS / tenthS)
	for len(t.sum) <= k {
		t.sum, t.n = append(t.sum, 0), append(t.n, 0)
	}
	t.sum[k] += v
	t.n[k]++
}

// Empty tells that nothing was ever measured.
func (t *Track) Empty() bool {
	for i, s := range t.sum {
		if t.n[i] > 0 && !math.IsNaN(s) {
			return false
		}
	}
	return true
}

// EndS returns when the curve ends.
func (t *Track) EndS() float64 { return float64(len(t.sum)) * tenthS }

// settle makes the values of tenths; a reading holds for a while if the next is slow to come.
func (t *Track) settle() {
	last, since := math.NaN(), 0
	t.total, t.count = append(t.total[:0], 0), append(t.count[:0], 0)
	t.value = t.value[:0]
	for k := range t.sum {
		switch {
		case t.n[k] > 0:
			last, since = t.sum[k]/float64(t.n[k]), k
		case k-since >= held:
			last = math.NaN()
		}
		t.value = append(t.value, float32(last))
		sum, n := t.total[k], t.count[k]
		if !math.IsNaN(last) {
			sum, n = sum+last, n+1
		}
		t.total, t.count = append(t.total, sum), append(t.count, n)
	}
}

// at returns the value of the tenth that an instant falls into; NaN: none.
func (t *Track) at(k int) float64 {
	if k < 0 || k >= len(t.value) {
		return math.NaN()
	}
	return float64(t.value[k])
}

// mean returns the mean over the tenths that a stretch touches; NaN: nothing was measured.
func (t *Track) mean(fromS, toS float64) float64 {
	last := len(t.value)
	a := min(max(int(fromS/tenthS), 0), last)
	b := min(max(int(math.Ceil(toS/tenthS)), a), last)
	if b == a && b < last {
		b++
	}
	if b <= a || t.count[b] == t.count[a] {
		return math.NaN()
	}
	return (t.total[b] - t.total[a]) / float64(t.count[b]-t.count[a])
}
