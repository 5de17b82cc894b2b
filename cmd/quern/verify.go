package main

import (
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
			for _, dir := range args {
				problems, err := session.Verify(dir)
				if err != nil {
					return usageError{err}
				}
				for _, p := range problems {
					fmt.Fprintln(e.out, p)
				}
				if len(problems) == 0 {
					fmt.Fprintf(e.out, "%s: unchanged\n", dir)
				}
				bad += len(problems)
			}
			if bad > 0 {
				return fmt.Errorf("%d differences: restore the files from a copy", bad)
			}
			return nil
		},
	}
}
