package config

// Errors is what the bench's instruments may be off by, as standard uncertainties: bench.toml, [errors].
// What is common to all units on one bench cancels between them and counts against a limit.
type Errors struct {
	LevelDB       float64 `toml:"level_db" default:"0.35" range:"0..20" unit:"dB" why:"from run to run on one bench: position 0.3 dB, drift of the calibration 0.15 dB"`
	LevelCommonDB float64 `toml:"level_common_db" default:"1.0" range:"0..20" unit:"dB" why:"all units alike: calibrator, class of the microphone, room"`
	CurrentCommon float64 `toml:"current_common" default:"0.02" range:"0..1" why:"gain of the clamp as a share, all units alike: it cancels between them"`
	StartS        float64 `toml:"start_s" default:"0.02" range:"0..60" unit:"s" why:"of a start or a stop found in a recording"`
	ClearS        float64 `toml:"clear_s" default:"1.0" range:"0..600" unit:"s" why:"of the instant at which the chamber is clear: a matter of definition, 1 to 2 s"`
	ReactionS     float64 `toml:"reaction_s" default:"0.3" range:"0..60" unit:"s" why:"of a time taken with a stopwatch: the hand alone is tens to hundreds of milliseconds"`
	HandLevelDB   float64 `toml:"hand_level_db" default:"1.0" range:"0..20" unit:"dB" why:"of a level read from a hand-held meter"`
}

// Vessel is a bowl or a sieve of the register: [[vessel]] in bench.toml.
type Vessel struct {
	ID      string  `toml:"id" range:"id" why:"written on it; weighings name it"`
	DryG    float64 `toml:"dry_g" range:"(0..100000]" unit:"g" why:"empty and dry"`
	WetG    float64 `toml:"wet_g" optional:"yes" range:"(0..100000]" unit:"g" why:"empty, wet and drained as before a reading: the tare of a sieve"`
	Checked string  `toml:"checked" default:"" range:"date" why:"day on which it was last weighed empty"`
}

// Control is the unit or load that is run at the start of each day to see whether the bench has moved.
type Control struct {
	Unit      string `toml:"unit" optional:"yes" range:"id" why:"the bench's own unit; its runs are charted, not scored"`
	Procedure string `toml:"procedure" optional:"yes" range:"id" why:"under which its runs are charted; soaked plastic balls do not rot"`
	Baseline  int    `toml:"baseline_runs" default:"10" range:"10..100" why:"first runs, from which centre and limits are taken; fewer than ten tell no limits"`
}

// TakeWeighing says when the pan's reading is taken by itself.
type TakeWeighing struct {
	Auto              bool    `toml:"auto" default:"true" why:"a load that has come to rest is taken without a button"`
	RestS             float64 `toml:"rest_s" default:"1.5" range:"0.2..30" unit:"s" why:"how long the pan must be at rest first"`
	Readings          int     `toml:"readings" default:"5" range:"2..100" why:"so many are needed in that time: three readings of a slow scale may agree by chance while the bench shakes"`
	LeastG            float64 `toml:"least_g" default:"5" range:"(0..10000]" unit:"g" why:"a smaller change is no new load; less than 5 divisions counts as 5 divisions"`
	DripGPerMin       float64 `toml:"drip_g_per_min" default:"60" range:"1..1000" unit:"g/min" why:"slower change comes by itself; twice what fresh leftovers lose"`
	SlopeLimitGPerMin float64 `toml:"slope_limit_g_per_min" default:"6" range:"0.1..200" unit:"g/min" why:"a wet load is taken by itself below this; 20 s sooner or later then makes 2 g"`
}
