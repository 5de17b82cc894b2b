package sim

// portion draws a charge.
func (d *drawer) portion() Portion {
	p := Portion{SoftG: d.between(80, 320), Pieces: 2 + d.r.IntN(5), Hardness: d.between(0.35, 0.9), Loud: d.between(15, 23)}
	if d.hard {
		p.SoftG, p.Pieces, p.Hardness, p.Loud = d.between(0, 400), d.r.IntN(6), d.between(0.1, 1.2), d.between(8, 25)
	}
	return p
}

// feeds draws the feeding.
func (d *drawer) feeds() []Act {
	out := acts(Act{Do: Feed, After: Running, DelayS: d.between(2.5, 4), Portion: d.portion()})
	for range 1 + d.r.IntN(3) {
		out = append(out, Act{Do: Feed, DelayS: d.between(2, 6), Portion: d.portion()})
	}
	if d.chance(0.4) {
		out[len(out)-1].Stubborn = 1
	}
	return out
}

// begin draws the acts up to the first start.
func (d *drawer) begin() []Act {
	a := acts(Act{Do: BowlOn, AtS: 0.7, Grams: d.between(1200, 2500)}, Act{Do: TapOn, AtS: d.between(2.6, 4)}, Act{Do: SwitchOn, DelayS: d.between(0.8, 2)})
	if d.hard {
		a[1].AtS = d.between(0.3, 4)
		if d.chance(0.2) { // water after the start
			a[1], a[2] = Act{Do: SwitchOn, AtS: d.between(2, 4)}, Act{Do: TapOn, DelayS: d.between(0.5, 3)}
		}
	}
	return a
}

// end draws the flush, the stop and the tap.
func (d *drawer) end() []Act {
	flush := d.between(6.5, 10)
	if d.hard {
		flush = d.between(0.5, 10)
	}
	out := acts(Act{Do: SwitchOff, After: Clear, DelayS: flush}, Act{Do: TapOff, DelayS: d.between(0.4, 1.5)}, Act{Do: BowlOff, DelayS: 0.3})
	if d.chance(0.2) { // water off before the motor, as no instruction wants it
		out = acts(Act{Do: TapOff, After: Clear, DelayS: 0.6 * flush}, Act{Do: SwitchOff, DelayS: 0.4 * flush}, Act{Do: BowlOff, DelayS: 0.3})
	}
	return out
}

// repair draws what follows on a stop out of a jam: free it, wait, start again.
func (d *drawer) repair() []Act {
	cool := d.between(8, 12)
	return acts(Act{Do: SwitchOff, After: Stopped, DelayS: d.between(0.3, 1)}, Act{Do: Unjam, DelayS: d.between(1, 2)}, Act{Do: SwitchOn, DelayS: cool})
}

