package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"quern/rig/session"
)

func verifyCommand(e env) *cobra.Command {
	return &cobra.Command{
		Use:     "verify SESSION...",
		Short:   "Find any changed byte in sealed sessions",
		Long:    "Compares every file of each session with the checksums of its manifest. Exit status 1 if anything differs.",
		Example: "  quern verify sessions/*",
		Args:    arguments(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			bad := 0
			var none error // what is no session does not keep the others from being looked at
			for _, dir := range args {
				if err := e.interrupted(); err != nil {
					return err
				}
				problems, err := session.Verify(dir)
				if err != nil {
					none = errors.Join(none, err)
					continue
				}
				for _, p := range problems {
					fmt.Fprintln(e.out, p)
				}
				if len(problems) == 0 {
					fmt.Fprintf(e.out, "%s: unchanged\n", dir)
				}
				bad += len(problems)
			}
			switch {
			case none != nil:
				return usageError{none}
			case bad == 1:
				return errors.New("verify: found 1 difference; what to do about it stands above")
			case bad > 1:
				return fmt.Errorf("verify: found %d differences; what to do about each stands above", bad)
			}
			return nil
		},
	}
}
