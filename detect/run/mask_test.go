package run

import (
	"math"
	"slices"
	"testing"

	"quern/rig"
)

// chamberOf makes a run of an invented induction motor out of blocks: a calm empty chamber, and what a change does
// to the blocks it names. Sound is as loud above 4 kHz as an impact's unless the change says otherwise.
func chamberOf(seconds float64, change func(atS float64, b *block)) *loads {
	l := &loads{induction: true, stretches: []Interval{{0, seconds}}}
	l.set.BandInduction, l.set.BandSigmas = 0.02, 4
	for k := 0; float64(k)*blockS < seconds; k++ {
		at := float64(k) * blockS
		wave := math.Sin(1.7*float64(k)) + math.Sin(2.9*float64(k)) // stands in for noise
		b := block{fromS: at, toS: at + blockS, meanA: float32(4 + 0.002*wave), sdA: 0.002, sdRad: 0.0006,
			laDB: float32(70 + 0.1*wave), topDB: float32(70.7 + 0.1*wave), trebleDB: float32(55 + 0.2*wave), young: at < youngS}
		change(at, &b)
		l.blocks = append(l.blocks, b)
	}
	return l
}

// within says whether an instant lies in a block's tenth from a beginning on for some blocks.
func within(atS, fromS float64, blocks int) bool {
	return atS > fromS-blockS/2 && atS < fromS+(float64(blocks)-0.5)*blockS
}

// blind makes a block one of slow, noisy readings.
func blind(atS float64, b *block) {
	b.meanA += float32(0.03 * math.Sin(23*atS))
	b.sdA, b.sdRad = 0, 0
}

func loud(b *block, overDB, trebleOverDB float32) {
	b.laDB += overDB * 0.7
	b.topDB += overDB
	b.trebleDB += trebleOverDB
}

// endsOf returns the first and the last loaded block; -1: none.
func endsOf(load []bool) (first, last int) {
	first, last = slices.Index(load, true), -1
	for i, l := range load {
		if l {
			last = i
		}
	}
	return first, last
}

