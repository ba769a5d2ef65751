package publish

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func put(t *testing.T, f *Folder, name, text string) {
	t.Helper()
	file, err := f.Create(name)
	if err == nil {
		_, err = file.WriteString(text)
	}
	if err = errors.Join(err, file.Close()); err != nil {
		t.Fatal(err)
	}
}

func open(t *testing.T, dir string) *Folder {
	t.Helper()
	f, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// contents lists the files of a folder with their text; a missing folder is
// empty.
func contents(dir string) map[string]string {
	m := map[string]string{}
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		data, _ := os.ReadFile(filepath.Join(dir, e.Name()))
		m[e.Name()] = string(data)
	}
	return m
}

func leftovers(dir string) []string {
	found, _ := filepath.Glob(filepath.Join(filepath.Dir(dir), ".*"))
	return found
}

func TestPublish(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "out")
	f := open(t, dir)
	put(t, f, "score.tif", "new score")
	put(t, f, Account, "account")
	if len(contents(dir)) != 0 {
		t.Error("something has its final name already")
	}
	if err := f.Publish([]string{"score.tif"}, nil); err != nil {
		t.Fatal(err)
	}
	want := map[string]string{"score.tif": "new score", Account: "account"}
	if got := contents(dir); fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %v", got)
	}
	if l := leftovers(dir); l != nil {
		t.Errorf("left behind: %v", l)
	}
}

func TestStaleOutputGoes(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	f := open(t, dir)
	for _, n := range []string{"a", "b", Account} {
		put(t, f, n, "1")
	}
	f.Publish([]string{"a", "b"}, nil)
	os.WriteFile(filepath.Join(dir, "mine.txt"), []byte("keep"), 0o666)
	f = open(t, dir)
	put(t, f, "a", "2")
	put(t, f, Account, "2")
	if err := f.Publish([]string{"a"}, []string{"a", "b"}); err != nil {
		t.Fatal(err)
	}
	if got := fmt.Sprint(contents(dir)); got != "map[a:2 mine.txt:keep run.json:2]" {
		t.Error(got)
	}
}

// TestCutOffAnywhere stops a publication before each of its renames, as a
// kill would, and asks that no account stands beside files that are not its
// own, and that the next run brings it to its end.
func TestCutOffAnywhere(t *testing.T) {
	names := []string{"a", "b", "c"}
	for cut := 0; cut <= len(names)+1; cut++ {
		dir := filepath.Join(t.TempDir(), "out")
		f := open(t, dir)
		for _, n := range append(names, Account) {
			put(t, f, n, "old")
		}
		if err := f.Publish(names, nil); err != nil {
			t.Fatal(err)
		}
		f = open(t, dir)
		for _, n := range append(names, Account) {
			put(t, f, n, "new")
		}
		if err := f.mark([]byte(`["a","b","c"]`)); err != nil {
			t.Fatal(err)
		}
		if cut > 0 {
			os.Remove(filepath.Join(dir, Account))
		}
		for i := 0; i < cut-1 && i < len(names); i++ {
			f.move(names[i])
		}
		f.lock.Close() // the process dies here
		now := contents(dir)
		if account, ok := now[Account]; ok {
			for _, n := range names {
				if now[n] != account {
					t.Errorf("cut %d: the account is %s, %s is %s", cut, account, n, now[n])
				}
			}
		}
		g := open(t, dir)
		if got := fmt.Sprint(contents(dir)); got != "map[a:new b:new c:new run.json:new]" {
			t.Errorf("cut %d: recovered to %s", cut, got)
		}
		g.Abandon()
		if l := leftovers(dir); l != nil {
			t.Errorf("left behind: %v", l)
		}
	}
}

func TestUnfinishedIsCleared(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	f := open(t, dir)
	put(t, f, "score.tif", "half")
	f.lock.Close() // the process dies here
	g := open(t, dir)
	defer g.Abandon()
	if left := contents(g.Scratch()); len(left) != 1 || left[holderName] == "" {
		t.Errorf("left: %v", left)
	}
}

func TestBusy(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	f := open(t, dir)
	if _, err := Open(dir); !errors.Is(err, ErrBusy) || !strings.Contains(err.Error(), fmt.Sprintf("(process %d on ", os.Getpid())) {
		t.Errorf("second run: %v", err)
	}
	f.Abandon()
	g := open(t, dir)
	g.Abandon()
}

func TestRefusals(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	os.WriteFile(file, nil, 0o666)
	for _, out := range []string{file, filepath.Join(file, "below")} {
		_, err := Open(out)
		var r *Refusal
		if !errors.As(err, &r) || r.Remedy() == "" {
			t.Errorf("%s: %v", out, err)
		}
	}
}

