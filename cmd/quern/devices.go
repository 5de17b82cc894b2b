package main

import (
	"encoding/json"

	"github.com/spf13/cobra"

	"quern/acquire/devices"
)

func devicesCommand(e env) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "devices",
		Short: "List what is plugged in, with the lines for bench.toml and the udev rules it would need",
		Long: `Lists serial ports, USB scales, sound cards and the kernel's converters by names that stay the same when a
plug is pulled and put back, with the lines that describe each in bench.toml. Where this user may not open one, the
udev rule that would allow it is printed. Nothing is opened.`,
		Args: arguments(cobra.NoArgs),
		RunE: func(c *cobra.Command, args []string) error {
			found := devices.List(devices.Host{Root: "/"})
			if !asJSON {
				return devices.Print(e.out, found)
			}
			enc := json.NewEncoder(e.out)
			enc.SetEscapeHTML(false)
			for _, d := range found {
				if err := enc.Encode(d); err != nil {
					return err
				}
			}
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print one JSON object a device, one a line")
	return c
}
