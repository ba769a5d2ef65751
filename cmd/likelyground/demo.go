package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"likelyground/habitat"
	"likelyground/habitat/ellerdown"
	"likelyground/raster/maps"
)

var demoCommand = command{
	name: "demo", args: "DIR", short: "lay down the invented Ellerdown Hills and a plan to try",
	long: `Example: likelyground demo ellerdown

Draws the Ellerdown Hills into a folder: an invented country laid in open sea,
with maps of height, soil, rock and cover that disagree in projection, cell and
coding as real ones do, and a plan with comments that uses them. The same size
gives the same files.
`,
	flags: func(f *pflag.FlagSet) func(context.Context, *terminal, []string) error {
		size := f.String("size", "", "`CxR`: columns and rows of 10 m cells, such as 2000x2000 (default: 740x600)")
		threads := f.Int("threads", 0, "`N` workers (default: one a processor)")
		return func(ctx context.Context, t *terminal, args []string) error {
			if len(args) != 1 {
				return usageError{"name one folder to draw into", "try: likelyground demo ellerdown"}
			}
			s, err := parseSize(*size)
			if err != nil {
				return err
			}
			return drawDemo(ctx, t, args[0], s, *threads)
		}
	},
}

func parseSize(text string) (s ellerdown.Size, err error) {
	if text == "" {
		return ellerdown.Demonstration, nil
	}
	if n, err := fmt.Sscanf(strings.ReplaceAll(text, "×", "x")+"\n", "%dx%d\n", &s.Cols, &s.Rows); n != 2 || err != nil {
		return s, usageError{fmt.Sprintf("%q is no size", text), "write columns and rows like 2000x1500"}
	}
	return s, nil
}

func drawDemo(ctx context.Context, t *terminal, dir string, s ellerdown.Size, threads int) error {
	if err := maps.Setup(0); err != nil {
		return err
	}
	err := ellerdown.Draw(ctx, dir, ellerdown.Options{
		Size: s, Workers: threads, GeoTags: maps.GeoTags,
		Progress: func(drawn, all int64) {
			t.event(habitat.Event{Stage: "Drawing the Ellerdown Hills", Done: drawn, Total: all})
		},
	})
	if err != nil {
		return err
	}
	plan := filepath.Join(dir, ellerdown.PlanName)
	if t.json {
		t.answerJSON(map[string]string{"plan": plan})
		return nil
	}
	t.answer("%s\n", plan)
	if !t.quiet {
		t.say("Now try: likelyground run %s", plan)
	}
	return nil
}
