package keep

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"likelyground/raster/store"
	"likelyground/raster/water"
)

var _ water.Keeper = (*Layers)(nil)

func opened(t *testing.T, folder string, most int64) *store.Store {
	t.Helper()
	s, err := store.Open(folder, most)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func begun(t *testing.T, s *store.Store, said *[]string) *Layers {
	t.Helper()
	l := NewLayers(context.Background(), s, store.About{Kind: "water", Title: "the water"}, t.TempDir(), func(text string) { *said = append(*said, text) })
	t.Cleanup(func() { l.Close() })
	return l
}

// put makes a layer of two records of three bytes.
func put(t *testing.T, l *Layers, name, text string) {
	t.Helper()
	if err := l.Make(name, 2, 3); err != nil {
		t.Fatal(err)
	}
	for i := range 2 {
		if err := l.Write(name, i, []byte(text[3*i:3*i+3])); err != nil {
			t.Fatal(err)
		}
	}
}

func has(t *testing.T, l *Layers, name, want string) {
	t.Helper()
	got := make([]byte, 2)
	for i := range 2 {
		if err := l.Read(name, i, 1, got); err != nil || string(got) != want[3*i+1:3*i+3] {
			t.Errorf("%s, record %d: %q, %v", name, i, got, err)
		}
	}
}

// TestLayersAcrossRuns: finished stages are there for the next run, an
// unfinished one is not, dropped layers are gone.
func TestLayersAcrossRuns(t *testing.T) {
	s := opened(t, t.TempDir(), 1<<20)
	var said []string
	l := begun(t, s, &said)
	if _, ok := l.Kept("fill"); ok {
		t.Fatal("an empty store has it")
	}
	put(t, l, "ground", "abcdef")
	put(t, l, "inner", "ghijkl")
	if err := l.Drop("inner"); err != nil {
		t.Fatal(err)
	}
	l.Put("fill", []byte("seen"))
	if err := l.Keep("fill", []byte("state")); err != nil {
		t.Fatal(err)
	}
	has(t, l, "ground", "abcdef")
	if err := l.Write("ground", 0, []byte("xyz")); err == nil {
		t.Error("what is kept can be written")
	}
	put(t, l, "ways", "mnopqr")
	has(t, l, "ways", "mnopqr")
	if err := l.Read("ways", 1, 2, make([]byte, 3)); err == nil {
		t.Error("reads beyond the end")
	}
	l.Close() // in the midst of the second stage

	l = begun(t, s, &said)
	state, ok := l.Kept("fill")
	if !ok || string(state) != "state" || string(l.Beside("fill")) != "seen" || !slices.Equal(l.Taken(), []string{"fill"}) {
		t.Errorf("of the first stage there is %q, %v", state, ok)
	}
	has(t, l, "ground", "abcdef")
	for _, name := range []string{"inner", "ways"} {
		if err := l.Read(name, 0, 0, make([]byte, 1)); err == nil {
			t.Errorf("%s is there", name)
		}
	}
	if _, ok := l.Kept("drain"); ok || len(said) != 0 {
		t.Errorf("an unfinished stage is there, or something was said: %q", said)
	}
}

// TestLayersAnew: what was kept is not taken, and is replaced.
func TestLayersAnew(t *testing.T) {
	s := opened(t, t.TempDir(), 1<<20)
	var said []string
	for _, text := range []string{"abcdef", "ABCDEF"} {
		l := begun(t, s, &said)
		l.Anew()
		if _, ok := l.Kept("fill"); ok {
			t.Error("it is taken")
		}
		put(t, l, "ground", text)
		if err := l.Keep("fill", nil); err != nil {
			t.Fatal(err)
		}
		l.Close()
	}
	l := begun(t, s, &said)
	l.Kept("fill")
	has(t, l, "ground", "ABCDEF")
}

// TestLayersWithoutRoom: what has no room goes to scratch, which is said once
// a stage.
func TestLayersWithoutRoom(t *testing.T) {
	s := opened(t, t.TempDir(), 4)
	var said []string
	l := begun(t, s, &said)
	put(t, l, "ground", "abcdef")
	put(t, l, "inner", "ghijkl")
	if err := l.Keep("fill", nil); err != nil {
		t.Fatal(err)
	}
	has(t, l, "ground", "abcdef")
	if err := l.Drop("inner"); err != nil {
		t.Fatal(err)
	}
	if len(said) != 1 || !strings.Contains(said[0], "the water is not kept") || s.Held() > 8<<10 {
		t.Errorf("said: %q; %d bytes held", said, s.Held())
	}
	if _, ok := begun(t, s, &said).Kept("fill"); ok {
		t.Error("it was kept")
	}
}

// TestLayersDamaged: damage is said, and the stage is to be done again.
func TestLayersDamaged(t *testing.T) {
	folder := t.TempDir()
	s := opened(t, folder, 1<<20)
	var said []string
	l := begun(t, s, &said)
	put(t, l, "ground", "abcdef")
	if err := l.Keep("fill", nil); err != nil {
		t.Fatal(err)
	}
	l.Close()
	found, _ := filepath.Glob(filepath.Join(folder, "done", "*", "0000.data"))
	if len(found) != 1 {
		t.Fatal(found)
	}
	if err := os.WriteFile(found[0], []byte("abcdeg"), 0o666); err != nil {
		t.Fatal(err)
	}
	l = begun(t, s, &said)
	if _, ok := l.Kept("fill"); ok || len(said) != 1 || !strings.Contains(said[0], "it is done again") {
		t.Errorf("said: %q", said)
	}
}
