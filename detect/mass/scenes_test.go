//go:build !race

package mass_test

// scenes is how many TestRandom tries.
const scenes = 10000
