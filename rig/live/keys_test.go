package live

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"quern/acquire"
	"quern/rig"
)

// The scale's keys are pressed from a keyboard; a weighing that follows has the vessel taken off already, and the session says
// why the indication stepped. Nobody tares a pan that shakes.
func TestKeysOfTheScale(t *testing.T) {
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		d.put(200)
		b.do(Ask{Act: Tare, Who: "ann"}) // no session is open
		b.refuses(Ask{Act: Zero, Who: "ann"}, "nothing can be sent")
		d.put(700)
		w := b.do(Ask{Act: Weigh, Expect: Expect{Role: rig.Charge, Item: "carrot", TareG: rig.Fig(0)}}).Weighing
		if w.NetG.V != 500 {
			t.Errorf("tared: %g g net, want 500", w.NetG.V)
		}
		d.turn(true, 5*time.Second)
		b.refuses(Ask{Act: Tare}, "the motor runs and shakes the pan: tare the scale when it stands")
		b.do(Ask{Act: Tare, Force: true})
		d.turn(false, 3*time.Second)
		code, text := b.ask("POST", "/act", `{"act":"tare","who":"ann"}`, nil)
		if code != http.StatusOK || text != "done\n" {
			t.Errorf("over HTTP: %d %q", code, text)
		}
		if code, text := b.ask("POST", "/act", `{"act":"zero"}`, nil); code != http.StatusConflict || !strings.Contains(text, "nothing can be sent") {
			t.Errorf("over HTTP: %d %q", code, text)
		}
		b.do(Ask{Act: End})
		var said []string
		for _, r := range facts(t, b.closed[0].dir).Remarks {
			said = append(said, fmt.Sprint(r.Text, ", ", r.Who))
		}
		if want := []string{"the scale was told to tare, ", "the scale was told to tare, ann"}; !slices.Equal(said, want) {
			t.Errorf("on record %q, want %q", said, want)
		}
	})
}

// A scale without commands, and no scale.
func TestNoKeys(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, weighSetup(), nil, acquire.Source{Device: struct{ acquire.Device }{&table{}}, SilentS: 2})
		defer b.stop()
		b.refuses(Ask{Act: Tare}, "the table takes no commands: press the key on it")
	})
	synctest.Test(t, func(t *testing.T) {
		b := start(t, weighSetup(), nil, acquire.Source{Device: &clampOnly{}, SilentS: 2})
		defer b.stop()
		b.refuses(Ask{Act: Tare}, "this bench has no scale")
	})
}

// clampOnly is a device that delivers no mass.
type clampOnly struct{ table }

func (*clampOnly) Streams() []rig.Stream {
	return []rig.Stream{{Channel: rig.Clamp, Form: rig.RMS, Unit: rig.Ampere}}
}
