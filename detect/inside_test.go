package detect

import "quern/rig"

// GrainLevelDB is what a step is said to be worth, for tests from outside.
func GrainLevelDB(step, rateHz, fullScaleDB float64) rig.Figure {
	return (&grain{step: step}).levelDB(rateHz, fullScaleDB)
}
