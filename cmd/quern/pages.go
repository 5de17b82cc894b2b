package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"quern/rig/live/pages"
)

func pagesCommand(e env) *cobra.Command {
	var lab string
	var at front
	c := &cobra.Command{
		Use:   "pages SESSIONS --lab LAB",
		Short: "Show recorded sessions and their standings in a browser, without a bench",
		Long: `Answers with the pages of what was recorded in a folder: the list of sessions, every session from within, the
standings under the lab's rules. It opens no device and seals nothing: for that is 'quern serve'.

Only this machine is answered unless --listen names an address of the network. Then whoever has not paired sees nothing;
with --viewers, or [pages] viewers = true in bench.toml, all may watch.`,
		Example: "  quern pages sessions --lab LAB\n  quern pages sessions --lab LAB --listen 127.0.0.1:8800",
		Args:    arguments(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			if info, err := os.Stat(args[0]); err != nil || !info.IsDir() {
				return usageError{fmt.Errorf("pages: found %q, expected a folder of sessions", args[0])}
			}
			l, err := readLab(e, lab)
			if err != nil {
				return err
			}
			ctx := c.Context()
			log := slog.New(slog.NewTextHandler(e.err, nil))
			at.of(l)
			port, g, err := at.open(args[0], false, log)
			if err != nil {
				return err
			}
			site, err := pages.New(pages.Options{Lab: l, LabDir: lab, Dir: args[0], Gate: g, Zone: e.zone, Tool: "quern " + version(), Log: log}, nil)
			if err != nil {
				return err
			}
			if found, err := filepath.Glob(filepath.Join(args[0], "*", "manifest.json")); err == nil && len(found) == 0 {
				log.Warn("found no session in it, expected a folder of sessions"+below(args[0]), "sessions", args[0])
			}
			log.Info("the pages can be opened", "sessions", args[0], "listen", port.Addr().String())
			ctx, cancel := context.WithCancel(ctx)
			defer cancel()
			read := make(chan error, 1)
			go func() {
				defer cancel()
				read <- site.Run(ctx)
			}()
			err = g.Serve(ctx, port, site, func() {})
			cancel()
			return errors.Join(err, <-read, site.Close())
		},
	}
	c.Flags().StringVar(&lab, "lab", "", "the lab folder: units, procedures, scorecard")
	at.flags(c.Flags())
	return c
}
