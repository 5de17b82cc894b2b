package config

// Detect holds every threshold of the analysis: [detect] in bench.toml. Most are ratios to what is
// learned in the run itself or to the nameplate; few are absolute.
type Detect struct {
	Sound DetectSound `toml:"sound"`
	Motor DetectMotor `toml:"motor"`
	Load  DetectLoad  `toml:"load"`
	Heard DetectHeard `toml:"heard"`
}

// DetectSound is how overload and under-range of the microphone are found.
type DetectSound struct {
	ClipBelowFSDB    float64 `toml:"clip_below_fs_db" default:"0.1" range:"0..3" unit:"dB" why:"samples within this of full scale count as clipped (common practice)"`
	ClipSamples      int     `toml:"clip_samples" default:"3" range:"1..100" why:"so many in a row make a clip: one alone may be a true peak"`
	SilentS          float64 `toml:"silent_s" default:"0.5" range:"0.05..60" unit:"s" why:"so long without any change of the samples is a dead input, not silence"`
	BackgroundMinS   float64 `toml:"background_min_s" default:"0.5" range:"0.1..600" unit:"s" why:"shortest quiet before the first start that gives a background"`
	BackgroundOverDB float64 `toml:"background_over_db" default:"8" range:"3..40" unit:"dB" why:"quiet 100 ms stretches louder than the quietest tenth by more than this are disturbances (a clap, a voice, the tap) and left out of the background, as is the second before and after them"`
}

// DetectMotor is how the motor's state is read from the current.
type DetectMotor struct {
	OnNoiseRatio    float64 `toml:"on_noise_ratio" default:"5" range:"2..50" why:"current above this many times the clamp's noise is flowing"`
	OnRatedRatio    float64 `toml:"on_rated_ratio" default:"0.02" range:"0.001..0.5" why:"and above this share of the rated current: an idle permanent-magnet motor may draw as little as a tenth"`
	OnHoldS         float64 `toml:"on_hold_s" default:"0.05" range:"0.005..1" unit:"s" why:"current that flows shorter than this is a click, not a start (3 mains cycles)"`
	OffHoldS        float64 `toml:"off_hold_s" default:"0.08" range:"0.01..5" unit:"s" why:"current must stay away this long to be a stop (5 mains cycles)"`
	OffIdleShare    float64 `toml:"off_idle_share" default:"0.25" range:"0.05..0.9" why:"below this share of the learned no-load current the motor is off"`
	InrushLimitS    float64 `toml:"inrush_limit_s" default:"1.0" range:"0.1..10" unit:"s" why:"a start that draws locked-rotor current this long without falling is a failed start; a run-up takes 0.1 to 0.6 s"`
	StallRatio      float64 `toml:"stall_ratio" default:"0.70" range:"0.3..1" why:"share of the locked-rotor current from which the rotor counts as locked"`
	StallLeaveRatio float64 `toml:"stall_leave_ratio" default:"0.55" range:"0.2..1" why:"below this share it turns again"`
	StallHoldS      float64 `toml:"stall_hold_s" default:"0.3" range:"0.05..5" unit:"s" why:"a shorter excursion is a bite, not a stall"`
	OverloadRatio   float64 `toml:"overload_ratio" default:"1.25" range:"1..5" why:"multiple of the rated current that counts as overload (electrical codes allow protectors up to 1.25)"`
	OverloadLeave   float64 `toml:"overload_leave_ratio" default:"1.15" range:"0.9..5" why:"below this multiple the overload is over"`
	OverloadHoldS   float64 `toml:"overload_hold_s" default:"2" range:"0.1..600" unit:"s" why:"a shorter passage is heavy grinding"`
	TripAfterS      float64 `toml:"trip_after_s" default:"3" range:"0.1..600" unit:"s" why:"current that stops out of a stall or overload at least this long is presumed to be the protector's work"`
}

// DetectLoad is how feeding and the clear chamber are told.
type DetectLoad struct {
	BandSigmas    float64 `toml:"band_sigmas" default:"4" range:"1..20" why:"half-width of the no-load band in standard deviations of the no-load current"`
	BandInduction float64 `toml:"band_induction" default:"0.02" range:"0.001..0.5" why:"but at least this share of it, for an induction motor"`
	BandOther     float64 `toml:"band_other" default:"0.10" range:"0.001..0.9" why:"the same for a motor whose current follows the load"`
	DwellS        float64 `toml:"dwell_s" default:"5" range:"0.5..60" unit:"s" why:"the chamber must stay clear this long before it is said to be"`
	ImpactOverDB  float64 `toml:"impact_over_db" default:"6" range:"1..30" unit:"dB" why:"a 20 ms sound energy this far above the running median is an impact"`
}

// DetectHeard is how starts and stops are told when there is no current.
type DetectHeard struct {
	OverBackgroundDB float64 `toml:"over_background_db" default:"10" range:"3..60" unit:"dB" why:"a motor stands this far above the quiet when no current was recorded: the floor of an octave must be lifted by six tenths of it"`
	HoldS            float64 `toml:"hold_s" default:"1" range:"0.1..30" unit:"s" why:"and must last this long: a clap or a word does not"`
	RunningAboveDB   float64 `toml:"running_above_db" default:"60" range:"30..120" unit:"dB(A)" why:"a recording louder than this from its beginning may have begun with the motor running, if it is quiet later; a motor that a clamp did not see must be louder"`
}
