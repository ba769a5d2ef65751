package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

var ctx = context.Background()

func about(title string, values ...string) About {
	a := About{Kind: "test", Title: title}
	for i, v := range values {
		a.Depends = append(a.Depends, Part{fmt.Sprintf("part %d", i), v})
	}
	return a
}

func opened(t *testing.T, folder string, most int64) *Store {
	t.Helper()
	s, err := Open(folder, most)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// keep makes an entry with one file of some bytes.
func keep(t *testing.T, s *Store, a About, data []byte) {
	t.Helper()
	e, err := kept(s, a, data)
	if err != nil {
		t.Fatal(err)
	}
	e.Close()
}

func kept(s *Store, a About, data []byte) (*Entry, error) {
	m, err := s.Begin()
	if err != nil {
		return nil, err
	}
	defer m.Close()
	if err := m.Reserve(int64(len(data))); err != nil {
		return nil, err
	}
	f, err := m.Create("data")
	if err != nil {
		return nil, err
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Close()); err != nil {
		return nil, err
	}
	return m.Publish(ctx, a, []byte("note"))
}

func content(t *testing.T, s *Store, a About) []byte {
	t.Helper()
	e, err := s.Find(ctx, a)
	if err != nil {
		t.Fatal(err)
	}
	defer e.Close()
	data, err := os.ReadFile(e.Path("data"))
	if err != nil || string(e.Note()) != "note" || e.Size() != int64(len(data)) || e.Path("other") != "" {
		t.Fatal(err, string(e.Note()))
	}
	return data
}

func TestKeyHangsOnWhatIsDependedOn(t *testing.T) {
	a := about("one", "x", "y")
	b := about("other title", "x", "y")
	b.Depends[0], b.Depends[1] = b.Depends[1], b.Depends[0]
	if a.Key() != b.Key() || !keyName.MatchString(a.Key()) {
		t.Errorf("keys %s and %s", a.Key(), b.Key())
	}
	for _, other := range []About{about("one", "x", "z"), about("one", "x"), about("one", "y", "x"), {Kind: "else", Depends: a.Depends}} {
		if other.Key() == a.Key() {
			t.Errorf("%+v has the key of %+v", other, a)
		}
	}
}

// TestDamage: whatever happens to a file of an entry is found out, told, and
// the entry is gone, so that it is made again.
func TestDamage(t *testing.T) {
	data := bytes.Repeat([]byte("abcdefgh"), 5<<18) // more than two pieces
	a := about("the thing", "x")
	for name, spoil := range map[string]func(dir string) error{
		"cut short":                 func(dir string) error { return os.Truncate(filepath.Join(dir, "0000.data"), 3) },
		"longer":                    func(dir string) error { return os.Truncate(filepath.Join(dir, "0000.data"), int64(len(data)+1)) },
		"gone":                      func(dir string) error { return os.Remove(filepath.Join(dir, "0000.data")) },
		"a bit in the first piece":  func(dir string) error { return flip(filepath.Join(dir, "0000.data"), 77) },
		"a bit in the last piece":   func(dir string) error { return flip(filepath.Join(dir, "0000.data"), len(data)-1) },
		"a bit in the description":  func(dir string) error { return flip(filepath.Join(dir, manifestName), 40) },
		"the description cut short": func(dir string) error { return os.Truncate(filepath.Join(dir, manifestName), 40) },
	} {
		s := opened(t, t.TempDir(), 1<<30)
		keep(t, s, a, data)
		if !bytes.Equal(content(t, s, a), data) || !s.Has(a) {
			t.Fatal("not what was written")
		}
		if err := spoil(s.done(a.Key())); err != nil {
			t.Fatal(err)
		}
		_, err := s.Find(ctx, a)
		var damage *Damage
		if !errors.As(err, &damage) || !strings.Contains(err.Error(), "the thing is damaged") {
			t.Errorf("%s: %v", name, err)
		}
		if _, err = s.Find(ctx, a); !errors.Is(err, ErrAbsent) || s.Has(a) || s.Held() != 0 {
			t.Errorf("%s: then %v", name, err)
		}
		keep(t, s, a, data)
		if !bytes.Equal(content(t, s, a), data) {
			t.Errorf("%s: not what was written again", name)
		}
	}
}

func flip(path string, at int) error {
	data, err := os.ReadFile(path)
	if err == nil {
		data[at] ^= 4
		err = os.WriteFile(path, data, 0o666)
	}
	return err
}

func TestPruning(t *testing.T) {
	s := opened(t, t.TempDir(), 400<<10)
	data := make([]byte, 80<<10)
	for i := range data {
		data[i] = byte(i * 7)
	}
	for i := range 4 {
		keep(t, s, about(fmt.Sprint(i), fmt.Sprint(i)), data)
		age(t, s, about("", fmt.Sprint(i)), time.Duration(10-i)*time.Hour)
	}
	content(t, s, about("", "0")) // used now: no longer the oldest
	inUse, err := s.Find(ctx, about("", "1"))
	if err != nil {
		t.Fatal(err)
	}
	age(t, s, about("", "1"), 20*time.Hour)
	keep(t, s, about("new", "new"), data)
	for v, want := range map[string]bool{"0": true, "1": true, "2": false, "3": true, "new": true} {
		if got := s.Has(about("", v)); got != want {
			t.Errorf("%s is kept: %v", v, got)
		}
	}
	if held := s.Held(); held > 400<<10 {
		t.Errorf("%d bytes are held", held)
	}
	list := s.List()
	if len(list) != 4 || list[0].Title != "new" || list[3].Title != "1" || list[0].Bytes < 80<<10 {
		t.Errorf("the list is %+v", list)
	}
	var none *NoRoom
	if _, err := kept(s, about("large", "large"), make([]byte, 500<<10)); !errors.As(err, &none) || !s.Has(about("", "0")) {
		t.Errorf("more than there may be: %v", err)
	}
	if _, n, err := s.Clear(); err != nil || n != 1 || !s.Has(about("", "1")) || len(s.List()) != 1 {
		t.Errorf("clearing leaves %+v: %v", s.List(), err)
	}
	inUse.Close()
}

func age(t *testing.T, s *Store, a About, d time.Duration) {
	t.Helper()
	at := time.Now().Add(-d)
	if err := os.Chtimes(filepath.Join(s.done(a.Key()), manifestName), at, at); err != nil {
		t.Fatal(err)
	}
}

// TestLeftovers: what a killed process was making goes when the store is next
// opened, what a living one makes stays.
func TestLeftovers(t *testing.T) {
	folder := t.TempDir()
	s := opened(t, folder, 0)
	dead, err := s.Begin()
	if err != nil {
		t.Fatal(err)
	}
	alive, err := s.Begin()
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range []*Making{dead, alive} {
		f, err := m.Create("data")
		if err != nil {
			t.Fatal(err)
		}
		f.Close()
	}
	dead.hold.Close() // as the system does with what a process had open
	s = opened(t, folder, 0)
	if parts, err := os.ReadDir(filepath.Join(folder, makingFolder)); err != nil || len(parts) != 1 {
		t.Errorf("%d are being made: %v", len(parts), err)
	}
	e, err := alive.Publish(ctx, about("alive"), nil)
	if err != nil || !s.Has(about("alive")) {
		t.Fatal(err)
	}
	e.Close()
}

// TestBothMakeIt: of two that make the same, both can go on with it.
func TestBothMakeIt(t *testing.T) {
	s := opened(t, t.TempDir(), 0)
	m, err := s.Begin()
	if err != nil {
		t.Fatal(err)
	}
	f, err := m.Create("data")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	f.WriteString("mine")
	keep(t, s, about("same", "x"), []byte("mine"))
	e, err := m.Publish(ctx, about("same", "x"), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer e.Close()
	b := make([]byte, 4)
	if _, err := f.ReadAt(b, 0); err != nil || string(b) != "mine" || string(content(t, s, about("same", "x"))) != "mine" {
		t.Errorf("%s: %v", b, err)
	}
}

// TestClearLeavesOthers: what the store did not write stays.
func TestClearLeavesOthers(t *testing.T) {
	folder := t.TempDir()
	s := opened(t, folder, 0)
	keep(t, s, about("mine"), []byte("data"))
	theirs := []string{"notes.txt", "done/notes.txt", "done/" + strings.Repeat("ab", 16) + "/photo.jpg", filepath.Join("done", about("mine").Key(), "photo.jpg")}
	for _, name := range theirs {
		if err := errors.Join(os.MkdirAll(filepath.Dir(filepath.Join(folder, name)), 0o777), os.WriteFile(filepath.Join(folder, name), []byte("theirs"), 0o666)); err != nil {
			t.Fatal(err)
		}
	}
	if _, _, err := s.Clear(); err == nil {
		t.Error("nothing is said of what was left")
	}
	left := 0
	filepath.WalkDir(folder, func(path string, e os.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			left++
			if data, err := os.ReadFile(path); err != nil || string(data) != "theirs" {
				t.Errorf("%s is left: %v", path, err)
			}
		}
		return nil
	})
	if left != len(theirs) {
		t.Errorf("%d files are left, not %d", left, len(theirs))
	}
	s = opened(t, t.TempDir(), 0)
	keep(t, s, about("mine"), []byte("data"))
	if _, _, err := s.Clear(); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(s.Folder()); !os.IsNotExist(err) {
		t.Errorf("an empty folder stays: %v", err)
	}
}

func TestHashes(t *testing.T) {
	s := opened(t, t.TempDir(), 0)
	file := filepath.Join(t.TempDir(), "map.tif")
	write := func(text string, old time.Duration) Stamp {
		if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
		at := time.Now().Add(-old)
		if err := os.Chtimes(file, at, at); err != nil {
			t.Fatal(err)
		}
		stamp, err := StampOf(file)
		if err != nil {
			t.Fatal(err)
		}
		return stamp
	}
	h := s.Hashes()
	hash := Hash{3, "abc"}
	first := write("old", time.Hour)
	h.Remember(file, first, time.Now(), hash) // its inode was changed just now
	if _, ok := h.Known(first); ok {
		t.Error("what may still change unseen is remembered")
	}
	later := time.Now().Add(time.Second)
	h.Remember(file, first, later, hash)
	if err := h.Save(); err != nil {
		t.Fatal(err)
	}
	h = s.Hashes()
	if got, ok := h.Known(first); !ok || got != hash {
		t.Errorf("not remembered: %v %v", got, ok)
	}
	second := write("new", time.Hour) // the same size and time of writing
	if _, ok := h.Known(second); ok || second.Same(first) {
		t.Error("another content has the same stamp")
	}
	h.Remember(file, first, later, hash) // it changed while it was read
	write("last", time.Hour)
	if _, ok := h.Known(second); ok {
		t.Error("a change while reading was overlooked")
	}
	folder, err := StampOf(filepath.Dir(file))
	if err != nil {
		t.Fatal(err)
	}
	write("else", time.Hour)
	if now, err := StampOf(filepath.Dir(file)); err != nil || now.Same(folder) || folder.Same(second) {
		t.Errorf("a folder has the same stamp after a change in it: %v", err)
	}
	if err := flip(filepath.Join(s.Folder(), hashesFile), 5); err != nil {
		t.Fatal(err)
	}
	if _, ok := s.Hashes().Known(first); ok {
		t.Error("a damaged memory is believed")
	}
}
