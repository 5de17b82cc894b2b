package score

import (
	"math"

	"quern/rig/score/gum"
)

// farthest is more standard deviations than normals ever gives.
const farthest = 4.4

// normals gives standard normal numbers by the quantiles of 65536 equally likely classes, four of
// them for one number of the generator: a hundred million draws a second, and no tail beyond 4.3.
type normals struct {
	source *gum.PCG
	left   uint64
	n      int
	class  [1 << 16]float64
}

func newNormals(seed, stream uint64) *normals {
	z := &normals{source: gum.NewPCG(seed, stream)}
	for i, n := 0, len(z.class); i < n/2; i++ { // they are symmetric
		v := math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/float64(n)-1)
		z.class[i], z.class[n-1-i] = v, -v
	}
	return z
}

func (z *normals) next() float64 {
	if z.n == 0 {
		z.left, z.n = z.source.Uint64(), 4
	}
	v := z.class[z.left&0xffff]
	z.left >>= 16
	z.n--
	return v
}

// drawn is a measure that is drawn anew each time.
type drawn struct {
	v, own, common float64
	share          int
}

func (d *drawn) draw(z *normals, shared *[3]float64) float64 {
	return d.v + d.own*z.next() + d.common*shared[d.share]
}

// straight is a sum of straight lines, in points of the whole: normal however many there are.
type straight struct {
	fixed  float64
	own    float64    // standard deviation of what no other unit shares
	shared [3]float64 // points by one standard deviation of what all units share
}

func (l *straight) draw(z *normals, shared *[3]float64) float64 {
	v := l.fixed + l.shared[1]*shared[1] + l.shared[2]*shared[2]
	if l.own > 0 {
		v += l.own * z.next()
	}
	return v
}

func (l *straight) add(o straight) {
	l.fixed += o.fixed
	l.own = math.Hypot(l.own, o.own)
	for i := range l.shared {
		l.shared[i] += o.shared[i]
	}
}

func shareIndex(s ErrorOf) int {
	switch s {
	case LevelShared:
		return 1
	case CurrentShare:
		return 2
	}
	return 0
}

func ofValue(v Value) drawn { return drawn{v.V, v.U, v.UCommon, shareIndex(v.Share)} }
