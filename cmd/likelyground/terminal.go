package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/mattn/go-isatty"
	"github.com/schollz/progressbar/v3"

	"likelyground/habitat"
)

// terminal prints: answers to the standard output, talk to the standard
// error, progress as a bar where a person looks on and as plain lines
// otherwise.
type terminal struct {
	lost     error // the first failure to write an answer
	out, err io.Writer
	json     bool
	quiet    bool
	person   bool // standard error is a terminal
	colour   bool
	bar      *progressbar.ProgressBar
	stage    string
	named    bool // the stage's name stands on the line, without a bar
	last     time.Time
}

func newTerminal(out, err io.Writer) *terminal {
	t := &terminal{out: out, err: err}
	if f, ok := err.(*os.File); ok {
		t.person = isatty.IsTerminal(f.Fd()) && os.Getenv("TERM") != "dumb"
	}
	_, plain := os.LookupEnv("NO_COLOR")
	t.colour = t.person && !plain
	return t
}

// answer writes to the standard output, as printable text.
func (t *terminal) answer(format string, args ...any) {
	t.done() // both may be the same screen
	if _, err := fmt.Fprint(t.out, printable(fmt.Sprintf(format, args...))); err != nil && t.lost == nil {
		t.lost = fmt.Errorf("write the answer: %w", err)
	}
}

// say writes a line to the standard error.
func (t *terminal) say(format string, args ...any) {
	t.done()
	fmt.Fprintln(t.err, printable(fmt.Sprintf(format, args...)))
}

// warn says something that the user should know but that stops nothing.
func (t *terminal) warn(text string) {
	if !t.quiet {
		t.say("%s %s", t.bold("Note:"), text)
	}
}

// sayError tells what failed and, in a paragraph of its own, what to do.
func (t *terminal) sayError(err error) {
	t.say("%s %s", t.bold("likelyground:"), strings.TrimRight(err.Error(), "\n"))
	if fix := remedy(err); fix != "" && !strings.Contains(err.Error(), fix) { // messages that point at a line hold it
		t.say("%s %s", t.bold("What to do:"), fix)
	}
}

func (t *terminal) bold(text string) string {
	if !t.colour {
		return text
	}
	return "\x01b" + text + "\x01r"
}

// printable takes the sting out of control characters that a file name or a
// map may carry; only our own marks for bold become escapes.
func printable(text string) string {
	clean := strings.Map(func(r rune) rune {
		if r == '\n' || r == '\t' || r == '\x01' || unicode.IsPrint(r) {
			return r
		}
		return '\uFFFD'
	}, text)
	return strings.NewReplacer("\x01b", "\x1b[1m", "\x01r", "\x1b[0m", "\x01", "\uFFFD").Replace(clean)
}

// plainEvery is how often progress is told where nobody looks on.
const plainEvery = 10 * time.Second

// event shows what the run reports.
func (t *terminal) event(e habitat.Event) {
	switch {
	case t.quiet:
	case e.Warning != "":
		t.warn(e.Warning)
	case e.Said != "":
		t.say("%s", sentence(e.Said))
	case t.person:
		t.drawBar(e)
	default:
		t.plainProgress(e)
	}
}

// sentence makes a sentence of words.
func sentence(text string) string {
	r, n := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(r)) + text[n:] + "."
}

// drawBar shows a stage by its name until it says how much there is to do,
// and by a bar from then on.
func (t *terminal) drawBar(e habitat.Event) {
	switch {
	case e.Total <= 0:
		t.done()
		t.stage, t.named = e.Stage, true
		fmt.Fprintf(t.err, "\r%s", printable(e.Stage))
		return
	case e.Stage != t.stage || t.bar == nil:
		t.done()
		t.stage = e.Stage
		t.bar = progressbar.NewOptions64(e.Total, progressbar.OptionSetWriter(t.err),
			progressbar.OptionSetDescription(printable(e.Stage)), progressbar.OptionThrottle(100*time.Millisecond),
			progressbar.OptionSetWidth(30), progressbar.OptionClearOnFinish(), progressbar.OptionSetPredictTime(true))
	}
	t.bar.Set64(e.Done)
}

func (t *terminal) plainProgress(e habitat.Event) {
	now := time.Now()
	if e.Stage != t.stage {
		t.stage, t.last = e.Stage, now
		fmt.Fprintln(t.err, printable(e.Stage))
		return
	}
	if e.Total > 0 && now.Sub(t.last) >= plainEvery {
		t.last = now
		fmt.Fprintf(t.err, "%s: %d %%\n", printable(e.Stage), 100*e.Done/e.Total)
	}
}

// done takes the bar, or the name of the stage, away.
func (t *terminal) done() {
	if t.named {
		fmt.Fprintf(t.err, "\r%s\r", strings.Repeat(" ", len([]rune(t.stage))))
		t.named = false
	}
	if t.bar != nil {
		t.bar.Clear()
		t.bar = nil
	}
}
