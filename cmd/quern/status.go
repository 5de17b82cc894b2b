package main

import (
	"encoding/json"
	"fmt"
	"net/http"

	"github.com/spf13/cobra"

	"quern/rig/live"
)

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
