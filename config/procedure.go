package config

// Procedure is one file of procedures/: what is fed and how, how long it may take, what is weighed
// afterwards, and what must be so. ChargeG is 0 where it is absent and no item is listed.
type Procedure struct {
	ID            string  `toml:"id" range:"id" why:"names the procedure in commands and results"`
	Title         string  `toml:"title" default:"" why:"what it is called in print"`
	TimeLimitS    float64 `toml:"time_limit_s" default:"240" range:"1..86400" unit:"s" why:"longest run that the procedure allows, on its clock"`
	Clock         string  `toml:"clock" default:"motor-on" range:"motor-on|elapsed" why:"which time run_time_s counts: pauses left out, or in"`
	ChargeG       float64 `toml:"charge_g" optional:"yes" range:"(0..100000]" unit:"g" why:"nominal mass of what is fed; the sum of the items if they are listed"`
	LongestPauseS float64 `toml:"longest_pause_s" default:"900" range:"1..86400" unit:"s" why:"a longer stop ends the run"`
	Repeats       int     `toml:"repeats" default:"3" range:"1..50" why:"runs of each unit that count; more are marked as unplanned and do not"`
	CooldownS     float64 `toml:"cooldown_s" default:"1800" range:"0..86400" unit:"s" why:"least rest of a unit between two runs: a hot motor trips sooner and runs slower"`
	ResetWaitS    float64 `toml:"reset_wait_s" default:"90" range:"0..3600" unit:"s" why:"wait before a protector is reset; one to two minutes is common practice"`
	Resets        int     `toml:"resets" default:"3" range:"0..100" why:"how often it may be reset in one run before the run is given up"`
	Beyond        bool    `toml:"beyond_instructions" default:"false" why:"it asks what the maker's instructions exclude; said beside every result"`
	RunMinutes    float64 `toml:"run_minutes" default:"20" range:"1..1440" unit:"min" why:"one run with weighing and cleaning, for the plan"`
	BatchRuns     int     `toml:"batch_runs" default:"0" range:"0..1000" why:"runs that one batch of food serves; 0: no limit"`

	Items  []Item `toml:"item" optional:"yes" why:"the recipe: what is weighed in, in the order of feeding"`
	Water  Water  `toml:"water"`
	After  After  `toml:"after"`
	Checks Checks `toml:"checks"`
	Gates  []Gate `toml:"gate" optional:"yes" why:"what must be so for the test to be passed"`
}

// Item is one ingredient of the charge: [[item]].
type Item struct {
	Name        string  `toml:"name" range:"id" why:"what it is"`
	MassG       float64 `toml:"mass_g" range:"(0..100000]" unit:"g" why:"how much of it"`
	ToleranceG  float64 `toml:"tolerance_g" default:"5" range:"0..10000" unit:"g" why:"how far the weighed mass may be off"`
	Cut         string  `toml:"cut" default:"" why:"size and shape of the pieces"`
	Preparation string  `toml:"preparation" default:"" why:"raw, cooked, thawed, at which temperature"`
	Pieces      int     `toml:"pieces" default:"0" range:"0..10000" why:"how many, where that matters; 0: not counted"`
	HeldBack    int     `toml:"held_back" default:"0" range:"0..10000" why:"pieces that are fed last, when the rest has gone through"`
}

// Water is the flow through the chamber.
type Water struct {
	FlowLPerMin  float64 `toml:"flow_l_per_min" default:"6" range:"0..60" unit:"L/min" why:"cold, and checked by weighing what half a minute gives"`
	TemperatureC float64 `toml:"temperature_c" optional:"yes" range:"(0..60]" unit:"degC" why:"of the supply"`
	FlushS       float64 `toml:"flush_s" default:"10" range:"0..600" unit:"s" why:"how long it runs on once the chamber is clear"`
}

