package main

import (
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"

	"quern/rig/report"
	"quern/rig/score"
)

func standingsCommand(e env) *cobra.Command {
	k := campaign{e: e}
	var against, againstSettings string
	c := &cobra.Command{
		Use:   "standings --lab LAB SESSIONS...",
		Short: "Rank all units of a campaign, say how sure that is, and what moved",
		Long: `Scores the sessions of the folders under the lab's procedures and scorecard and ranks the units: places with
the range that each may have, points by category, every criterion with its best and worst, what failed and what
is missing.

--against compares with another lab folder (other rules), or with what was known on an earlier day, and says for
every unit which rule or measure moved it, by how much; the parts add up to the move. --against-settings stored
or lab compares analyses of the same sessions.`,
		Example: `  quern standings --lab LAB sessions
  quern standings --lab LAB sessions --against LAB-2025
  quern standings --lab LAB sessions --against 2026-03-31
  quern standings --lab LAB sessions --settings lab --against-settings stored`,
		Args: arguments(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			new, err := k.rank(k.lab, args)
			if err != nil {
				return err
			}
			if against == "" && againstSettings == "" {
				if k.asJSON {
					return report.StandingsJSON(e.out, new, k.today(), k.sums(new.Campaign))
				}
				if err := report.Standings(e.out, new, k.today()); err != nil {
					return err
				}
				return k.printSums(new.Campaign)
			}
			old, err := k.old(against, againstSettings, args)
			if err != nil {
				return err
			}
			moves, err := score.Against(old, new)
			if err != nil {
				return err
			}
			if k.asJSON {
				return report.MovesJSON(e.out, moves, k.sums(old.Campaign), k.sums(new.Campaign))
			}
			if err := report.Moves(e.out, moves, func(id string) string { return new.Campaign.Lab.Unit(id).Shown(k.today()) }); err != nil {
				return err
			}
			return k.printSums(new.Campaign)
		},
	}
	k.flags(c)
	c.Flags().StringVar(&against, "against", "", "compare with another lab folder, or with what was known on a day such as 2026-03-31")
	c.Flags().StringVar(&againstSettings, "against-settings", "", "compare with an analysis under stored or lab settings")
	return c
}

// rank scores and ranks.
func (k *campaign) rank(lab string, folders []string) (*score.Standings, error) {
	c, err := k.read(lab, folders)
	if err != nil {
		return nil, err
	}
	return c.Standings()
}

// old is what the present standings are compared with.
func (k campaign) old(against, settings string, folders []string) (*score.Standings, error) {
	lab := k.lab
	if _, err := time.Parse(time.DateOnly, against); err == nil {
		k.asOf = against
	} else if against != "" {
		if info, err := os.Stat(against); err != nil || !info.IsDir() {
			return nil, usageError{fmt.Errorf("standings: found --against %q, expected a lab folder or a day such as 2026-03-31", against)}
		}
		lab = against
	}
	if settings != "" {
		k.settings = settings
	}
	return k.rank(lab, folders)
}

// sums says which rules made a result.
func (k *campaign) sums(c *score.Campaign) []string {
	return []string{
		"scorecard and procedures SHA-256 " + c.Lab.RulesSum(),
		"sessions, facts and settings SHA-256 " + c.FactsSum(),
		"analysed under " + settingsWords(k.settings),
		"quern " + version(),
	}
}

// settingsWords says which settings sessions were analysed under.
func settingsWords(settings string) string {
	return map[string]string{"stored": "the settings stored in each session", "lab": "the lab's present settings"}[settings]
}

func (k *campaign) printSums(c *score.Campaign) error {
	for _, s := range k.sums(c) {
		if _, err := fmt.Fprintln(k.e.out, s); err != nil {
			return err
		}
	}
	return nil
}
