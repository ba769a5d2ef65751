package main

import (
	"context"
	"regexp"
	"strings"

	"github.com/spf13/pflag"

	"likelyground/habitat"
)

var whyCommand = command{
	name: "why", args: "PLAN PLACE", short: "explain the score of one place",
	long: `Example: likelyground why ellerdown/ellerdown.yaml 2.1 55.3

Works out one cell of a plan's grid and shows what led to its score: what every
layer says there, and which cell or polygon of which file it is from and how
large that is; the score, weight and share of the loss of every factor; what
limits the place most; what is unknown, and what keeps it out. The score is the
one that a run writes for this cell; no run is needed.

PLACE is longitude and latitude in degrees; or easting and northing in the
grid's own CRS; or a British, Irish, MGRS or UTM grid reference, of which the
middle of the square is taken.
`,
	minus: true,
	flags: func(f *pflag.FlagSet) func(context.Context, *terminal, []string) error {
		o := engineFlags(f)
		return func(ctx context.Context, t *terminal, args []string) error {
			if len(args) < 2 {
				return usageError{"name a plan and a place", "try: likelyground why ellerdown/ellerdown.yaml 2.1 55.3"}
			}
			options, err := o.options(t)
			if err != nil {
				return err
			}
			why, err := habitat.Explain(ctx, args[0], strings.Join(args[1:], " "), options)
			if err != nil {
				return err
			}
			if t.json {
				t.answerJSON(why)
				return nil
			}
			for _, w := range why.Warnings {
				t.warn(w)
			}
			t.answer("%s", printable(why.Words())) // names come from maps
			return nil
		}
	},
}

var negativeNumber = regexp.MustCompile(`^-[0-9.]`)

// shieldNegatives writes arguments that open with a negative number with a
// true minus sign, so that they are not taken for options.
func shieldNegatives(args []string) []string {
	out := make([]string, len(args))
	for i, a := range args {
		out[i] = a
		if negativeNumber.MatchString(a) {
			out[i] = "\u2212" + a[1:]
		}
	}
	return out
}
