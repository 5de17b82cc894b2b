package config

// Port is a serial port and how it speaks: [scale.port], [microphone.port], [clamp.port], [extra.port].
type Port struct {
	Device   string `toml:"device" default:"" why:"path of the port; one under /dev/serial/by-id stays the same when the plug is pulled: quern devices lists them"`
	Baud     int    `toml:"baud" default:"9600" range:"300..4000000" why:"symbols a second; most scales come with 9600 (common practice)"`
	DataBits int    `toml:"data_bits" default:"8" range:"7..8" why:"bits of a character"`
	Parity   string `toml:"parity" default:"none" range:"none|even|odd" why:"check bit of a character"`
	StopBits int    `toml:"stop_bits" default:"1" range:"1..2" why:"bits after a character"`
	Flow     string `toml:"flow" default:"none" range:"none|rts-cts|xon-xoff" why:"how the device is held back; few need it"`
}

// Frame is how one reading stands in a line of text from a device. Fields and columns count from 1; 0
// says that the frame has no such part.
type Frame struct {
	Shape       string `toml:"shape" default:"number-unit" range:"number|number-unit|mark-number-unit|mark-kind-number-unit|number-unit-mark|fields|columns" why:"a ready shape, named by the order of its parts, or fields or columns with the keys below"`
	End         string `toml:"end" default:"line" range:"line|cr|lf|etx" why:"what ends a frame: line takes CR, LF or both"`
	Separator   string `toml:"separator" default:"" why:"what parts fields; empty: blanks and commas"`
	NumberPart  int    `toml:"number_part" default:"0" range:"0..64" why:"field, or first column, of the number"`
	NumberEnd   int    `toml:"number_end" default:"0" range:"0..256" why:"last column of the number"`
	SignPart    int    `toml:"sign_part" default:"0" range:"0..256" why:"field or column of a sign that stands apart from its number"`
	UnitPart    int    `toml:"unit_part" default:"0" range:"0..256" why:"field, or first column, of the unit"`
	UnitEnd     int    `toml:"unit_end" default:"0" range:"0..256" why:"last column of the unit"`
	MarkPart    int    `toml:"mark_part" default:"0" range:"0..256" why:"field, or first column, of the stability mark"`
	MarkEnd     int    `toml:"mark_end" default:"0" range:"0..256" why:"last column of the stability mark"`
	Stable      string `toml:"stable" default:"ST S G" why:"marks of a steady reading, parted by blanks"`
	Unstable    string `toml:"unstable" default:"US SD U D M ?" why:"marks of an unsteady reading"`
	OutOfRange  string `toml:"out_of_range" default:"OL UL OF HH LL + -" why:"marks or number fields of an overload or underload: no reading, told"`
	Unit        string `toml:"unit_word" default:"g" range:"g|kg|oz|lb|lb-oz" why:"unit of a scale's number where the frame names none"`
	Decimals    int    `toml:"decimals" default:"0" range:"0..6" why:"places to move the point left where the device sends none"`
	Checksum    string `toml:"checksum" default:"none" range:"none|xor|sum|crc8|crc16-modbus|crc16-ccitt|crc32" why:"check value at the end of a frame, in hexadecimal digits, over everything before it"`
	ChecksumSep string `toml:"checksum_mark" default:"*" why:"what stands before the check value"`
}

// ScaleDevice is how the scale is read.
type ScaleDevice struct {
	Kind      string  `toml:"kind" default:"none" range:"none|serial|hid" why:"serial: an indicator on a port; hid: a USB scale at a hidraw node"`
	Hidraw    string  `toml:"hidraw" default:"" why:"path of the hidraw node, or empty for the first weighing device"`
	Mode      string  `toml:"mode" default:"continuous" range:"continuous|request" why:"whether the indicator sends by itself or when asked"`
	Request   string  `toml:"request" default:"" why:"what to send to get a reading; escapes such as \\r and \\n"`
	IntervalS float64 `toml:"interval_s" default:"0.1" range:"0.02..60" unit:"s" why:"time between requests"`
	Tare      string  `toml:"tare" default:"" why:"what 'quern act tare' sends, if the indicator takes it"`
	Zero      string  `toml:"zero" default:"" why:"what 'quern act zero' sends"`
	SilentS   float64 `toml:"silent_s" default:"2" range:"0.2..600" unit:"s" why:"so long without a reading and the source is restarted"`
	LatencyS  float64 `toml:"latency_s" default:"0" range:"0..5" unit:"s" why:"age of a reading when it arrives: knock on the bench and compare with the clamp and the microphone"`
	Port      Port    `toml:"port"`
	Frame     Frame   `toml:"frame"`
}

