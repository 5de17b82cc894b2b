package main

import (
	"github.com/spf13/cobra"

	"quern/config"
)

func checkCommand(e env) *cobra.Command {
	return &cobra.Command{
		Use:     "check LAB",
		Short:   "Read a lab folder and explain what the bench will do",
		Long:    "Reads bench.toml, units.toml, procedures/*.toml and scorecard.toml of a lab folder, tells everything that is\nwrong with them, or explains in plain sentences what the bench will do and which value of every setting is in force.",
		Example: "  quern check my-lab",
		Args:    arguments(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			lab, err := config.Read(labFS(args[0]))
			if err != nil {
				return usageError{config.In(args[0], err)}
			}
			lab.OwnZone(e.zone)
			return config.Explain(e.out, lab)
		},
	}
}