// TestMask: load is what current and sound show at once. Each disturbance alone is none, however strong.
func TestMask(t *testing.T) {
	grind := func(at float64, b *block) {
		if at > 4.95 && at < 10 {
			b.meanA, b.sdA, b.sdRad = b.meanA+0.6, 0.04, 0.02
			loud(b, 8+float32(math.Mod(at*7, 3)), 10+float32(math.Mod(at*7, 3)))
		}
	}
	impact := func(b *block) {
		b.sdA, b.sdRad = 0.01, 0.006
		loud(b, 12, 12)
	}
	for _, c := range []struct {
		name   string
		change func(at float64, b *block)
		endS   float64
	}{
		{"nothing else", func(float64, *block) {}, 10},
		{"a clap", func(at float64, b *block) {
			if within(at, 15, 2) {
				loud(b, 20, 20)
			}
		}, 10},
		{"a voice", func(at float64, b *block) {
			if at > 14 && at < 19 && math.Mod(at, 0.4) < 0.25 {
				loud(b, 12, 4)
			}
		}, 10},
		{"water turned on", func(at float64, b *block) {
			if at > 13 {
				loud(b, 3, 10)
			}
		}, 10},
		{"water turned on where the clamp is blind", func(at float64, b *block) {
			blind(at, b)
			if at > 20 {
				loud(b, 3, 10)
			}
		}, 10},
		{"a voice where the clamp is blind", func(at float64, b *block) {
			blind(at, b)
			if at > 14 && at < 19 && math.Mod(at, 0.4) < 0.25 {
				loud(b, 12, 4)
			}
		}, 10},
		{"a dip of the supply", func(at float64, b *block) {
			switch {
			case within(at, 15, 2):
				b.meanA, b.sdA, b.sdRad = 2.5, 0.3, 0.1
			case within(at, 15.2, 2):
				b.meanA, b.sdA, b.sdRad = 4.5, 0.2, 0.05
			}
		}, 10},
		{"electronics that try to start it again and again", func(at float64, b *block) {
			switch k := int(math.Round(at / blockS)); {
			case at < 0.25 || at > 2.95:
			case k%5 > 2: // off
				b.meanA, b.sdA, b.sdRad = 0.3, 0.003, 0.01
			case k%5 == 0 || k%5 == 2: // a step in it
				b.meanA, b.sdA, b.sdRad = 7, 2, 0.02
			default:
				b.meanA, b.sdA = 12, 0.0005
			}
		}, 10},
		{"a current that wanders", func(at float64, b *block) {
			if at > 12 && at < 20 {
				b.meanA += float32(0.12 * math.Sin((at-12)/8*math.Pi))
			}
		}, 10},
		{"a current that steps unheard", func(at float64, b *block) {
			if at > 13 && at < 18 {
				b.meanA += 0.12
			}
		}, 10},
		{"a compressor that came under load and stays", func(at float64, b *block) {
			if at > 7.95 {
				b.meanA += 1.2
			}
		}, 10},
		{"a piece that hides for six seconds", func(at float64, b *block) {
			if within(at, 16, 1) || within(at, 16.3, 1) {
				impact(b)
			}
		}, 16.4},
		{"one last impact", func(at float64, b *block) {
			if within(at, 13, 1) {
				impact(b)
			}
		}, 13.1},
		{"soft food that bites and is not heard", func(at float64, b *block) {
			if at > 10 && at < 14 {
				bite := float32(math.Abs(math.Sin(9 * at)))
				b.meanA, b.sdA, b.sdRad = b.meanA+0.3+0.4*bite, 0.01+0.1*bite, 0.002+0.01*bite
			}
		}, 14},
		{"an impact that a voice hides", func(at float64, b *block) {
			if within(at, 14, 1) {
				impact(b)
			} else if at > 12 && at < 17 && math.Mod(at, 0.4) < 0.25 {
				loud(b, 12, 4)
			}
		}, 14.1},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := chamberOf(25, func(at float64, b *block) { grind(at, b); c.change(at, b) })
			tp, ok := l.learn()
			if !ok {
				t.Fatal("no empty chamber found")
			}
			load := l.mask(&tp)
			first, last := endsOf(load)
			if first < 0 || !(math.Abs(l.blocks[first].fromS-5) <= 0.15) || !(math.Abs(l.blocks[last].toS-c.endS) <= 0.25) {
				t.Errorf("load from block %d to %d; want from 5 s to %.1f s", first, last, c.endS)
			}
		})
	}
}

