// Command likelyground turns open maps of a region into a grid of how well
// the ground suits one organism, and into ranked areas worth walking.
//
// Each command has a short file of its own: flags in, one call to the habitat
// package, words out. Exit codes are chosen here, in one place: 0 done; 2 the
// plan or its data must be changed; 1 the work failed otherwise; 128 + n
// ended by signal n.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"unicode"
	"unicode/utf16"

	"github.com/spf13/pflag"

	"likelyground/habitat/plan"
)

// command is one word of the command line.
type command struct {
	name  string
	args  string // what follows it, for the help
	short string
	long  string // example first
	minus bool   // its arguments may be negative numbers
	flags func(*pflag.FlagSet) func(context.Context, *terminal, []string) error
}

var commands []command

func init() {
	commands = []command{startCommand, runCommand, checkCommand, lookCommand, whyCommand, demoCommand, scratchCommand, schemaCommand, versionCommand}
}

func main() {
	os.Exit(Main(os.Args[1:], os.Stdout, os.Stderr))
}

// Main runs the program and returns its exit code.
func Main(args []string, stdout, stderr io.Writer) int {
	ctx, stop := untilSignal()
	defer stop()
	t := newTerminal(stdout, stderr)
	err := dispatch(ctx, t, args)
	t.done()
	if err == nil {
		err = t.lost
	}
	return t.lastWords(ctx, err)
}

// signalError is the cause of a context that a signal ended.
type signalError struct{ syscall.Signal }

func (s signalError) Error() string { return "stopped by " + s.Signal.String() }

// untilSignal returns a context that the first interrupt or termination ends.
// A second one ends the program at once.
func untilSignal() (context.Context, func()) {
	ctx, cancel := context.WithCancelCause(context.Background())
	got := make(chan os.Signal, 2)
	signal.Notify(got, syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP)
	go func() {
		first := (<-got).(syscall.Signal)
		cancel(signalError{first})
		second := (<-got).(syscall.Signal)
		os.Exit(128 + int(second))
	}()
	return ctx, func() { signal.Stop(got); cancel(nil) }
}

// dispatch finds the command and runs it.
func dispatch(ctx context.Context, t *terminal, args []string) error {
	if len(args) == 0 {
		t.say("%s", overview())
		return usageError{"no command given", "try: likelyground demo ellerdown"}
	}
	switch args[0] {
	case "-h", "--help", "help":
		return help(t, args[1:])
	case "--version":
		args = []string{"version"}
	}
	for _, c := range commands {
		if c.name == args[0] {
			return c.run(ctx, t, args[1:])
		}
	}
	if strings.HasPrefix(args[0], "-") {
		return usageError{fmt.Sprintf("the command goes first, before %s", args[0]), "see: likelyground --help"}
	}
	return usageError{fmt.Sprintf("there is no command %q", args[0]), suggestCommand(args[0])}
}

// run reads the flags of a command and calls it.
func (c command) run(ctx context.Context, t *terminal, args []string) error {
	flags := pflag.NewFlagSet(c.name, pflag.ContinueOnError)
	flags.SortFlags = false
	flags.SetOutput(io.Discard)
	call := c.flags(flags)
	flags.BoolVar(&t.json, "json", false, "answer in JSON, for programs")
	flags.BoolVarP(&t.quiet, "quiet", "q", false, "no progress and no notes: only the answer and errors")
	if c.minus {
		args = shieldNegatives(args)
	}
	err := flags.Parse(args)
	if errors.Is(err, pflag.ErrHelp) {
		t.answer("%s", c.help(flags))
		return nil
	}
	if err != nil {
		return wrongOption(c.name, flags, err)
	}
	if c.args == "" && flags.NArg() > 0 {
		return usageError{fmt.Sprintf("%s takes no %q", c.name, flags.Arg(0)), "try: likelyground " + c.name}
	}
	return call(ctx, t, flags.Args())
}

// wrongOption says in our own words what is wrong with an option.
func wrongOption(command string, flags *pflag.FlagSet, err error) error {
	see := fmt.Sprintf("see: likelyground %s --help", command)
	var none *pflag.NotExistError
	var bare *pflag.ValueRequiredError
	var value *pflag.InvalidValueError
	switch {
	case errors.As(err, &none) && none.GetSpecifiedShortnames() != "":
		return usageError{fmt.Sprintf("there is no option -%s", none.GetSpecifiedName()), see}
	case errors.As(err, &none):
		var known []string
		flags.VisitAll(func(f *pflag.Flag) {
			if !f.Hidden {
				known = append(known, f.Name)
			}
		})
		if near := plan.Suggest(none.GetSpecifiedName(), known); near != "" {
			see = fmt.Sprintf("did you mean --%s?", near)
		}
		return usageError{fmt.Sprintf("there is no option --%s", none.GetSpecifiedName()), see}
	case errors.As(err, &bare):
		return usageError{fmt.Sprintf("--%s needs a value after it", bare.GetFlag().Name), see}
	case errors.As(err, &value):
		return usageError{fmt.Sprintf("%q is no value for --%s", value.GetValue(), value.GetFlag().Name), see}
	}
	return usageError{err.Error(), see}
}

// usageError is a command line that cannot be carried out.
type usageError struct{ what, fix string }

func (u usageError) Error() string    { return u.what }
func (u usageError) Remedy() string   { return u.fix }
func (u usageError) MustChange() bool { return true }

// lastWords tells an error and returns the exit code.
func (t *terminal) lastWords(ctx context.Context, err error) int {
	if err == nil {
		return 0
	}
	code := exitCode(ctx, err)
	if t.json {
		t.answerJSON(failure(err, code))
		return code
	}
	t.sayError(err)
	return code
}

// exitCode maps an error to the exit code, the only place that does.
func exitCode(ctx context.Context, err error) int {
	var s signalError
	if errors.As(context.Cause(ctx), &s) {
		return 128 + int(s.Signal)
	}
	var change interface{ MustChange() bool }
	if errors.As(err, &change) && change.MustChange() {
		return 2
	}
	return 1
}

// failure is the JSON form of the last error.
func failure(err error, code int) any {
	out := struct {
		Error    string        `json:"error"`
		Remedy   string        `json:"remedy,omitempty"`
		Exit     int           `json:"exit"`
		Problems plan.Problems `json:"problems,omitempty"` // of the plan, each at its line
	}{Error: err.Error(), Exit: code}
	out.Remedy = remedy(err)
	var listed plan.Problems
	var single plan.Problem
	switch {
	case errors.As(err, &listed):
		out.Problems = listed
	case errors.As(err, &single):
		out.Problems = plan.Problems{single}
	}
	return out
}

// remedy returns what an error says to do, "" if it does not say.
func remedy(err error) string {
	var r interface{ Remedy() string }
	if errors.As(err, &r) {
		return r.Remedy()
	}
	return ""
}

// answerJSON writes one JSON value to the standard output.
func (t *terminal) answerJSON(v any) {
	data, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		t.say("%v", err)
		return
	}
	t.answer("%s\n", escaped(data))
}

// escaped writes what a terminal might obey, or show as something else, as
// JSON's own escapes; a program reads the same text.
func escaped(data []byte) string {
	var b strings.Builder
	for _, r := range string(data) {
		switch {
		case r == '\n' || unicode.IsPrint(r):
			b.WriteRune(r)
		case r <= 0xffff:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			high, low := utf16.EncodeRune(r)
			fmt.Fprintf(&b, `\u%04x\u%04x`, high, low)
		}
	}
	return b.String()
}
