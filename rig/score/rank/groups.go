package rank

import (
	"math/bits"
	"slices"
)

// Groups returns sets of units that cannot be told apart, for the letters beside a table: two units
// share a group if and only if they cannot be told apart, a unit may be in several, and none can take in
// another unit. Each group and the list of groups are in the order of scores, best first.
//
// With one spread for all units these are all such sets. With unequal spreads there may be more of
// them than could be listed; then enough are listed for every pair that cannot be told apart.
func (c *Comparison) Groups() [][]int {
	k := len(c.order)
	alike, covered := make([]set, k), make([]set, k)
	for i := range k {
		alike[i], covered[i] = newSet(k), newSet(k)
		for j := range k {
			if j != i && !c.apart[i*k+j] {
				alike[i].add(j)
			}
		}
	}
	var groups [][]int // positions in the order
	list := func(g []int) {
		groups = append(groups, g)
		for _, i := range g {
			for _, j := range g {
				covered[i].add(j)
			}
		}
	}
	for i := range k {
		if alike[i].empty() {
			list([]int{i})
		}
		for j := i + 1; j < k; j++ {
			if alike[i].has(j) && !covered[i].has(j) {
				list(grow(alike, i, j))
			}
		}
	}
	slices.SortFunc(groups, slices.Compare)
	for _, g := range groups {
		for n, i := range g {
			g[n] = c.order[i]
		}
	}
	return groups
}

// grow returns a maximal set of units alike one another that has i and j, the best taken first.
func grow(alike []set, i, j int) []int {
	free := slices.Clone(alike[i])
	free.keep(alike[j])
	group := []int{i, j}
	for u := free.next(0); u >= 0; u = free.next(u + 1) {
		group = append(group, u)
		free.keep(alike[u])
	}
	slices.Sort(group)
	return group
}

// set is a set of small numbers.
type set []uint64

func newSet(n int) set       { return make(set, (n+63)/64) }
func (s set) add(i int)      { s[i/64] |= 1 << (i % 64) }
func (s set) has(i int) bool { return s[i/64]>>(i%64)&1 == 1 }

func (s set) keep(other set) {
	for i := range s {
		s[i] &= other[i]
	}
}

func (s set) empty() bool { return s.next(0) < 0 }

// next returns the least member that is at least i, or -1.
func (s set) next(i int) int {
	for w := i / 64; w < len(s); w++ {
		word := s[w]
		if w == i/64 {
			word &= ^uint64(0) << (i % 64)
		}
		if word != 0 {
			return w*64 + bits.TrailingZeros64(word)
		}
	}
	return -1
}
