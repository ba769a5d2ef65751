package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"likelyground/habitat"
)

var scratchCommand = command{
	name: "scratch", short: "list the finished work that is kept for later runs, or clear it",
	long: `Example: likelyground scratch

Lists what earlier runs left for later ones, the work used last first: what it
is, how much of the disk it takes, when it was made and when it was last used.
With --clear all of it goes, but for what a run has in use. Nothing is lost by
that but time: the next run makes it again. Files that this program did not
write stay.
`,
	flags: func(f *pflag.FlagSet) func(context.Context, *terminal, []string) error {
		var o habitat.Options
		var clear bool
		f.StringVar(&o.Scratch, "scratch", "", "the `FOLDER` that runs were given for scratch files (default: the cache folder)")
		f.BoolVar(&clear, "clear", false, "remove it all")
		return func(_ context.Context, t *terminal, _ []string) error {
			o.Kept = habitat.KeptFolder(o.Scratch)
			if clear {
				return clearScratch(t, o)
			}
			kept, err := habitat.ListKept(o)
			if err != nil {
				return err
			}
			if t.json {
				t.answerJSON(kept)
				return nil
			}
			t.answer("%s", keptWords(kept, time.Now()))
			return nil
		}
	},
}

func clearScratch(t *terminal, o habitat.Options) error {
	freed, inUse, err := habitat.ClearKept(o)
	if err != nil {
		return err
	}
	if t.json {
		t.answerJSON(struct {
			Freed int64 `json:"freed_bytes"`
			InUse int   `json:"in_use"`
		}{freed, inUse})
		return nil
	}
	t.answer("%s freed.\n", habitat.Bytes(freed))
	if inUse > 0 {
		t.say("%d entries are in use by a run and stay.", inUse)
	}
	return nil
}

// keptWords lists what is kept.
func keptWords(k *habitat.KeptWork, now time.Time) string {
	if len(k.Entries) == 0 {
		return fmt.Sprintf("Nothing is kept in %s.\n", k.Folder)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%-10s %-16s %-16s what\n", "size", "made", "last used")
	for _, e := range k.Entries {
		title := e.Title
		if title == "" {
			title = "damaged; it will be made again"
		}
		fmt.Fprintf(&b, "%-10s %-16s %-16s %s\n", habitat.Bytes(e.Bytes), ago(now.Sub(e.Made)), ago(now.Sub(e.Used)), title)
	}
	fmt.Fprintf(&b, "%s of at most %s in %s\n", habitat.Bytes(k.Held), habitat.Bytes(k.Most), k.Folder)
	return b.String()
}

// ago writes how long ago something was.
func ago(d time.Duration) string {
	count := func(n int, unit string) string {
		if n == 1 {
			return fmt.Sprintf("1 %s ago", unit)
		}
		return fmt.Sprintf("%d %ss ago", n, unit)
	}
	switch {
	case d < time.Minute:
		return "just now"
	case d < time.Hour:
		return count(int(d.Minutes()), "minute")
	case d < 48*time.Hour:
		return count(int(d.Hours()), "hour")
	}
	return count(int(d.Hours()/24), "day")
}