// MicrophoneDevice is how sound is taken.
type MicrophoneDevice struct {
	Kind     string  `toml:"kind" default:"none" range:"none|alsa|meter" why:"alsa: samples of a sound card; meter: a sound level meter that sends readings as lines of text on a port"`
	SilentS  float64 `toml:"silent_s" default:"2" range:"0.2..600" unit:"s" why:"so long without samples and the source is restarted"`
	LatencyS float64 `toml:"latency_s" default:"0.02" range:"0..5" unit:"s" why:"age of a sample when it arrives: see how to measure it with one knock on the bench"`
	ALSA     ALSA    `toml:"alsa"`
	Port     Port    `toml:"port"`
	Frame    Frame   `toml:"frame"`
}

// ALSA is a sound card.
type ALSA struct {
	Device      string `toml:"device" default:"default" why:"name of the capture device, such as hw:CARD=Device,DEV=0: quern devices lists them"`
	RateHz      int    `toml:"rate_hz" default:"48000" range:"8000..192000" unit:"Hz" why:"samples a second; 48000 is native to nearly every card"`
	Format      string `toml:"format" default:"S16_LE" range:"S16_LE|S24_3LE|S24_LE|S32_LE|FLOAT_LE" why:"form of a sample on the card"`
	Channels    int    `toml:"channels" default:"1" range:"1..32" why:"channels to open"`
	Channel     int    `toml:"channel" default:"1" range:"1..32" why:"which of them is the microphone, from 1"`
	ClampOnCard int    `toml:"clamp_channel" default:"0" range:"0..32" why:"which of them is the clamp, if the clamp stands on the same card: clamp.device.kind = \"sound-card\""`
	BufferUs    int    `toml:"buffer_us" default:"200000" range:"10000..2000000" why:"microseconds of the card's own buffer: longer survives a busier machine"`
	PeriodUs    int    `toml:"period_us" default:"20000" range:"2000..500000" why:"microseconds between deliveries; also the delay they add"`
}

// ClampDevice is how current is taken.
type ClampDevice struct {
	Kind     string  `toml:"kind" default:"none" range:"none|sound-card|board|iio" why:"sound-card: a channel of the microphone's card; board: a converter on a port; iio: a converter the kernel knows"`
	Form     string  `toml:"form" default:"waveform" range:"waveform|rms" why:"instantaneous samples, or RMS values"`
	RateHz   float64 `toml:"rate_hz" default:"8000" range:"1..192000" unit:"Hz" why:"samples a second of the board or converter, nominal; the true rate is tracked"`
	SilentS  float64 `toml:"silent_s" default:"2" range:"0.2..600" unit:"s" why:"so long without samples and the source is restarted"`
	LatencyS float64 `toml:"latency_s" default:"0.01" range:"0..5" unit:"s" why:"age of a sample when it arrives"`
	Port     Port    `toml:"port"`
	Board    Board   `toml:"board"`
	IIO      IIO     `toml:"iio"`
}

// Board is how a converter board frames its samples.
type Board struct {
	Frames     string `toml:"frames" default:"text" range:"text|binary" why:"text: numbers in lines; binary: frames of one length"`
	Number     string `toml:"number" default:"int16" range:"int8|uint8|int16|uint16|int24|int32|float32" why:"form of a sample in a binary frame"`
	BigEndian  bool   `toml:"big_endian" default:"false" why:"whether the high byte comes first"`
	Sync       string `toml:"sync" default:"" why:"bytes that begin a binary frame, in hexadecimal digits: \"aa55\""`
	PerFrame   int    `toml:"samples_per_frame" default:"1" range:"1..4096" why:"samples in one frame or line"`
	Counter    string `toml:"counter" default:"none" range:"none|uint8|uint16|uint32" why:"frame counter: after the sync bytes, or the first number of a line; tells how many frames were lost"`
	Checksum   string `toml:"checksum" default:"none" range:"none|xor|sum|crc8|crc16-modbus|crc16-ccitt|crc32" why:"check value at the end of a frame, over what stands between the sync bytes and it"`
	Separator  string `toml:"separator" default:"" why:"what parts the numbers of a line; empty: blanks and commas"`
	CountsFull int    `toml:"full_scale_counts" default:"32768" range:"1..2147483647" why:"number that stands for digital full scale, which is clamp.full_scale_a; for RMS values in amperes it is not used"`
	ZeroCounts int    `toml:"zero_counts" default:"0" range:"0..2147483647" why:"number that stands for no current, such as 2048 of a 12-bit converter with an offset"`
}