func TestExisting(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	os.MkdirAll(dir, 0o777)
	os.WriteFile(filepath.Join(dir, "b"), nil, 0o666)
	f := open(t, dir)
	defer f.Abandon()
	if got := f.Existing([]string{"a", "b"}); !slices.Equal(got, []string{"b"}) {
		t.Error(got)
	}
}

func ExampleFolder_Publish() {
	dir, _ := os.MkdirTemp("", "")
	defer os.RemoveAll(dir)
	f, _ := Open(filepath.Join(dir, "out"))
	for _, name := range []string{"score.tif", Account} {
		file, _ := f.Create(name)
		file.WriteString("…")
		file.Close()
	}
	fmt.Println(f.Publish([]string{"score.tif"}, nil))
	found, _ := filepath.Glob(filepath.Join(dir, "out", "*"))
	fmt.Println(len(found), "files")
	// Output:
	// <nil>
	// 2 files
}

// TestAbandonLeavesNothing: folders made on the way to the output folder are
// gone after a run that failed, those that were there before are not.
func TestAbandonLeavesNothing(t *testing.T) {
	top := t.TempDir()
	f := open(t, filepath.Join(top, "new", "deep", "out"))
	f.Abandon()
	if c := contents(top); len(c) != 0 {
		t.Error(c)
	}
	if _, err := os.Stat(top); err != nil {
		t.Error(err)
	}
}

// TestLink: a folder that is a link gets its outputs where the link leads to.
func TestLink(t *testing.T) {
	top := t.TempDir()
	real, link := filepath.Join(top, "a", "real"), filepath.Join(top, "link")
	if err := errors.Join(os.MkdirAll(real, 0o777), os.Symlink(real, link)); err != nil {
		t.Fatal(err)
	}
	f := open(t, link)
	if f.Dir() != link || filepath.Dir(f.Scratch()) != filepath.Dir(real) {
		t.Error(f.Dir(), f.Scratch())
	}
	put(t, f, Account, "account")
	if err := f.Publish(nil, nil); err != nil || contents(real)[Account] != "account" {
		t.Error(err, contents(real))
	}
	var refused *Refusal
	if err := os.Symlink(filepath.Join(top, "nowhere"), filepath.Join(top, "loose")); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(filepath.Join(top, "loose")); !errors.As(err, &refused) {
		t.Error(err)
	}
}

// TestOtherFileSystem: what cannot be renamed into the output folder is
// refused before any work; /proc is a file system of its own everywhere.
func TestOtherFileSystem(t *testing.T) {
	var refused *Refusal
	if _, err := Open("/proc"); !errors.As(err, &refused) {
		t.Error(err)
	}
}

// A hidden folder may have come with a folder from somebody else.
func TestForeignHiddenFolder(t *testing.T) {
	base := t.TempDir()
	dir, mine := filepath.Join(base, "out"), filepath.Join(base, "mine")
	hidden := filepath.Join(base, ".out.making")
	for _, list := range []string{`["-../mine"]`, `["../mine"]`, `["-"]`, `[""]`, `["-.."]`, `[".."]`} {
		if err := errors.Join(os.WriteFile(mine, []byte("precious"), 0o666), os.Mkdir(hidden, 0o777),
			os.WriteFile(filepath.Join(hidden, wholeMark), []byte(list), 0o666)); err != nil {
			t.Fatal(err)
		}
		open(t, dir).Abandon()
		if data, _ := os.ReadFile(mine); string(data) != "precious" {
			t.Errorf("the list %s reached beyond the output folder", list)
		}
	}
	own := filepath.Join(base, "own")
	if err := errors.Join(os.Mkdir(own, 0o777), os.WriteFile(filepath.Join(own, "letter"), nil, 0o666), os.Symlink("own", hidden)); err != nil {
		t.Fatal(err)
	}
	var refusal *Refusal
	if _, err := Open(dir); !errors.As(err, &refusal) {
		t.Errorf("a hidden folder that leads elsewhere: %v", err)
	}
	if len(contents(own)) != 1 {
		t.Error("a hidden folder that leads elsewhere was cleared")
	}
}

// The outputs are made beside the folder itself, not beside a link to it.
func TestLinkedFolder(t *testing.T) {
	base := t.TempDir()
	real := filepath.Join(base, "disk", "real")
	if err := errors.Join(os.MkdirAll(real, 0o777), os.Symlink(real, filepath.Join(base, "link"))); err != nil {
		t.Fatal(err)
	}
	f := open(t, filepath.Join(base, "link"))
	defer f.Abandon()
	if want := filepath.Join(base, "disk"); filepath.Dir(f.Scratch()) != want {
		t.Errorf("made in %s, want a folder in %s", f.Scratch(), want)
	}
}