// After is what is weighed once the run is over, and how well that can be done. The defaults of the
// uncertainties are those of a fixed procedure; trade experience without one is three times as large.
type After struct {
	Chamber         bool    `toml:"chamber" default:"true" why:"what stayed in the chamber is taken out and weighed"`
	CoarseSieveMM   float64 `toml:"coarse_sieve_mm" optional:"yes" range:"(0..125]" unit:"mm" why:"opening of the coarse sieve, ISO 3310-1 or ASTM E11; if it is missing nothing is sieved coarsely"`
	FineSieveMM     float64 `toml:"fine_sieve_mm" optional:"yes" range:"(0..125]" unit:"mm" why:"opening of the fine sieve"`
	Passed          bool    `toml:"passed" default:"false" why:"what goes through both sieves is collected and weighed too"`
	DrainS          float64 `toml:"drain_s" default:"120" range:"0..3600" unit:"s" why:"wet leftovers drain this long before they are read: two minutes is the pattern of drained-weight methods (from memory)"`
	DrainToleranceS float64 `toml:"drain_tolerance_s" default:"20" range:"0..600" unit:"s" why:"a reading farther off is marked early or late; of a vessel that had to wait for the scale, farther from the reading before"`
	RetainedUG      float64 `toml:"retained_u_g" default:"2" range:"0..1000" unit:"g" why:"standard uncertainty of the water that leftovers hold; a film on a 200 mm sieve is 9 to 19 g, so sieves are tared wet"`
	TransferUG      float64 `toml:"transfer_u_g" default:"1" range:"0..1000" unit:"g" why:"what stays behind at each transfer, with a scraper; 3 g without"`
	WetTareUG       float64 `toml:"wet_tare_u_g" default:"1" range:"0..1000" unit:"g" why:"how well a wet and drained empty sieve repeats; 3 g if it was tared dry"`
	OutputLow       float64 `toml:"output_low" default:"0.5" range:"0..10" why:"less out than this share of what went in is doubtful: something was spilled or forgotten; used only where all that comes out is weighed"`
	OutputHigh      float64 `toml:"output_high" default:"1.3" range:"0..10" why:"more out than this is doubtful; food takes up water, so some more out than in is possible"`
}

// Checks is what must have been looked at on the day before a run counts without a remark.
type Checks struct {
	BackgroundS float64 `toml:"background_s" default:"10" range:"0..600" unit:"s" why:"quiet before the first start, so that the level can be corrected for the room"`
	Sound       bool    `toml:"sound" default:"false" why:"a calibrator on the microphone that day"`
	Scale       bool    `toml:"scale" default:"false" why:"a check weight on the scale that day"`
	Clamp       bool    `toml:"clamp" default:"false" why:"a known load through the clamp that day"`
	Supply      bool    `toml:"supply" default:"false" why:"voltage at the socket that day"`
	Water       bool    `toml:"water" default:"false" why:"flow by weighing that day"`
}

// Gate is a necessary condition: [[gate]]. It compares a measure with a limit, with the measure's
// uncertainty, by a rule stated beforehand (JCGM 106, ILAC-G8).
type Gate struct {
	Measure string  `toml:"measure" range:"measure" why:"which measure must hold the limit"`
	Side    string  `toml:"side" default:"at-most" range:"at-most|at-least" why:"on which side of the limit is well"`
	Limit   float64 `toml:"limit" range:"-1000000..1000000" why:"in the measure's unit; it belongs to the side that passes"`
	Rule    string  `toml:"rule" default:"four-way" range:"four-way|guarded|simple" why:"four-way: pass, pass (close), fail (close), fail, with a band on both sides; guarded: passes only inside the limit by the band; simple: the limit alone, the risk shared"`
	Band    float64 `toml:"band" default:"2" range:"0..5" why:"half-width of the band in standard uncertainties; 2 leaves 2.3 % of wrong passes at worst"`
	Repeats string  `toml:"repeats" default:"any" range:"any|majority|mean" why:"any: one run that fails it fails the test; majority: more than half; mean: the mean of the runs is judged, once all have the measure"`
	Note    string  `toml:"note" default:"" why:"why it is there, for the reader"`
}
