package main

import (
	"context"

	"github.com/spf13/pflag"

	starting "likelyground/habitat/start"
)

var startCommand = command{
	name: "start", args: "FILE…", short: "write a plan to start from, out of maps alone",
	long: `Example: likelyground start soil.tif geology.gpkg cover.tif dem.tif

Recognises what each map holds (heights, soil pH, classes, amounts), chooses a
grid in metres and the ground that all maps cover, and writes a plan with a
reason for every line. The plan runs as it stands; its scores are neutral until
you change them. Asks nothing. Tiles become one map, a folder stands for the
files in it, a table code,name for the legend of the codes it names.

With --places it also sets what the maps say at places that you know beside the
whole ground, and suggests curves and scores as comments in the plan. The table
begins with a line that names its columns: lon,lat or easting,northing or
gridref. Where the places are goes into no file; take what stands behind
"# places:" out of the plan all the same before you pass it on.
`,
	flags: func(f *pflag.FlagSet) func(context.Context, *terminal, []string) error {
		var o starting.Options
		f.StringVar(&o.Out, "out", starting.DefaultName, "`PLAN` to write")
		f.StringVar(&o.Places, "places", "", "`TABLE` of places that you know")
		f.BoolVar(&o.Force, "force", false, "replace a plan that is there")
		engine := engineFlags(f)
		return func(ctx context.Context, t *terminal, args []string) error {
			if len(args) == 0 {
				return usageError{"start needs at least one map", "try: likelyground start soil.tif geology.gpkg cover.tif dem.tif"}
			}
			var err error
			if o.Engine, err = engine.options(t); err != nil {
				return err
			}
			made, err := starting.Write(ctx, args, o)
			if err != nil {
				return err
			}
			for _, l := range made.LeftOut {
				t.warn(l.File + " is left out: " + l.Why)
			}
			for _, w := range made.Warnings {
				t.warn(w)
			}
			if t.json {
				t.answerJSON(made)
				return nil
			}
			t.answer("%s", made.Words())
			if !t.quiet {
				t.say("Now try: likelyground check %s\nthen:    likelyground run %s", made.Plan, made.Plan)
			}
			return nil
		}
	},
}
