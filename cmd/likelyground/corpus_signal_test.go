package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"likelyground/raster/maps"
)

// endlessView counts rows for longer than the program waits for a view, and
// has none: a call into a library that nobody can interrupt.
const endlessView = manyTables + `CREATE VIEW geology AS SELECT g.fid, g.geom, g.rock FROM g, t a, t b, t c, t d, t e, t f, t h, t i, t j, t k, t l, t m WHERE a.x + b.x + c.x + d.x + e.x + f.x + h.x + i.x + j.x + k.x + l.x + m.x < 0`

// TestSignalWhileAMapOpens: a signal is answered within seconds, whatever a
// library does, and nothing is left behind.
func TestSignalWhileAMapOpens(t *testing.T) {
	if err := maps.Setup(0); err != nil {
		t.Fatal(err)
	}
	b := badMap{file: "bad.gpkg", kind: polygons, keys: "layer: geology"}
	c := newCorner(t)
	c.geopackage("bad.gpkg", endlessView)
	c.text("p.yaml", b.planText())
	before := listing(t, c.inside)
	scratch := filepath.Join(filepath.Dir(c.inside), "scratch")
	c.must(os.Mkdir(scratch, 0o777))
	for _, args := range [][]string{{"run", "p.yaml"}, {"check", "p.yaml"}, {"why", "p.yaml", "500300", "6199700"}, {"look", "bad.gpkg"}} {
		self, err := os.Executable()
		c.must(err)
		cmd := exec.Command(self)
		cmd.Args = append([]string{"likelyground"}, args...)
		cmd.Dir, cmd.Env = c.inside, append(os.Environ(), "TMPDIR="+scratch)
		var said bytes.Buffer
		cmd.Stdout, cmd.Stderr = &said, &said
		c.must(cmd.Start())
		time.Sleep(2 * time.Second)
		began := time.Now()
		c.must(cmd.Process.Signal(syscall.SIGINT))
		cmd.Wait()
		if took := time.Since(began); took > 4*time.Second {
			t.Errorf("%s ends after %v", args, took)
		}
		if code := cmd.ProcessState.ExitCode(); code != 130 {
			t.Errorf("%s ends in %d, want 130: %s", args, code, said.String())
		}
		if bad := crash.FindString(said.String()); bad != "" {
			t.Errorf("%s says %q", args, bad)
		}
		if after := listing(t, c.inside); after != before {
			t.Errorf("%s leaves %s", args, after)
		}
		if left := listing(t, scratch); left != "" {
			t.Errorf("%s leaves %s", args, left)
		}
	}
}

// listing names what is in a folder.
func listing(t *testing.T, dir string) string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return strings.Join(names, " ")
}
