package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"quern/acquire/board"
	"quern/acquire/serialport"
)

// listenFor is what a device may be that is listened to.
var listenFor = []string{"scale.device", "microphone.device", "clamp.device", "extra"}

// boardTime is how long a board is heard: long enough for a counter of 8 bits at 50 lines a second.
const boardTime = 6 * time.Second

func listenCommand(e env) *cobra.Command {
	var perTry time.Duration
	var table string
	c := &cobra.Command{
		Use:   "listen PORT",
		Short: "Hear what a serial device sends, and propose its lines for bench.toml",
		Long: `Opens a serial port at the usual rates, one after the other, shows the bytes that come, says which rate and
which shape of frame fit them best, and prints the lines for bench.toml. Nothing is sent to the device: one that
only answers when asked has to be set to send by itself first, or be described by hand.

With --for clamp.device it hears a converter board that sends numbers in lines, and takes some seconds more to see its
counter begin anew and to tell its rate. A board that sends binary frames has to be described by hand, from its program.`,
		Example: "  quern listen /dev/ttyUSB0\n  quern listen /dev/serial/by-id/... --for microphone.device\n  quern listen /dev/serial/by-id/... --for clamp.device",
		Args:    arguments(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			if !slices.Contains(listenFor, table) {
				return usageError{fmt.Errorf("listen: found --for %q, expected one of %s", table, strings.Join(listenFor, ", "))}
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
			if table == "clamp.device" {
				raw, within, err := serialport.Hear(c.Context(), h.Port, max(4*perTry, boardTime), 1<<20)
				if err != nil {
					return err
				}
				p, ok := board.Propose(raw, within)
				if !ok {
					fmt.Fprintln(e.out, "\nNo lines of numbers: a board that sends binary frames has to be described by hand, from its program.")
					return nil
				}
				fmt.Fprintf(e.out, "\n%s\n\nfor bench.toml:\n\n%s", p, p.TOML(h.Port))
				return nil
			}
			fmt.Fprintf(e.out, "\n%s\n", h.Explanation)
			if p, ok := board.Propose(h.Raw, 0); ok && p.Device.Board.PerFrame >= 4 {
				fmt.Fprintln(e.out, "So many numbers in a line look like a converter board: then it is --for clamp.device.")
			}
			if h.Score > 0 {
				fmt.Fprintf(e.out, "\nfor bench.toml:\n\n%s", h.TOML(table))
			}
			return nil
		},
	}
	c.Flags().DurationVar(&perTry, "time", 1500*time.Millisecond, "how long to listen at each rate")
	c.Flags().StringVar(&table, "for", "scale.device", "what the device is: "+strings.Join(listenFor, ", "))
	return c
}
