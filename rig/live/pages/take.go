package pages

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"quern/rig"
	"quern/rig/live"
)

// typed reads a number as it is typed at the bench, with a point or a comma.
func typed(text string) (float64, error) {
	return strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
}

func (s *Site) weigh(r *http.Request, act string, field func(string) string) (string, error) {
	asked := map[string]any{"act": act}
	for _, k := range []string{"role", "item", "vessel"} {
		if v := field(k); v != "" {
			asked[k] = v
		}
	}
	if g := field("tare_g"); g != "" {
		v, err := typed(g)
		if err != nil {
			return "", fmt.Errorf("found tare %q, expected grams such as 212", g)
		}
		asked["tare_g"] = v
	}
	if field("force") != "" {
		asked["force"] = true
	}
	got, err := s.ask(r, asked)
	if err != nil || act == "expect" {
		return "it is taken by itself when it rests", err
	}
	var x live.WeighingNow
	if err := json.Unmarshal(got, &x); err != nil {
		return "", err
	}
	p := s.procedure(s.opts.Engine.Now())
	s.bench.observe(s.opts.Engine.Now(), &p)
	return fmt.Sprintf("taken: %s, %s g", weighed1(x), shown(x.NetG, 0)), nil
}

func (s *Site) check(r *http.Request, field func(string) string) (string, error) {
	kind := rig.CheckKind(field("kind"))
	asked := map[string]any{"act": "check", "kind": string(kind)}
	for _, k := range []string{"nominal", "found"} {
		if t := field(k); t != "" {
			v, err := typed(t)
			if err != nil {
				return "", fmt.Errorf("found %q, expected a number such as 93.9", t)
			}
			asked[k] = v
		}
	}
	got, err := s.ask(r, asked)
	if err != nil {
		return "", err
	}
	var on live.OnRecord
	if err := json.Unmarshal(got, &on); err != nil {
		return "", err
	}
	s.bench.did(undo{what: "check of the " + string(kind) + ", " + field("found"),
		asked: map[string]any{"act": "correct", "target": "check." + strconv.Itoa(on.Fact), "new": "withdrawn", "why": "taken back at the bench"}})
	return "on record: " + on.Say, nil
}