// TestMaskAbsent: where nothing is heard the current decides, where it shows no unrest the sound does; a stall is load.
func TestMaskAbsent(t *testing.T) {
	nan := float32(math.NaN())
	for name, change := range map[string]func(in bool, b *block){
		"deaf": func(in bool, b *block) {
			b.laDB, b.topDB, b.trebleDB = nan, nan, nan
			if in {
				b.meanA, b.sdA, b.sdRad = b.meanA+0.6, 0.04, 0.02
			}
		},
		"slow readings": func(in bool, b *block) {
			b.sdA, b.sdRad = 0, 0
			if in {
				b.meanA += 0.3
				loud(b, 10+float32(math.Mod(b.fromS*7, 3)), 12+float32(math.Mod(b.fromS*7, 3)))
			}
		},
		"held": func(in bool, b *block) { b.held = in },
		"held, and as steady as another appliance": func(in bool, b *block) {
			if b.held = in; in {
				b.meanA *= 3
				b.laDB, b.topDB, b.trebleDB = b.laDB+10, b.topDB+10, b.trebleDB+10
			}
		},
	} {
		l := chamberOf(20, func(at float64, b *block) { change(at > 4.95 && at < 10, b) })
		tp, ok := l.learn()
		if !ok {
			t.Fatalf("%s: no empty chamber found", name)
		}
		f := Found{On: []Interval{{0, 20}}}
		l.tell(&f, &tp, l.mask(&tp))
		got := map[rig.Kind]float64{}
		for _, e := range f.Events {
			got[e.Kind] = e.AtS.V
		}
		if len(f.Events) != 2 || !(math.Abs(got[rig.LoadStart]-5) <= 0.25) || !(math.Abs(got[rig.LoadEnd]-10) <= 0.25) {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// TestStillPhase: in a run whose phase stands stiller than a supply's ever does, its standing still does not hide a
// step of the current.
func TestStillPhase(t *testing.T) {
	l := chamberOf(20, func(at float64, b *block) {
		b.sdA, b.sdRad = 0.002, 0.0001
		if within(at, 10, 1) {
			b.meanA += 0.008
		}
	})
	tp, ok := l.learn()
	if !ok {
		t.Fatal("no empty chamber found")
	}
	if e := l.evidence(100, &tp); e.rough < 1 {
		t.Errorf("a step four times the usual one is %.1f nats of unrest; want more than 1", e.rough)
	}
}

// A motor whose current follows the load draws many times its no-load current when it is loaded, whether that is heard
// or not; nothing else does, unless another appliance was seen.
func TestFollowerIsBelieved(t *testing.T) {
	loadedFor := func(foreign bool) float64 {
		l := chamberOf(20, func(at float64, b *block) {
			b.sdRad = 0
			if at > 4.95 && at < 10 {
				b.meanA *= 4
			}
		})
		l.induction = false
		if foreign {
			l.foreign = []Interval{{4.9, 5.1}, {9.9, 10.1}}
		}
		return maskedS(t, l)
	}
	if s := loadedFor(false); !(math.Abs(s-5) <= 0.3) {
		t.Errorf("load for %.1f s, want 5", s)
	}
	if s := loadedFor(true); s > 0.3 {
		t.Errorf("load for %.1f s beside an appliance that was seen to come and go, want none", s)
	}
}

// TestEvenLoad: what is pressed in evenly lifts current and sound at once. Water and a supply that rises come each when
// they want.
func TestEvenLoad(t *testing.T) {
	water := func(b *block) { loud(b, 7, 7) }
	for _, c := range []struct {
		name        string
		waterFromS  float64
		shiftFromS  float64
		shiftA      float32
		loadedFromS float64 // 0: not
	}{
		{"pressed in", 5, 5, 0.45, 5},
		{"water alone", 5, 99, 0, 0},
		{"more current alone", 99, 5, 0.45, 0},
		{"water, and more current later, by and by", 5, 7, 0.45, 0},
		{"water, and a little more current with it", 5, 5, 0.12, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := chamberOf(15, func(at float64, b *block) {
				if at > c.waterFromS-0.05 && at < 9.95 {
					water(b)
				}
				if at > c.shiftFromS-0.05 && at < 9.95 {
					rise := float32(1)
					if c.waterFromS < c.shiftFromS {
						rise = min(1, float32(at-c.shiftFromS))
					}
					b.meanA += c.shiftA * rise
				}
			})
			tp, ok := l.learn()
			if !ok {
				t.Fatal("no empty chamber found")
			}
			load := l.mask(&tp)
			n := 0
			for i := range load {
				if load[i] {
					n++
					if f := l.blocks[i].fromS; c.loadedFromS > 0 && (f < c.loadedFromS-0.15 || f > 10.05) {
						t.Fatalf("load in the block at %.1f s", f)
					}
				}
			}
			if c.loadedFromS > 0 && n < 48 || c.loadedFromS == 0 && n > 5 { // what comes at once looks like load for some tenths
				t.Errorf("load in %d blocks", n)
			}
		})
	}
}

// TestFollowerRises: what follows the load shows a light one, however smooth, by what it draws more than before and
// after. One that comes to rest, or warms up, draws more than on one side only.
func TestFollowerRises(t *testing.T) {
	for _, c := range []struct {
		name   string
		more   func(at float64) float64 // share
		blocks int                      // loaded from 10 s on; 0: none
	}{
		{"a soft piece", func(at float64) float64 {
			if at > 9.95 && at < 11.2 {
				return 0.05 * math.Sin((at-9.95)/1.25*math.Pi)
			}
			return 0
		}, 7},
		{"comes to rest by and by", func(at float64) float64 { return 0.06 * math.Exp(-at/2) }, 0},
		{"warms up", func(at float64) float64 { return 0.06 * at / 20 }, 0},
		{"another height from then on", func(at float64) float64 {
			if at > 10 {
				return 0.03
			}
			return 0
		}, 0},
	} {
		l := chamberOf(20, func(at float64, b *block) {
			b.sdRad = 0
			b.meanA *= float32(1 + c.more(at))
		})
		l.induction = false
		l.set.BandOther = 0.1
		tp, ok := l.learn()
		if !ok {
			t.Fatalf("%s: no empty chamber found", c.name)
		}
		n := 0
		for i, load := range l.mask(&tp) {
			if load {
				n++
				if at := l.blocks[i].fromS; at < 9.9 || at > 11.3 {
					t.Errorf("%s: load at %.1f s", c.name, at)
				}
			}
		}
		if c.blocks == 0 && n > 0 || n < c.blocks {
			t.Errorf("%s: load in %d blocks, want %d", c.name, n, c.blocks)
		}
	}
}

// TestHeaterWanders: the supply makes what a heater draws wander as it makes the motor's, and no load of it.
func TestHeaterWanders(t *testing.T) {
	l := chamberOf(30, func(at float64, b *block) {
		b.sdRad = 0
		b.meanA, b.sdA = 4+4*(b.meanA-4), 0.008
		if at < 7.95 { // it is on
			b.guestA, b.meanA, b.sdA = 12, 4*b.meanA, 4*b.sdA
			loud(b, 0.3, 0.3)
		}
		if at > 9.95 && at < 14 {
			b.meanA, b.sdA = b.meanA+1, 0.1
			loud(b, 9, 9)
		}
	})
	l.induction = false
	tp, ok := l.learn()
	if !ok {
		t.Fatal("no empty chamber found")
	}
	first, last := endsOf(l.mask(&tp))
	if first < 0 || !(math.Abs(l.blocks[first].fromS-10) <= 0.25) || !(math.Abs(l.blocks[last].toS-14) <= 0.25) {
		t.Errorf("load in blocks %d to %d, of %d", first, last, len(l.blocks))
	}
}

// TestReadingsHideLight: what an induction motor's readings do not show does not outweigh what is heard of a piece that
// had been silent.
func TestReadingsHideLight(t *testing.T) {
	l := chamberOf(30, func(at float64, b *block) {
		b.sdA, b.sdRad = 0, 0
		if at > 4.95 && at < 10 {
			b.meanA += 0.3
			loud(b, 10+float32(math.Mod(at*7, 3)), 12+float32(math.Mod(at*7, 3)))
		}
		if within(at, 18, 2) || within(at, 18.5, 1) {
			loud(b, 10, 9)
		}
	})
	tp, ok := l.learn()
	if !ok {
		t.Fatal("no empty chamber found")
	}
	if _, last := endsOf(l.mask(&tp)); !(math.Abs(l.blocks[last].toS-18.6) <= 0.25) {
		t.Errorf("load until %.1f s, want 18.6", l.blocks[last].toS)
	}
}

// TestPicksUpSpeed: after a dip of the supply a motor draws more until it is up to speed again, and nothing fell in.
func TestPicksUpSpeed(t *testing.T) {
	nan := float32(math.NaN())
	l := chamberOf(20, func(at float64, b *block) {
		b.sdRad, b.laDB, b.topDB, b.trebleDB = 0, nan, nan, nan
		switch {
		case at > 10.25:
			b.meanA *= 1 + 0.12*float32(math.Exp((10.25-at)/0.2))
		case at > 9.95:
			b.meanA *= 0.7
		}
	})
	l.induction = false
	l.set.BandOther = 0.1
	if s := maskedS(t, l); s > 0 {
		t.Errorf("load for %.1f s, want none", s)
	}
}
