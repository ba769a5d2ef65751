package main

import (
	"context"

	"github.com/spf13/pflag"

	"likelyground/habitat/plan"
)

var schemaCommand = command{
	name: "schema", short: "print the JSON Schema of the plan file",
	long: `Example: likelyground schema > plan.schema.json

Prints the JSON Schema of the plan file. Many text editors use one to check a
plan while it is being written, and to offer its words.
`,
	flags: func(*pflag.FlagSet) func(context.Context, *terminal, []string) error {
		return func(_ context.Context, t *terminal, _ []string) error {
			t.answer("%s\n", plan.Schema())
			return nil
		}
	},
}
