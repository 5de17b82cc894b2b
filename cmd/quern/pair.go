package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"time"

	"github.com/spf13/cobra"

	"quern/rig/live/pages"
)

func pairCommand(e env) *cobra.Command {
	var at, who string
	var forget bool
	c := &cobra.Command{
		Use:   "pair",
		Short: "Print a code that lets another device operate the running daemon, or take that back",
		Long: `Asks the daemon on this machine for a pairing code of six digits. It holds for ten minutes and for one device:
open the daemon's page /pair there, and type the code and your name, which stands beside everything you do. The
pairing holds for thirty days.`,
		Example: `  quern pair
  quern pair --forget                 nobody on the network is an operator any more
  quern pair --forget --who Alex      nor is one person, on any device`,
		Args: arguments(cobra.NoArgs),
		RunE: func(c *cobra.Command, args []string) error {
			if who != "" && !forget {
				return usageError{fmt.Errorf("pair: --who says who is to be forgotten: it goes with --forget")}
			}
			if forget {
				b, err := askDaemon(http.MethodPost, at, "/pair/forget", pages.Forget{Who: who})
				if err != nil {
					return err
				}
				var f pages.Forgotten
				if err := json.Unmarshal(b, &f); err != nil {
					return fmt.Errorf("%s answers, but not as a daemon of this version does: %w", at, err)
				}
				fmt.Fprintf(e.out, "pairings forgotten: %d\n", f.Pairings)
				return nil
			}
			b, err := askDaemon(http.MethodPost, at, "/pair/new", nil)
			if err != nil {
				return err
			}
			var code pages.Code
			if err := json.Unmarshal(b, &code); err != nil {
				return fmt.Errorf("%s answers, but not as a daemon of this version does: %w", at, err)
			}
			fmt.Fprintf(e.out, "%s %s   holds until %s, for one device: open /pair there\n", code.Code[:min(3, len(code.Code))], code.Code[min(3, len(code.Code)):], code.Until.Local().Format(time.TimeOnly))
			return nil
		},
	}
	c.Flags().StringVar(&at, "at", "127.0.0.1:8750", "address of the daemon, on this machine")
	c.Flags().BoolVar(&forget, "forget", false, "end pairings instead")
	c.Flags().StringVar(&who, "who", "", "with --forget: only those of this name")
	return c
}