// plot draws the acts.
func (d *drawer) plot(sc *Scenario) {
	jam := func(holdS float64) Act {
		return Act{Do: Jam, DelayS: d.between(1.5, 4), HoldS: holdS, Torque: d.between(3, 6)}
	}
	again := func(a, b float64) []Act {
		return acts(Act{Do: SwitchOff, DelayS: d.between(2, 5)}, Act{Do: SwitchOn, DelayS: d.between(a, b)})
	}
	wad := func(holdS float64) Act {
		return Act{Do: Wad, DelayS: d.between(1.5, 3), HoldS: holdS, Torque: sc.Unit.torqueFor(d.between(1.4, 1.65))}
	}
	begin, feeds, end := d.begin(), d.feeds(), d.end()
	middle := func(a ...Act) []Act { return a }
	switch d.pick(30, 12, 13, 6, 8, 5, 7, 5, 5, 5, 4) {
	case 0:
		sc.Acts = program(begin, feeds, end)
	case 1: // a stall that frees itself
		holds := d.between(0.6, 2.4)
		if sc.Unit.Motor == magnetMotor && !d.hard {
			sc.Unit.ShutOffS = d.between(3.5, 6)
		}
		if d.hard {
			holds = d.between(0.2, 3.5)
		}
		sc.Acts = program(begin, feeds, middle(jam(holds)), end)
	case 2: // a stall until protector or electronics open
		sc.Acts = program(begin, feeds, middle(jam(0)), d.repair(), end)
	case 3: // a stall that somebody switches off
		sc.Acts = program(begin, feeds, middle(jam(0), Act{Do: SwitchOff, After: Locked, DelayS: d.between(0.6, 2.4)}), d.repair(), end)
	case 4: // an overload
		sc.Acts = program(begin, feeds, middle(wad(d.between(2.8, 6))), end)
	case 5: // an overload that ends in a stall
		sc.Acts = program(begin, feeds, middle(wad(30), Act{Do: Jam, After: Heavily, DelayS: d.between(2.8, 4.5), Torque: 5}, Act{Do: Empty, After: Stopped, DelayS: 2}, Act{Do: SwitchOff, DelayS: 0.5},
			Act{Do: SwitchOn, DelayS: d.between(8, 12)}, Act{Do: Feed, After: Running, DelayS: 2.5, Portion: d.portion()}), end)
	case 6: // looks inside
		sc.Acts = program(begin, feeds, again(3, 8), end)
	case 7: // jogs
		n := 1 + d.r.IntN(3)
		a := begin
		for range n {
			a = append(a, Act{Do: SwitchOff, DelayS: d.between(0.2, 0.6)}, Act{Do: SwitchOn, DelayS: d.between(0.5, 1.5)})
		}
		sc.Acts = program(a, feeds, end)
	case 8: // does not start
		stop := middle()
		if d.chance(0.6) {
			stop = middle(Act{Do: SwitchOff, After: Locked, DelayS: d.between(0.8, 2.4)})
		}
		a := append(begin[:len(begin)-1:len(begin)-1], Act{Do: Jam, DelayS: 0.2}, begin[len(begin)-1])
		sc.Acts = program(a, stop, d.repair(), feeds, end)
	case 9: // switched off loaded, perhaps for good, perhaps for less than a second
		if d.chance(0.5) {
			sc.Acts = program(begin, feeds, again(0.35, 0.95), end)
		} else {
			sc.Acts = program(begin, feeds, middle(Act{Do: SwitchOff, DelayS: d.between(1, 2.5)}, Act{Do: TapOff, DelayS: 1}))
		}
	case 10: // two runs
		sc.Procedure.LongestPauseS = 4
		sc.Acts = program(begin, feeds[:1], end, middle(Act{Do: TapOn, DelayS: 1}, Act{Do: SwitchOn, DelayS: d.between(5, 7)},
			Act{Do: Feed, After: Running, DelayS: d.between(2.5, 4), Portion: d.portion()}), d.end())
	}
}

// mishaps draws what else happens.
func (d *drawer) mishaps(sc *Scenario) {
	add := func(kind string, at, lasts, amount float64) {
		sc.Mishaps = append(sc.Mishaps, Mishap{kind, at, lasts, amount})
	}
	often := 0.12
	if d.hard {
		often = 0.45
	}
	for range 3 {
		if d.chance(often) {
			add(Clap, d.between(0.5, 50), 0, d.between(80, 98))
		}
		if d.chance(often) {
			add(Voice, d.between(0.5, 50), d.between(1, 6), d.between(60, 72))
		}
		if d.chance(often) {
			add(Knock, d.between(0.5, 50), 0, d.between(70, 90))
		}
	}
	if !d.hard {
		return
	}
	rated := sc.Unit.RatedCurrentA
	if d.chance(0.15) {
		add(Fridge, d.between(0, 40), d.between(5, 40), rated*d.between(0.1, 0.3))
	}
	if d.chance(0.1) {
		add(Kettle, d.between(0, 40), d.between(3, 30), rated*d.between(0.5, 1.8))
	}
	if d.chance(0.2) {
		add(Lamps, 0, 200, rated*d.between(0.02, 0.08))
	}
	if d.chance(0.15) {
		add(Dip, d.between(5, 40), d.between(0.03, 0.4), d.between(0.1, 0.5))
	}
	if d.chance(0.06) {
		add(DeadClamp, d.between(5, 40), d.between(1, 6), 0)
	}
}
