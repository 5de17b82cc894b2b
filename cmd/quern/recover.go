package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"quern/rig/session"
)

func recoverCommand(e env) *cobra.Command {
	return &cobra.Command{
		Use:   "recover SESSION...",
		Short: "Set a torn end aside and seal sessions that were interrupted",
		Long: `A session that a power cut or a crash interrupted ends in a torn line or batch, and its recordings in samples
that may be zeros that nobody recorded. Recovery keeps the journal up to its last complete batch and of the recordings
what was synced by then, sets the rest aside in files of its own (never deleted), and seals the session. One that is
sealed already is left as it is.`,
		Example: "  quern recover sessions/*",
		Args:    arguments(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			var failed error // one that cannot be sealed does not keep the others from it
			for _, dir := range args {
				switch err := session.Seal(dir); {
				case session.Whole(err):
					fmt.Fprintf(e.out, "%s: sealed, nothing to do\n", dir)
				case err != nil:
					failed = errors.Join(failed, err)
				default:
					fmt.Fprintf(e.out, "%s: recovered and sealed\n", dir)
				}
			}
			if failed != nil {
				return usageError{failed}
			}
			return nil
		},
	}
}
