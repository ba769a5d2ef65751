package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"

	"golang.org/x/sys/unix"

	"likelyground/raster/maps"
)

// badMap is a file of the corpus, and how the program must take it. What must
// never happen is asked of each of them: a crash, a trace, a hang, memory
// beyond the budget, a file opened that the plan does not name, a control
// character on the screen, an output left behind by a run that failed.
type badMap struct {
	name string
	file string // as the plan names it, relative to the plan's folder
	make func(c *corner)
	kind mapKind
	keys string // further keys of the map in the plan
	plan string // a whole plan, instead of one around the file

	look, run int    // exit codes; look is not asked where there is a plan
	says      string // a pattern that the words of run hold
	lookSays  string // one that those of look hold; as says where empty
	slow      bool   // it takes more than a moment, within bounds
}

type mapKind int

const (
	amounts  mapKind = iota // a raster of numbers
	codes                   // a raster of classes
	polygons                // features with the field rock
	outline                 // the area
	legend                  // of a raster of classes
)

// corner is where a bad map is laid out: the plan's folder, and one beside it
// that nobody names.
type corner struct {
	t       *testing.T
	inside  string
	outside string
}

// path returns where a file of the plan's folder lies.
func (c *corner) path(name string) string { return filepath.Join(c.inside, name) }

func (c *corner) must(err error) {
	c.t.Helper()
	if err != nil {
		c.t.Fatal(err)
	}
}

// write writes a file into the plan's folder.
func (c *corner) write(name string, data []byte) {
	c.t.Helper()
	c.must(os.MkdirAll(filepath.Dir(c.path(name)), 0o777))
	c.must(os.WriteFile(c.path(name), data, 0o666))
}

func (c *corner) text(name, text string) { c.t.Helper(); c.write(name, []byte(text)) }

// secret is what the files of the outer folder hold, and no answer may.
const secret = "Lanternjaw"

// What one file may take.
const (
	budget   = 256 // MB, given to --memory
	headroom = 110 // MB beside it: the program, GDAL and its tables, the test's own code
	patience = time.Minute
	long     = 3 * time.Minute
)

// TestCorpus drives every bad map through look, check and run.
func TestCorpus(t *testing.T) {
	if err := maps.Setup(0); err != nil {
		t.Fatal(err)
	}
	for _, group := range [][]badMap{strangeFiles, damagedRasters, bombs, virtualRasters, badFeatures, badGeoPackages, oddNames, badTables, badPlans} {
		for _, b := range group {
			t.Run(b.name, func(t *testing.T) {
				t.Parallel()
				b.test(t)
			})
		}
	}
}

func (b badMap) test(t *testing.T) {
	c := newCorner(t)
	if b.make != nil {
		b.make(c)
	}
	c.text("p.yaml", b.planText())
	spied := watch(t, c.outside)
	if b.plan == "" && b.kind != legend {
		a := c.call(b, "look", b.file)
		a.wantCode(b.look)
		a.wantWords(b.lookSays, b.says)
	}
	run := c.call(b, "run", "p.yaml", "--json")
	run.wantCode(b.run)
	run.wantWords(b.says)
	run.wantJSON()
	switch {
	case t.Failed():
	case b.slow:
		// What goes on without end would do so within this process too.
		if got := c.call(b, "check", "p.yaml", "--quiet"); got.code != 0 {
			got.wantCode(run.code)
		}
	default:
		c.check(run.code)
	}
	if opened := spied(); opened != "" {
		t.Errorf("it opened %s, which the plan does not name", opened)
	}
	c.leftovers(run.code)
}

// newCorner lays out a sound map of ground beside what is to come, and the
// files that nobody names.
func newCorner(t *testing.T) *corner {
	t.Helper()
	root := t.TempDir()
	c := &corner{t: t, inside: filepath.Join(root, "inside"), outside: filepath.Join(root, "outside")}
	c.must(os.MkdirAll(c.inside, 0o777))
	c.must(os.MkdirAll(c.outside, 0o777))
	ground(c, "ground.tif")
	for _, name := range []string{"secret.tif", "secret.geojson", "secret.csv", "secret.bin"} {
		data := goodGeoJSON(secret)
		switch filepath.Ext(name) {
		case ".tif":
			data = readFile(t, c.path("ground.tif"))
		case ".csv":
			data = []byte("code,name\n1," + secret + "\n")
		case ".bin":
			data = bytes.Repeat([]byte(secret+"\n"), 1000)
		}
		c.must(os.WriteFile(filepath.Join(c.outside, name), data, 0o666))
	}
	return c
}

