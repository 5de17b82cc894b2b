package main

import (
	"fmt"
	"io"
	"os"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"quern/config"
	"quern/rig"
)

func labCommand(e env) *cobra.Command {
	var units int
	c := &cobra.Command{
		Use:   "lab FOLDER",
		Short: "Write a lab folder to begin with",
		Long: `Writes a lab folder to begin with: a bench, invented units, one procedure and a scorecard, every key with its unit
and its reason. FOLDER must not exist, or be empty: nothing is ever written over.

Put your own units and devices in the place of those, and let 'quern check' explain what the bench will do.`,
		Example: "  quern lab my-lab\n  quern lab my-lab --units 8",
		Args:    arguments(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			if units < config.StarterUnitsMin || units > config.StarterUnitsMax {
				return usageError{fmt.Errorf("lab: found --units %d, expected %d to %d", units, config.StarterUnitsMin, config.StarterUnitsMax)}
			}
			return writeLab(e, args[0], units)
		},
	}
	c.Flags().IntVar(&units, "units", 4, "how many invented units")
	return c
}

func writeLab(e env, dir string, units int) error {
	switch entries, err := os.ReadDir(dir); {
	case err == nil && len(entries) > 0:
		return usageError{fmt.Errorf("%s exists and is not empty: choose another name; nothing was touched", dir)}
	case err != nil && !os.IsNotExist(err):
		return usageError{rig.Unopened(dir, err, "a new folder, or an empty one", "choose another name; nothing was touched")}
	}
	var files []outFile
	for _, f := range config.Starter(units) {
		files = append(files, outFile{f.Name, func(w io.Writer) error { _, err := io.WriteString(w, f.Text); return err }})
	}
	_ = os.Remove(dir) // an empty one; if anything stands in it by now, it stays and the lab is refused
	if err := writeFolder(dir, files); err != nil {
		return usageError{rig.Unopened(dir, err, "a folder that can be made", "name another")}
	}
	fmt.Fprintf(e.out, "%s: a lab of %s is written. What comes next:\n", dir, rig.Count(units, "invented unit"))
	w := tabwriter.NewWriter(e.out, 0, 1, 4, ' ', 0)
	fmt.Fprintf(w, "  %s/units.toml\tyour units and the currents of their nameplates\n", dir)
	fmt.Fprintf(w, "  quern check %s\twhat the bench will do, and every setting with its reason\n", dir)
	fmt.Fprintf(w, "  quern devices\tthe lines for %s/bench.toml of what is plugged in\n", dir)
	fmt.Fprintf(w, "  quern serve --lab %s --unit unit-a --procedure mixed --out sessions\n", dir)
	return w.Flush()
}