// IIO is a converter under /sys/bus/iio.
type IIO struct {
	Device     string  `toml:"device" default:"" why:"name or label of the converter as the kernel tells it; empty: the only one"`
	Channel    string  `toml:"channel" default:"voltage0" why:"channel of it, as in its scan_elements"`
	Buffer     int     `toml:"buffer_samples" default:"256" range:"1..65536" why:"samples the kernel gathers before it delivers"`
	Trigger    string  `toml:"trigger" default:"" why:"trigger to set, if the converter needs one"`
	CountsFull float64 `toml:"full_scale_counts" default:"2048" range:"(0..2147483648]" why:"counts from the zero that stand for clamp.full_scale_a"`
	ZeroCounts float64 `toml:"zero_counts" default:"2048" range:"0..2147483648" why:"counts that stand for no current: half of a 12-bit converter's range"`
}

// Extra is one more channel that matters to a fair test: [[extra]] in bench.toml.
type Extra struct {
	ID        string  `toml:"id" range:"id" why:"names the channel in journals and results, such as water-temperature"`
	Unit      string  `toml:"unit_word" range:"degC|V|A|W|Hz|L/min|kPa|percent|rpm" why:"unit of its numbers after factor and offset"`
	Kind      string  `toml:"kind" default:"line" range:"line|iio" why:"line: lines of text on a port; iio: a slow channel under /sys/bus/iio"`
	Factor    float64 `toml:"factor" default:"1" range:"-1000000000..1000000000" why:"what the device's number is multiplied with"`
	Offset    float64 `toml:"offset" default:"0" range:"-1000000000..1000000000" why:"what is added then"`
	IntervalS float64 `toml:"interval_s" default:"1" range:"0.05..600" unit:"s" why:"time between readings of an IIO channel"`
	SilentS   float64 `toml:"silent_s" default:"10" range:"0.2..600" unit:"s" why:"so long without a reading and the source is restarted"`
	LatencyS  float64 `toml:"latency_s" default:"0" range:"0..60" unit:"s" why:"age of a reading when it arrives"`
	Port      Port    `toml:"port"`
	Frame     Frame   `toml:"frame"`
	IIO       IIO     `toml:"iio"`
}

// Pages is who sees the pages: [pages] in bench.toml.
type Pages struct {
	Viewers bool `toml:"viewers" default:"false" why:"on the network, whoever has not paired may watch, but not act; off, for what a bench shows is not published yet"`
}

// Record is how the daemon keeps sessions: [record] in bench.toml.
type Record struct {
	PreRollS   float64 `toml:"pre_roll_s" default:"30" range:"2..300" unit:"s" why:"kept in memory, so that a run is whole even if nobody pressed anything"`
	CloseAfter float64 `toml:"close_after_s" default:"0" range:"0..86400" unit:"s" why:"time after the last stop at which a session closes by itself; 0: the procedure's longest pause"`
	LongestS   float64 `toml:"longest_s" default:"14400" range:"60..86400" unit:"s" why:"longest session: whatever runs on gets a new one"`
	SyncS      float64 `toml:"sync_s" default:"0.5" range:"0.05..1" unit:"s" why:"time between syncs of the journal: what a loss of power can cost"`
	DiskWarnMB int     `toml:"disk_warn_mb" default:"2000" range:"1..100000000" why:"megabytes left from which the disk is said to be filling: some two hours of waveforms"`
	DiskDropMB int     `toml:"disk_drop_mb" default:"200" range:"1..100000000" why:"megabytes left from which waveforms are no longer kept, so that the journal still is"`
	Encoding   string  `toml:"encoding" default:"pcm24" range:"pcm16|pcm24|pcm32|float32" why:"form of a sample in the recordings of sampled channels: at least that of the devices"`
}
