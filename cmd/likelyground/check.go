package main

import (
	"context"

	"github.com/spf13/pflag"

	"likelyground/habitat"
)

var checkCommand = command{
	name: "check", args: "PLAN", short: "open everything a plan names, compute nothing",
	long: `Example: likelyground check ellerdown/ellerdown.yaml

Opens the plan and every map that it names and computes nothing. Says what is
wrong and where, which grid a run would use, about how much time, memory and
disk it would take, and what share of the weight hangs on each map. It looks at
headers and samples; a run looks at every cell that it reads.
`,
	flags: func(f *pflag.FlagSet) func(context.Context, *terminal, []string) error {
		o := engineFlags(f)
		return func(ctx context.Context, t *terminal, args []string) error {
			plan, err := onePlan("check", args)
			if err != nil {
				return err
			}
			options, err := o.options(t)
			if err != nil {
				return err
			}
			report, err := habitat.Check(ctx, plan, options)
			if err != nil {
				return err
			}
			if t.json {
				t.answerJSON(report)
				return nil
			}
			for _, w := range report.Warnings {
				t.warn(w)
			}
			t.answer("%s", report.Words())
			return nil
		}
	},
}
