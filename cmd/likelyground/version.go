package main

import (
	"context"

	"github.com/spf13/pflag"

	"likelyground/habitat"
)

var versionCommand = command{
	name: "version", short: "say which version this is, and of which libraries",
	long: "Example: likelyground version\n\nSays the version of likelyground and of the libraries that it runs on.\n",
	flags: func(*pflag.FlagSet) func(context.Context, *terminal, []string) error {
		return func(_ context.Context, t *terminal, _ []string) error {
			v := habitat.Versions()
			if t.json {
				t.answerJSON(v)
				return nil
			}
			t.answer("likelyground %s (%s, GDAL %s, %s)\n", v.Program, v.Go, v.GDAL, v.PROJ)
			return nil
		}
	},
}
