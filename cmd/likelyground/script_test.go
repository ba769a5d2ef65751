package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"likelyground/habitat/ellerdown"
	"likelyground/raster/maps"
)

func TestMain(m *testing.M) {
	testscript.Main(inOwnCache{m}, map[string]func(){"likelyground": main})
}

// inOwnCache runs tests with a cache folder of their own.
type inOwnCache struct{ *testing.M }

func (m inOwnCache) Run() int {
	cache, err := os.MkdirTemp("", "cache-")
	if err == nil {
		defer os.RemoveAll(cache)
		err = os.Setenv("XDG_CACHE_HOME", cache)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return m.M.Run()
}

// TestScripts drives the command itself through testdata/script. Each script
// finds in its folder a small Ellerdown (inputs), plan.yaml, which uses all
// of it, and spoil.py, which makes wrong maps out of the right ones.
func TestScripts(t *testing.T) {
	country := draw(t, ellerdown.Size{Cols: 200, Rows: 160})
	large := draw(t, ellerdown.Size{Cols: 2000, Rows: 2000})
	testscript.Run(t, testscript.Params{
		Dir: filepath.Join("testdata", "script"),
		Setup: func(e *testscript.Env) error {
			e.Setenv("LARGE", large)
			e.Setenv("XDG_CACHE_HOME", os.Getenv("XDG_CACHE_HOME"))
			serve(e)
			if err := os.CopyFS(e.WorkDir, os.DirFS(country)); err != nil {
				return err
			}
			if err := os.Remove(filepath.Join(e.WorkDir, ellerdown.PlanName)); err != nil {
				return err
			}
			return copyHere(e.WorkDir, "plan.yaml", "spoil.py")
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"change":  change,
			"spoil":   spoil,
			"refused": refused,
			"small":   smallFiles,
			"signal":  signalled,
			"busy":    busy,
			"alike":   alike,
			"holds":   holds,
			"asked":   asked,
			"shut":    shut,
		},
	})
}

// draw lays down an Ellerdown for the scripts.
func draw(t *testing.T, s ellerdown.Size) string {
	t.Helper()
	dir := t.TempDir()
	if err := maps.Setup(0); err != nil {
		t.Fatal(err)
	}
	if err := ellerdown.Draw(context.Background(), dir, ellerdown.Options{Size: s, GeoTags: maps.GeoTags}); err != nil {
		t.Fatal(err)
	}
	return dir
}

func copyHere(dir string, names ...string) error {
	for _, n := range names {
		data, err := os.ReadFile(filepath.Join("testdata", n))
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, n), data, 0o666); err != nil {
			return err
		}
	}
	return nil
}

// change FILE OLD NEW writes p.yaml: the file with a text that it holds once
// put another way. \n in the texts is a line end.
func change(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: change FILE OLD NEW")
	}
	old, fresh := strings.ReplaceAll(args[1], `\n`, "\n"), strings.ReplaceAll(args[2], `\n`, "\n")
	text := ts.ReadFile(args[0])
	if n := strings.Count(text, old); n != 1 {
		ts.Fatalf("%s holds %q %d times, not once", args[0], old, n)
	}
	ts.Check(os.WriteFile(ts.MkAbs("p.yaml"), []byte(strings.Replace(text, old, fresh, 1)), 0o666))
}

// spoil WHAT FROM TO makes a wrong map of a right one.
func spoil(ts *testscript.TestScript, _ bool, args []string) {
	ts.Check(ts.Exec("/usr/bin/python3", append([]string{ts.MkAbs("spoil.py")}, args...)...))
}

// tree returns what a folder holds: a line a file, with its content's hash.
func tree(dir string) (map[string]string, error) {
	found := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return nil
		case err != nil:
			return err
		case e.IsDir():
			found[path] = "folder"
			return nil
		}
		data, err := os.ReadFile(path)
		found[path] = fmt.Sprintf("%x", sha256.Sum256(data))
		return err
	})
	return found, err
}

// untouched fails unless the work folder holds what it held before.
func untouched(ts *testscript.TestScript, before map[string]string) {
	after, err := tree(ts.MkAbs("."))
	ts.Check(err)
	for path, hash := range before {
		if after[path] != hash && !ofKept(ts.MkAbs("cache"), path) {
			ts.Fatalf("%s is changed or gone", path)
		}
	}
	for path := range after {
		if _, ok := before[path]; !ok && !ofKept(ts.MkAbs("cache"), path) {
			ts.Fatalf("%s is left behind", path)
		}
	}
}

