package main

import (
	"fmt"
	"strings"

	"github.com/spf13/pflag"
)

// The program's own words. They are meant to be read aloud by somebody who
// is no programmer: short sentences, the thing that failed first, then what
// to do; no abbreviation that has not been explained, nothing in capitals.

const exitCodes = `Exit codes: 0 done; 2 the plan, its maps or the command line must be changed;
1 the work failed otherwise (disk, memory: trying again may help); 128 + n
ended by signal n.
`

// overview is what the program says of itself.
func overview() string {
	var b strings.Builder
	b.WriteString(`likelyground finds ground that suits an organism: plan file and open maps in,
score grid and ranked areas out.

  likelyground demo ellerdown                  lay down an invented country to try
  likelyground run ellerdown/ellerdown.yaml    score it and rank its areas
  likelyground start soil.tif dem.tif          write a plan for maps of your own

Commands:
`)
	for _, c := range commands {
		fmt.Fprintf(&b, "  %-26s %s\n", c.name+" "+c.args, c.short)
	}
	b.WriteString("\nlikelyground COMMAND --help tells more.\n\n")
	b.WriteString(exitCodes)
	return b.String()
}

// help answers the command line "help [COMMAND]".
func help(t *terminal, args []string) error {
	if len(args) == 0 {
		t.answer("%s", overview())
		return nil
	}
	for _, c := range commands {
		if c.name == args[0] {
			return c.run(nil, t, []string{"--help"})
		}
	}
	return usageError{fmt.Sprintf("there is no command %q", args[0]), suggestCommand(args[0])}
}

// help returns the help of one command.
func (c command) help(flags *pflag.FlagSet) string {
	usage := strings.Join(strings.Fields(c.name+" "+c.args+" [options]"), " ")
	return fmt.Sprintf("%s\nUsage: likelyground %s\n\n%s\n%s", c.long, usage, optionsHelp(flags), exitCodes)
}

// optionsHelp lists options, one a line.
func optionsHelp(flags *pflag.FlagSet) string {
	var b strings.Builder
	line := func(short, long, text string) { fmt.Fprintf(&b, "  %3s %-17s %s\n", short, long, text) }
	flags.VisitAll(func(f *pflag.Flag) {
		if f.Hidden {
			return
		}
		word, text := pflag.UnquoteUsage(f)
		short := ""
		if f.Shorthand != "" {
			short = "-" + f.Shorthand + ","
		}
		if f.Value.Type() == "bool" {
			word = ""
		}
		line(short, strings.TrimSpace("--"+f.Name+" "+word), text)
	})
	line("-h,", "--help", "this page")
	return b.String()
}

func suggestCommand(word string) string {
	for _, c := range commands {
		if word != "" && (strings.HasPrefix(c.name, word[:1]) || strings.Contains(c.name, word)) {
			return fmt.Sprintf("did you mean: likelyground %s", c.name)
		}
	}
	return "see: likelyground --help"
}
