package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"quern/rig/live"
)

// askDaemon sends a request to a daemon and returns the body of its answer.
func askDaemon(method, address, path string, body any) ([]byte, error) {
	var sent io.Reader
	if body != nil {
		b, err := json.Marshal(body)
		if err != nil {
			return nil, err
		}
		sent = bytes.NewReader(b)
	}
	req, err := http.NewRequest(method, "http://"+address+path, sent)
	if err != nil {
		return nil, usageError{fmt.Errorf("found --at %q, expected an address such as 127.0.0.1:8750", address)}
	}
	client := http.Client{Timeout: 10 * time.Second}
	resp, err := client.Do(req)
	if err != nil {
		return nil, fmt.Errorf("no daemon answers at %s: is 'quern serve' running? (%w)", address, err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(io.LimitReader(resp.Body, 4<<20))
	if err != nil {
		return nil, err
	}
	if resp.StatusCode != http.StatusOK {
		return nil, fmt.Errorf("the daemon refuses: %s", strings.TrimSpace(string(b)))
	}
	return b, nil
}

func statusCommand(e env) *cobra.Command {
	var at string
	var asJSON bool
	c := &cobra.Command{
		Use:     "status",
		Short:   "Ask the running daemon how it does, and print one screen",
		Example: "  quern status\n  quern status --at 192.168.1.20:8750 --json",
		Args:    arguments(cobra.NoArgs),
		RunE: func(c *cobra.Command, args []string) error {
			b, err := askDaemon(http.MethodGet, at, "/status", nil)
			if err != nil {
				return err
			}
			if asJSON {
				_, err := e.out.Write(b)
				return err
			}
			var s live.Snapshot
			if err := json.Unmarshal(b, &s); err != nil {
				return fmt.Errorf("%s answers, but not as a daemon of this version does: %w", at, err)
			}
			return s.Print(e.out)
		},
	}
	c.Flags().StringVar(&at, "at", "127.0.0.1:8750", "address of the daemon")
	c.Flags().BoolVar(&asJSON, "json", false, "print the daemon's answer as JSON")
	return c
}

func actCommand(e env) *cobra.Command {
	var at, unit, procedure string
	c := &cobra.Command{
		Use:   "act begin|end|mark TEXT|choose",
		Short: "Ask the running daemon to begin or end a session, note a mark, or choose the next unit",
		Example: `  quern act mark "held back piece is in"
  quern act end
  quern act choose --unit unit-b --procedure fibrous`,
		Args: arguments(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			ask := live.Asked{Act: live.Act(args[0]), Text: strings.Join(args[1:], " "), Unit: unit, Procedure: procedure}
			if ask.Act != live.Mark && len(args) > 1 {
				return usageError{fmt.Errorf("act: %s takes no text; see 'quern act --help'", ask.Act)}
			}
			_, err := askDaemon(http.MethodPost, at, "/act", ask)
			return err
		},
	}
	c.Flags().StringVar(&at, "at", "127.0.0.1:8750", "address of the daemon")
	c.Flags().StringVar(&unit, "unit", "", "with choose: the unit that is on the bench now")
	c.Flags().StringVar(&procedure, "procedure", "", "with choose: the procedure")
	return c
}