// ofKept reports whether a path belongs to the finished work that is kept in a
// cache folder.
func ofKept(cache, path string) bool {
	kept := filepath.Join(cache, "likelyground", "kept")
	return path == cache || path == filepath.Dir(kept) || path == kept || strings.HasPrefix(path, kept+"/")
}

// crash is what a message for people never holds.
var crash = regexp.MustCompile(`panic|goroutine |runtime error|\.go:\d|0x[0-9a-f]{6}|SIG[A-Z]{3}`)

// run calls likelyground and returns its exit code and what it said.
func run(ts *testscript.TestScript, name string, args []string) (code int, said string) {
	err := ts.Exec(name, args...)
	said = ts.ReadFile("stdout") + ts.ReadFile("stderr")
	if bad := crash.FindString(said); bad != "" {
		ts.Fatalf("the program says %q", bad)
	}
	return exitOf(ts, err), said
}

func exitOf(ts *testscript.TestScript, err error) int {
	var exit *exec.ExitError
	if err == nil {
		return 0
	}
	if !errors.As(err, &exit) {
		ts.Fatalf("%v", err)
	}
	if s, ok := exit.Sys().(syscall.WaitStatus); ok && s.Signaled() {
		return 128 + int(s.Signal())
	}
	return exit.ExitCode()
}

func wantCode(ts *testscript.TestScript, text string, code int) {
	want, err := strconv.Atoi(text)
	ts.Check(err)
	if code != want {
		ts.Fatalf("exit code %d, want %d", code, want)
	}
}

// refused CODE ARG… calls likelyground, which must end with the code, say
// something of its own, say what to do if it is 2, and leave every file as it
// was and none that was not there.
func refused(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: refused CODE [ARG…]")
	}
	before, err := tree(ts.MkAbs("."))
	ts.Check(err)
	code, said := run(ts, "likelyground", args[1:])
	wantCode(ts, args[0], code)
	switch {
	case strings.Contains(strings.Join(args, " "), "--json"):
		var v struct{ Error, Remedy string }
		ts.Check(json.Unmarshal([]byte(ts.ReadFile("stdout")), &v))
		if v.Error == "" || code == 2 && v.Remedy == "" {
			ts.Fatalf("no error or no remedy in the JSON")
		}
	case ts.ReadFile("stdout") != "":
		ts.Fatalf("a refusal belongs to the standard error")
	case !strings.Contains(said, "likelyground: "):
		ts.Fatalf("nothing said")
	}
	if code == 2 && !strings.Contains(said, "What to do: ") && !strings.Contains(said, "; ") && !strings.Contains(said, `"remedy"`) {
		ts.Fatalf("no remedy said")
	}
	untouched(ts, before)
}

// small BYTES CODE ARG… calls likelyground where no file can grow beyond some
// bytes: what a full disk does to a program, on any machine.
func smallFiles(ts *testscript.TestScript, _ bool, args []string) {
	before, err := tree(ts.MkAbs("."))
	ts.Check(err)
	code, said := run(ts, "prlimit", append([]string{"--fsize=" + args[0], "likelyground"}, args[2:]...))
	wantCode(ts, args[1], code)
	if !strings.Contains(said, "likelyground: ") {
		ts.Fatalf("nothing said")
	}
	untouched(ts, before)
}

// started is a run of the command that goes on beside the script.
type started struct {
	*exec.Cmd
	said *lines
}

// lines gathers what a program says, for two goroutines.
type lines struct {
	text chan string
	all  bytes.Buffer
}

func (l *lines) Write(p []byte) (int, error) {
	l.text <- string(p)
	return len(p), nil
}

// start starts likelyground and waits until it has said something.
func start(ts *testscript.TestScript, until string, args []string) *started {
	path, err := exec.LookPath("likelyground")
	ts.Check(err)
	s := &started{exec.Command(path, args...), &lines{text: make(chan string, 1000)}}
	s.Dir, s.Stderr = ts.MkAbs("."), s.said
	ts.Check(s.Start())
	late := time.After(30 * time.Second)
	for !strings.Contains(s.said.all.String(), until) {
		select {
		case text := <-s.said.text:
			s.said.all.WriteString(text)
		case <-late:
			s.Process.Kill()
			ts.Fatalf("it has not said %q but: %s", until, s.said.all.String())
		}
	}
	return s
}

