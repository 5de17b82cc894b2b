package gate

import (
	"fmt"
	"net/http/httptest"
	"testing"
	"testing/synctest"
	"time"
)

func TestCodes(t *testing.T) {
	try := func(h *house, peer, code string) error {
		r := httptest.NewRequest("POST", "http://"+atHome+"/pair", nil)
		r.RemoteAddr = peer + ":51000"
		return h.Pair(httptest.NewRecorder(), r, code, "Alex")
	}
	wrong := func(code string) string { return string('0'+(code[0]-'0'+1)%10) + code[1:] }
	synctest.Test(t, func(t *testing.T) {
		h := newHouse(t, Options{})
		if err := try(h, onNetwork, ""); err != errNoCode {
			t.Errorf("without a code: %v", err)
		}
		code, until := h.Code()
		if len(code) != 6 || time.Until(until) != codeHolds {
			t.Errorf("code %q until %v", code, until)
		}
		if err := try(h, onNetwork, wrong(code)); err != errWrongCode {
			t.Errorf("a wrong code: %v", err)
		}
		if err := try(h, onNetwork, code[:3]+" "+code[3:]); err != nil {
			t.Errorf("the code: %v", err)
		}
		if err := try(h, onNetwork, code); err != errNoCode {
			t.Errorf("the code again: %v", err)
		}
		code, _ = h.Code()
		time.Sleep(codeHolds)
		if err := try(h, onNetwork, code); err != errNoCode {
			t.Errorf("the code after ten minutes: %v", err)
		}
	})
	synctest.Test(t, func(t *testing.T) { // one guesses
		h := newHouse(t, Options{})
		code, _ := h.Code()
		for range 5 {
			if err := try(h, onNetwork, wrong(code)); err != errWrongCode {
				t.Error(err)
			}
		}
		if err := try(h, onNetwork, code); err != errTooOften {
			t.Errorf("the sixth try within a minute: %v", err)
		}
		if err := try(h, "192.0.2.21", code); err == nil {
			t.Error("a code outlasts five wrong tries")
		}
		if !h.Waiting() {
			t.Error("no other code took its place")
		}
	})
	synctest.Test(t, func(t *testing.T) { // many guess together
		h := newHouse(t, Options{})
		code, _ := h.Code()
		tries := 0
		for i := 0; h.Waiting() && i < 1000; i++ {
			if err := try(h, fmt.Sprintf("192.0.2.%d", i%250), "x"+code); err == errWrongCode {
				tries++
			}
		}
		if tries != triesInAll {
			t.Errorf("%d tries of one code that was asked for, want %d", tries, triesInAll)
		}
	})
}
