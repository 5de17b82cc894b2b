package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"quern/acquire/serialport"
)

func listenCommand(e env) *cobra.Command {
	var perTry time.Duration
	var table string
	c := &cobra.Command{
		Use:   "listen PORT",
		Short: "Hear what a serial device sends, and propose its lines for bench.toml",
		Long: `Opens a serial port at the usual rates, one after the other, shows the bytes that come, says which rate and
which shape of frame fit them best, and prints the lines for bench.toml. Nothing is sent to the device: one that
only answers when asked has to be set to send by itself first, or be described by hand.`,
		Example: "  quern listen /dev/ttyUSB0\n  quern listen /dev/serial/by-id/... --for microphone.device",
		Args:    arguments(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			if table != "scale.device" && table != "microphone.device" && table != "extra" {
				return usageError{fmt.Errorf("listen: found --for %q, expected scale.device, microphone.device or extra", table)}
			}
			if perTry < 100*time.Millisecond || perTry > time.Minute {
				return usageError{fmt.Errorf("listen: found --time %v, expected 100ms to 1m", perTry)}
			}
			h, err := serialport.Listen(c.Context(), args[0], perTry)
			for _, t := range h.Tries {
				fmt.Fprintf(e.out, "%7d baud, %d bits, parity %-4s  %6d bytes, %3.0f %% text, fit %.2f\n",
					t.Port.Baud, t.Port.DataBits, t.Port.Parity, t.Bytes, 100*t.Printable, t.Score)
			}
			if err != nil {
				return err
			}
			fmt.Fprintf(e.out, "\nheard at %d baud:\n", h.Port.Baud)
			for _, row := range h.Dump() {
				fmt.Fprintln(e.out, "  "+row)
			}
			fmt.Fprintf(e.out, "\n%s\n", h.Explanation)
			if h.Score > 0 {
				fmt.Fprintf(e.out, "\nfor bench.toml:\n\n%s", h.TOML(table))
			}
			return nil
		},
	}
	c.Flags().DurationVar(&perTry, "time", 1500*time.Millisecond, "how long to listen at each rate")
	c.Flags().StringVar(&table, "for", "scale.device", "what the device is: scale.device, microphone.device or extra")
	return c
}