// end waits for the end and returns the exit code.
func (s *started) end(ts *testscript.TestScript) int {
	err := s.Wait()
	close(s.said.text)
	for text := range s.said.text {
		s.said.all.WriteString(text)
	}
	ts.Logf("[stderr]\n%s", s.said.all.String())
	if bad := crash.FindString(s.said.all.String()); bad != "" {
		ts.Fatalf("the program says %q", bad)
	}
	return exitOf(ts, err)
}

var signals = map[string]syscall.Signal{"INT": syscall.SIGINT, "TERM": syscall.SIGTERM, "HUP": syscall.SIGHUP, "KILL": syscall.SIGKILL}

// signal NAME CODE UNTIL ARG… starts likelyground and sends it a signal a
// moment after it has said something. It must end within seconds with the
// code. Nothing may be left, but for KILL, which leaves nothing that is not
// hidden.
func signalled(ts *testscript.TestScript, _ bool, args []string) {
	before, err := tree(ts.MkAbs("."))
	ts.Check(err)
	s := start(ts, args[2], args[3:])
	time.Sleep(100 * time.Millisecond)
	began := time.Now()
	ts.Check(s.Process.Signal(signals[args[0]]))
	wantCode(ts, args[1], s.end(ts))
	if took := time.Since(began); took > 5*time.Second {
		ts.Fatalf("it took %v to end", took)
	}
	if args[0] != "KILL" {
		untouched(ts, before)
		return
	}
	after, err := tree(ts.MkAbs("."))
	ts.Check(err)
	for path := range after {
		if _, ok := before[path]; !ok && !strings.Contains(path, "/.") {
			ts.Fatalf("%s is left behind", path)
		}
	}
}

// busy UNTIL ARG… starts likelyground twice with the same arguments: the
// second is refused at once, the first ends well.
func busy(ts *testscript.TestScript, _ bool, args []string) {
	first := start(ts, args[0], args[1:])
	began := time.Now()
	code, said := run(ts, "likelyground", args[1:])
	if took := time.Since(began); took > 5*time.Second {
		ts.Fatalf("it took %v to refuse", took)
	}
	wantCode(ts, "1", code)
	if !strings.Contains(said, fmt.Sprintf("another run is writing to this folder (process %d on ", first.Process.Pid)) {
		ts.Fatalf("not said why")
	}
	wantCode(ts, "0", first.end(ts))
}

// alike DIR DIR fails unless two output folders hold the same bytes, what
// their accounts say under this_run and of the plan's place aside.
func alike(ts *testscript.TestScript, _ bool, args []string) {
	a, b := outputs(ts, args[0]), outputs(ts, args[1])
	if len(a) != len(b) || len(a) == 0 {
		ts.Fatalf("%d and %d files", len(a), len(b))
	}
	for name, data := range a {
		if !bytes.Equal(data, b[name]) {
			ts.Fatalf("%s differs", name)
		}
	}
}

func outputs(ts *testscript.TestScript, dir string) map[string][]byte {
	out := map[string][]byte{}
	entries, err := os.ReadDir(ts.MkAbs(dir))
	ts.Check(err)
	for _, e := range entries {
		data := []byte(ts.ReadFile(filepath.Join(ts.MkAbs(dir), e.Name())))
		if e.Name() == "run.json" {
			var account map[string]any
			ts.Check(json.Unmarshal(data, &account))
			delete(account, "this_run")
			delete(account["plan"].(map[string]any), "file")
			data, err = json.Marshal(account)
			ts.Check(err)
		}
		out[e.Name()] = data
	}
	return out
}

// holds DIR NAME… fails unless a folder holds just these files and its
// account vouches for each of the others by its hash.
func holds(ts *testscript.TestScript, _ bool, args []string) {
	dir := ts.MkAbs(args[0])
	found, err := tree(dir)
	ts.Check(err)
	delete(found, dir)
	if len(found) != len(args)-1 {
		ts.Fatalf("%s holds %v", args[0], found)
	}
	var account struct {
		Outputs []struct{ File, SHA256 string }
	}
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(filepath.Join(dir, "run.json"))), &account))
	if len(account.Outputs) != len(args)-2 {
		ts.Fatalf("the account vouches for %v", account.Outputs)
	}
	for _, o := range account.Outputs {
		if found[filepath.Join(dir, o.File)] != o.SHA256 {
			ts.Fatalf("the account does not match %s", o.File)
		}
	}
	for _, name := range args[1:] {
		if found[filepath.Join(dir, name)] == "" {
			ts.Fatalf("%s holds no %s", args[0], name)
		}
	}
}