// check asks check for the same, within this process: what crashes has failed
// by now. It looks at less than run does.
func (c *corner) check(code int) {
	c.t.Helper()
	var out, said bytes.Buffer
	got := Main([]string{"check", c.path("p.yaml"), "--quiet"}, &out, &said)
	if got != 0 && got != code {
		c.t.Errorf("check ends in %d, run in %d\n%s", got, code, said.String())
	}
	a := answer{c.t, "check", got, out.String(), said.String()}
	a.wantSound()
	a.wantWords()
}

func readFile(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func (b badMap) planText() string {
	if b.plan != "" {
		return b.plan
	}
	const head = "format: 1\ngrid: {like: ground}\n"
	keys := b.keys
	if keys != "" {
		keys = ", " + keys
	}
	bad := "  bad: {file: " + quoted(b.file) + keys
	ground := "maps:\n  ground: {file: ground.tif, unit: m}\n"
	score := "factors:\n  height: {from: ground, curve: {0: 0, 300: 1}}\n  "
	classes := score + "cover: {from: bad, scores: {sand: 1}, others: 0}\n"
	switch b.kind {
	case amounts:
		return head + ground + bad + "}\n" + score + "amount: {from: bad, curve: {0: 0, 300: 1}}\n"
	case codes:
		return head + ground + bad + ", legend: {1: sand, 2: clay}}\n" + classes
	case polygons:
		return head + ground + bad + ", field: rock}\n" + classes
	case outline:
		return head + "area: " + quoted(b.file) + "\n" + ground + score
	}
	return head + ground + "  bad: {file: codes.tif, legend: " + quoted(b.file) + "}\n" + classes
}

// quoted writes a text as YAML reads it back.
func quoted(text string) string {
	data, err := json.Marshal(text)
	if err != nil {
		panic(err)
	}
	return string(data)
}

// answer is what a call came to.
type answer struct {
	t    *testing.T
	what string
	code int
	out  string // standard output
	err  string // standard error
}

// call calls the program in the plan's folder and asks what must hold of
// every call.
func (c *corner) call(b badMap, args ...string) answer {
	c.t.Helper()
	within := patience
	if b.slow {
		within = long
	}
	if args[0] != "look" {
		args = append(args, "--memory", fmt.Sprintf("%dM", budget))
	}
	report := filepath.Join(filepath.Dir(c.inside), "report")
	self, err := os.Executable()
	c.must(err)
	// The test binary is the program where it is called by its name.
	link := filepath.Join(filepath.Dir(c.inside), "likelyground")
	if err := os.Symlink(self, link); err != nil && !errors.Is(err, fs.ErrExist) {
		c.t.Fatal(err)
	}
	runner, err := filepath.Abs(filepath.Join("testdata", "measured.py"))
	c.must(err)
	cmd := exec.Command("/usr/bin/python3", append([]string{runner, report, "8000", fmt.Sprint(within.Seconds()), link}, args...)...)
	cmd.Dir = c.inside
	var out, said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &said
	err = cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		c.t.Fatal(err)
	}
	a := answer{c.t, strings.Join(args, " "), cmd.ProcessState.ExitCode(), out.String(), said.String()}
	if testing.Verbose() {
		c.t.Logf("%s: %d\n%s%s", a.what, a.code, a.out, a.err)
	}
	a.wantSound()
	a.wantMemory(report)
	return a
}

// wantSound asks what every call must keep.
func (a answer) wantSound() {
	a.t.Helper()
	all := a.out + a.err
	if bad := crash.FindString(all); bad != "" {
		a.t.Errorf("%s says %q:\n%s", a.what, bad, all)
	}
	switch {
	case a.code == 124:
		a.t.Errorf("%s hangs", a.what)
	case a.code != 0 && a.code != 1 && a.code != 2:
		a.t.Errorf("%s ends in %d:\n%s", a.what, a.code, all)
	case a.code == 1:
		a.t.Errorf("%s ends in 1, as if trying again could help:\n%s", a.what, all)
	case a.code != 0 && !strings.Contains(all, "likelyground: ") && !strings.Contains(all, `"error"`):
		a.t.Errorf("%s ends in %d without a word", a.what, a.code)
	}
	if strings.Contains(all, secret) {
		a.t.Errorf("%s tells what stands in a file that nobody named:\n%s", a.what, all)
	}
	for _, r := range all {
		if r != '\n' && r != '\t' && !unicode.IsPrint(r) {
			a.t.Errorf("%s prints %U", a.what, r)
			break
		}
	}
	if n := len(all); n > 200_000 {
		a.t.Errorf("%s says %d bytes", a.what, n)
	}
}

