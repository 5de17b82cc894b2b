//go:build race

package mass_test

// scenes is how many TestRandom tries: fewer under the race detector, which is ten times slower.
const scenes = 1000
