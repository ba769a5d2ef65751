package main

import (
	"context"
	"fmt"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"likelyground/habitat"
)

var runCommand = command{
	name: "run", args: "PLAN", short: "score the ground of a plan and rank its areas",
	long: `Example: likelyground run ellerdown/ellerdown.yaml

Runs a plan: scores every cell of its grid and ranks the areas worth a visit.
Writes score.tif, factors.tif, hotspots.geojson (as the plan asks) and run.json,
the account of the run, into a folder beside the plan. The folder is touched
only when everything is done.

Finished work that took long is kept and used again as long as nothing that it
depends on changes; see likelyground scratch. Where the plan, its maps and the
outputs are all as the last run left them, nothing is done.
`,
	flags: func(f *pflag.FlagSet) func(context.Context, *terminal, []string) error {
		o := engineFlags(f)
		f.StringVarP(&o.Out, "out", "o", "", "the `FOLDER` for the outputs (default: beside the plan, its name with .out)")
		f.BoolVar(&o.Force, "force", false, "write into a folder that holds another plan's outputs")
		f.BoolVar(&o.Anew, "anew", false, "do everything again, whatever was kept of earlier runs")
		return func(ctx context.Context, t *terminal, args []string) error {
			plan, err := onePlan("run", args)
			if err != nil {
				return err
			}
			options, err := o.options(t)
			if err != nil {
				return err
			}
			result, err := habitat.Run(ctx, plan, options)
			if err != nil {
				return err
			}
			tellResult(t, result)
			return nil
		}
	},
}

// engineOptions are the flags of commands that open a plan.
type engineOptions struct {
	habitat.Options
	memory, keepMost string
}

// onlineHelp is what --online does, for the help.
const onlineHelp = "fetch maps that the plan names by an address, or ask whether they changed"

func engineFlags(f *pflag.FlagSet) *engineOptions {
	o := &engineOptions{}
	f.StringVar(&o.memory, "memory", "", "use at most this `MEMORY`, such as 500M or 2G (default: a quarter of the machine's)")
	f.IntVar(&o.Threads, "threads", 0, "`N` workers (default: one a processor)")
	f.StringVar(&o.Options.Scratch, "scratch", "", "the `FOLDER` for scratch files and finished work (default: beside the outputs, and the cache folder)")
	f.StringVar(&o.keepMost, "keep-most", "", "keep at most this `AMOUNT` of finished work, such as 20G (default: half of the free disk)")
	f.BoolVar(&o.Online, "online", false, onlineHelp)
	f.IntVar(&o.Tile, "tile", 0, "cells a side of a tile, for experiments; changes no result")
	f.MarkHidden("tile")
	return o
}

// options checks the flags.
func (o *engineOptions) options(t *terminal) (habitat.Options, error) {
	out := o.Options
	out.Events = t.event
	out.Kept = habitat.KeptFolder(out.Scratch)
	if o.keepMost != "" {
		n, err := amount(o.keepMost, "disk")
		if err != nil {
			return out, err
		}
		out.KeptMost = n
	}
	if o.memory != "" {
		n, err := parseBytes(o.memory)
		if err != nil {
			return out, err
		}
		out.Memory = n
	}
	holdTo(out.Memory)
	switch {
	case out.Threads < 0 || out.Threads > mostThreads:
		return out, usageError{fmt.Sprintf("--threads must be a whole number from 1 to %d", mostThreads), "leave it out to have it chosen"}
	case out.Tile < 0 || out.Tile > 8192:
		return out, usageError{"--tile must be a whole number from 1 to 8192", "leave it out to have it chosen"}
	}
	return out, nil
}

// holdTo lets the collector of garbage work harder rather than let the heap
// grow beyond the budget.
func holdTo(budget int64) {
	if budget > 0 {
		debug.SetMemoryLimit(budget / 8 * 9)
	}
}

// mostThreads bounds the workers: each opens every map for itself.
const mostThreads = 1024

// leastMemory is the smallest budget that makes sense.
const leastMemory = 64 << 20

// parseBytes reads an amount of memory.
func parseBytes(text string) (int64, error) {
	n, err := amount(text, "memory")
	if err == nil && n < leastMemory {
		return 0, usageError{fmt.Sprintf("%s of memory is too little", text), "give it 64M or more"}
	}
	return n, err
}

// amount reads a number of bytes with K, M or G behind it.
func amount(text, of string) (int64, error) {
	units := map[string]int64{"": 1, "K": 1 << 10, "M": 1 << 20, "G": 1 << 30}
	digits := strings.TrimRight(strings.TrimSuffix(strings.ToUpper(text), "B"), "KMG")
	unit := strings.TrimSuffix(strings.ToUpper(text), "B")[len(digits):]
	n, err := strconv.ParseFloat(digits, 64)
	size, ok := units[unit]
	if err != nil || !ok || !(n > 0) || n*float64(size) > 1<<50 {
		return 0, usageError{fmt.Sprintf("%q is no amount of %s", text, of), "write it like 500M or 2G"}
	}
	return int64(n * float64(size)), nil
}

func onePlan(name string, args []string) (string, error) {
	switch len(args) {
	case 1:
		return args[0], nil
	case 0:
		return "", usageError{"no plan was named", fmt.Sprintf("try: likelyground %s ellerdown/ellerdown.yaml", name)}
	}
	return "", usageError{"more than one plan was named", "run one plan at a time"}
}

// tellResult answers with the areas and says which files to open.
func tellResult(t *terminal, r *habitat.Result) {
	if t.json {
		t.answerJSON(r)
		return
	}
	if r.Answer != "" {
		t.answer("%s\n", r.Answer)
	}
	for _, f := range r.Files {
		t.answer("%s\n", filepath.Join(r.Out, f))
	}
	if !t.quiet {
		t.say("%s", r.Licence)
		t.say("Done in %s. A score rates ground, not safety, identity or edibility; the cautions stand in run.json and the README.", habitat.Duration(r.Seconds))
	}
}
