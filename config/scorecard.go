package config

// Scorecard is scorecard.toml: how measures become points, and points a ranking.
type Scorecard struct {
	Title    string  `toml:"title" default:"" why:"heads the standings"`
	Version  string  `toml:"version" default:"" why:"of these rules, for readers; their checksum is shown anyway"`
	PointsOf string  `toml:"points_of" default:"run" range:"run|mean" why:"run: points for every run, then their mean; mean: points for the mean of the runs. They differ where a curve bends"`
	Levels   string  `toml:"mean_of_levels" default:"arithmetic" range:"arithmetic|energy" why:"how levels of several runs are averaged: the typical run, or the exposure"`
	Missing  string  `toml:"missing" default:"reweight" range:"reweight|worst|unranked" why:"a value that is missing: the rest is reweighted and the unit marked; or it counts as the worst points of its curve; or the unit is not ranked"`
	Level    float64 `toml:"confidence" default:"0.95" range:"0.5..0.999" why:"of intervals and of the rank ranges"`
	Draws    int     `toml:"draws" default:"10000" range:"100..1000000" why:"of the simulation that shows how stable the ranking is"`
	Seed     int     `toml:"seed" default:"1" range:"0..1000000000" why:"of the simulation: same seed, same answer"`
	Vary     float64 `toml:"vary_weights" default:"0.25" range:"0..1" why:"by how much of itself each weight is varied to see what hangs on it"`

	Categories []Category  `toml:"category" optional:"yes" why:"tests are summed up to categories, categories to the whole"`
	Tests      []Test      `toml:"test" optional:"yes" why:"what is tested: a procedure, or things entered by hand"`
	Criteria   []Criterion `toml:"criterion" optional:"yes" why:"what earns points in a test"`
}

// Category is [[category]].
type Category struct {
	ID     string  `toml:"id" range:"id" why:"names it in tests"`
	Title  string  `toml:"title" default:"" why:"in print"`
	Weight float64 `toml:"weight" default:"1" range:"(0..1000000]" why:"against the other categories; weights need not sum to 1"`
}

// Test is [[test]]. A test without a procedure holds criteria entered by hand.
type Test struct {
	ID           string  `toml:"id" range:"id" why:"names it in criteria"`
	Title        string  `toml:"title" default:"" why:"in print"`
	Procedure    string  `toml:"procedure" optional:"yes" range:"id" why:"whose runs count for it; without one its criteria are entered by hand"`
	Category     string  `toml:"category" optional:"yes" range:"id" why:"where it belongs; may be missing if there are no categories"`
	Weight       float64 `toml:"weight" default:"1" range:"(0..1000000]" why:"against the other tests of its category"`
	Gated        bool    `toml:"gated" default:"true" why:"a failed gate of the procedure fails this test; false for what can be judged all the same, such as noise"`
	FailedPoints float64 `toml:"failed_points" default:"0" range:"0..10" why:"what a test that failed a gate is worth; its measures stay visible"`
}

// Criterion is [[criterion]]: a measure and the curve that makes points of it.
type Criterion struct {
	ID      string   `toml:"id" range:"id" why:"names it in tables and comparisons"`
	Title   string   `toml:"title" default:"" why:"in print"`
	Test    string   `toml:"test" range:"id" why:"where it belongs"`
	Measure string   `toml:"measure" range:"measure" why:"what is judged; hand.NAME is entered by hand"`
	Weight  float64  `toml:"weight" default:"1" range:"(0..1000000]" why:"against the other criteria of its test"`
	Shape   string   `toml:"shape" default:"linear" range:"linear|monotone" why:"between the points of the curve: straight lines, or a cubic that never overshoots"`
	Outside string   `toml:"outside" default:"flat" range:"flat|refuse" why:"beyond the ends of the curve: the end's points, or no points at all"`
	Curve   []Anchor `toml:"curve" optional:"yes" why:"the points that are given; without them a measure of 0 to 10 is its own points"`
}

// Anchor is one given point of a curve.
type Anchor struct {
	At     float64 `toml:"at" range:"-1000000..1000000" why:"the measure, in its unit; each larger than the one before"`
	Points float64 `toml:"points" range:"0..10" why:"what it earns"`
}
