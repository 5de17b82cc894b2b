package session_test

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/session"
)

// A journal as it lies in the folder: plain line protocol, each batch followed by its proof.
func Example() {
	parent, err := os.MkdirTemp("", "session")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(parent)
	dir := filepath.Join(parent, "monday-1")
	w, err := session.Create(dir, session.Head{
		Setup: config.Setup{
			Bench: config.Bench{Name: "kitchen bench"}, Unit: config.Unit{ID: "unit-a"}, Procedure: config.Procedure{ID: "mixed"},
		},
		Started: time.Date(2026, 3, 2, 9, 30, 0, 0, time.UTC),
		Tool:    "quern",
		Streams: []session.Stream{{Stream: rig.Stream{Channel: rig.Scale, Form: rig.Mass, Unit: rig.Gram}}},
		Live:    true,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer w.Close()
	steps := []func() error{
		func() error {
			return w.AppendReading(rig.Scale, rig.Reading{AtS: 0.125, Value: 2512, Stable: rig.Yes})
		},
		func() error {
			return w.AppendEvent(1, rig.Event{Kind: rig.MotorStart, AtS: rig.Fig(4.21), WithinS: rig.Fig(0.002),
				Sure: rig.Fig(1), Evidence: "current rose from 0 to 30.2 A"})
		},
		w.Sync,
		func() error {
			_, err := w.AppendRemark(rig.Remark{AtS: 61.5, Run: 1, Text: "bone under the guard"})
			return err
		},
		func() error {
			_, err := w.AppendWeighing(rig.Weighing{AtS: 300, Run: 1, Role: rig.Chamber, Vessel: "bowl-2",
				GrossG: rig.Fig(231), TareG: rig.Fig(205), NetG: rig.Fig(26), Stable: rig.Yes, DrainedS: rig.Fig(60)})
			return err
		},
		w.Seal,
	}
	for _, step := range steps {
		if err := step(); err != nil {
			fmt.Println(err)
			return
		}
	}
	text, err := os.ReadFile(filepath.Join(dir, "journal.lp"))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Print(string(text))
	// Output:
	// # Journal of one session in line protocol. 0 s is 2026-03-02T09:30:00Z.
	// # t_s counts seconds from there; the last number of a line is the same in nanoseconds since 1970.
	// # batch n=2 crc32c=9992021e
	// scale,bench=kitchen\ bench,procedure=mixed,unit=unit-a mass_g=2512,stable=true,t_s=0.125 1772443800125000000
	// event,bench=kitchen\ bench,kind=motor_start,procedure=mixed,run=1,unit=unit-a within_s=0.002,sure=1,evidence="current rose from 0 to 30.2 A",t_s=4.21 1772443804210000000
	// # batch n=2 crc32c=ca828ab0
	// mark,bench=kitchen\ bench,procedure=mixed,run=1,unit=unit-a fact=1i,text="bone under the guard",t_s=61.5 1772443861500000000
	// weighing,bench=kitchen\ bench,procedure=mixed,role=chamber,run=1,unit=unit-a,vessel=bowl-2 fact=2i,gross_g=231,tare_g=205,net_g=26,stable=true,drained_s=60,t_s=300 1772444100000000000
	// # batch n=2 crc32c=570d3ca1
}