func (a answer) wantMemory(report string) {
	a.t.Helper()
	kB, err := strconv.Atoi(string(readFile(a.t, report)))
	if err != nil {
		a.t.Fatal(err)
	}
	if kB > (budget+headroom)*1024 {
		a.t.Errorf("%s takes %d MB", a.what, kB/1024)
	}
}

func (a answer) wantCode(want int) {
	a.t.Helper()
	if a.code != want {
		a.t.Errorf("%s ends in %d, want %d:\n%s%s", a.what, a.code, want, a.out, a.err)
	}
}

// wantWords asks for the first pattern that is not empty, and for a remedy
// where the call was refused.
func (a answer) wantWords(patterns ...string) {
	a.t.Helper()
	all := a.out + a.err
	for _, p := range patterns {
		if p == "" {
			continue
		}
		if !regexp.MustCompile(p).MatchString(all) {
			a.t.Errorf("%s does not say %q:\n%s", a.what, p, all)
		}
		break
	}
	if a.code == 2 && !strings.Contains(all, "What to do: ") && !strings.Contains(all, "; ") {
		a.t.Errorf("%s names no remedy:\n%s", a.what, all)
	}
}

func (a answer) wantJSON() {
	a.t.Helper()
	var v any
	if err := json.Unmarshal([]byte(a.out), &v); err != nil {
		a.t.Errorf("%s answers no JSON: %v\n%s%s", a.what, err, a.out, a.err)
	}
	var refused struct{ Error, Remedy string }
	if a.code == 2 && (json.Unmarshal([]byte(a.out), &refused) != nil || refused.Error == "" || refused.Remedy == "") {
		a.t.Errorf("%s: no error or no remedy in the JSON: %s", a.what, a.out)
	}
}

// leftovers fails where a run that failed left something, or one that went
// well left something hidden.
func (c *corner) leftovers(code int) {
	c.t.Helper()
	entries, err := os.ReadDir(c.inside)
	c.must(err)
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".p.") || code != 0 && e.Name() == "p.out" {
			c.t.Errorf("%s is left behind", e.Name())
		}
	}
	err = filepath.WalkDir(c.path("p.out"), func(path string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() && bytes.Contains(readFile(c.t, path), []byte(secret)) {
			c.t.Errorf("%s holds what stands in a file that nobody named", e.Name())
		}
		return nil
	})
	c.must(err)
}

// watch follows the files of a folder; what it returns tells which of them
// were opened since, "" for none.
func watch(t *testing.T, folder string) func() string {
	t.Helper()
	fd, err := unix.InotifyInit1(unix.IN_NONBLOCK | unix.IN_CLOEXEC)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { unix.Close(fd) })
	if _, err := unix.InotifyAddWatch(fd, folder, unix.IN_OPEN|unix.IN_ACCESS); err != nil {
		t.Fatal(err)
	}
	return func() string {
		buf := make([]byte, 64<<10)
		n, err := unix.Read(fd, buf)
		if errors.Is(err, unix.EAGAIN) {
			return ""
		}
		if err != nil {
			return err.Error()
		}
		names := regexp.MustCompile(`[a-z]+\.[a-z]+`).FindAllString(string(buf[:n]), -1)
		slices.Sort(names)
		if len(names) == 0 {
			return "" // the folder itself was listed
		}
		return strings.Join(slices.Compact(names), ", ")
	}
}

// The guard must be able to see.
func TestWatch(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "secret.bin")
	if err := os.WriteFile(file, []byte("x"), 0o666); err != nil {
		t.Fatal(err)
	}
	spied := watch(t, dir)
	if got := spied(); got != "" {
		t.Errorf("before: %q", got)
	}
	readFile(t, file)
	if got := spied(); got != "secret.bin" {
		t.Errorf("after: %q", got)
	}
}
