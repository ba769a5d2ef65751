package main

import (
	"context"

	"github.com/spf13/pflag"

	"likelyground/habitat"
	"likelyground/habitat/look"
)

var lookCommand = command{
	name: "look", args: "FILE…", short: "say what maps are, and the plan's lines for them",
	long: `Example: likelyground look soil_ph.tif geology.gpkg

Says of each map, raster or features, where it lies, how large its cells are,
which values or classes it holds, what is odd about it, and which lines of a
plan would read it. Needs no plan. Of a large map it looks at a sample, the
same one each time; a run looks at every cell that it reads.
`,
	flags: func(f *pflag.FlagSet) func(context.Context, *terminal, []string) error {
		var o habitat.Options
		f.BoolVar(&o.Online, "online", false, "fetch maps that are named by an address, or ask whether they changed")
		return func(ctx context.Context, t *terminal, args []string) error {
			if len(args) == 0 {
				return usageError{"look needs at least one file", "try: likelyground look soil_ph.tif"}
			}
			o.Events = t.event
			looker := look.Looker{Remote: habitat.CopyStore(o)}
			seen, err := habitat.Promptly(ctx, func() ([]*look.Map, error) { return looker.Files(ctx, args) }, nil)
			if t.json {
				if err == nil {
					t.answerJSON(seen)
				}
				return err
			}
			for i, m := range seen {
				if i > 0 {
					t.answer("\n")
				}
				t.answer("%s", m.Words())
			}
			return err
		}
	},
}
