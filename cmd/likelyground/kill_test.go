package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"likelyground/habitat/ellerdown"
	"likelyground/raster/maps"
)

// wetPlan follows water in every way, and writes every output.
const wetPlan = `format: 1
grid: {like: ground}
maps:
  ground: {file: inputs/dem.tif, unit: m}
  soil: {file: inputs/soil_ph.tif, scale: 0.1, unit: pH}
derived:
  gathering: {wetness: ground, margin: 400 m}
  hollows: {hollow area: ground, margin: 400 m}
  gathers: {gathered: ground, flow: one way, margin: 400 m}
  to stream: {channel distance: ground, channel from: 2 ha, margin: 400 m}
factors:
  damp: {from: gathering, curve: {4: 0.2, 9: 1}, weight: 2}
  hollow: {from: hollows, curve: {0: 0.5, 1: 1}}
  gathers: {from: gathers, curve: {0: 0.3, 5: 1}}
  stream: {from: to stream, curve: {0: 1, 400: 0.3}, unknown: {assume: 0.3}}
  acid: {from: soil, curve: {4.5: 1, 6.3: 0}}
hotspots: {from: 0.5}
outputs: [score, factors, hotspots]
`

// wet draws a small country with a plan that follows water.
func wet(t *testing.T, cols, rows int) (dir string) {
	t.Helper()
	dir = t.TempDir()
	if err := maps.Setup(0); err != nil {
		t.Fatal(err)
	}
	err := ellerdown.Draw(context.Background(), dir, ellerdown.Options{Size: ellerdown.Size{Cols: cols, Rows: rows}, GeoTags: maps.GeoTags})
	if err = errors.Join(err, os.WriteFile(filepath.Join(dir, "wet.yaml"), []byte(wetPlan), 0o666)); err != nil {
		t.Fatal(err)
	}
	return dir
}

// self is the program, to be run in a folder.
func self(t *testing.T, dir string, args ...string) (*exec.Cmd, *bytes.Buffer) {
	t.Helper()
	path, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	said := &bytes.Buffer{}
	cmd := exec.Command(path)
	cmd.Args = append([]string{"likelyground"}, args...)
	cmd.Dir, cmd.Stderr = dir, said
	return cmd, said
}

// TestKilledAtAnyMoment kills the program at twenty moments. Each time every
// file under its final name is whole, and an account is only there with the
// files that it vouches for; in the end the bytes are those of a run that
// nobody disturbed, and nothing else is left.
func TestKilledAtAnyMoment(t *testing.T) {
	dir := wet(t, 260, 200)
	began := time.Now()
	calm, said := self(t, dir, "run", "wet.yaml", "--out", "calm", "--scratch", dir)
	if err := calm.Run(); err != nil {
		t.Fatal(err, said)
	}
	whole := time.Since(began)
	want := hashes(t, filepath.Join(dir, "calm"))
	r := rand.New(rand.NewPCG(19, 7))
	kills, finished := 0, 0
	for i := range 20 {
		if i%3 == 0 {
			forget(t, dir)
		}
		cmd, said := self(t, dir, "run", "wet.yaml", "--out", "out", "--scratch", dir, "--threads", fmt.Sprint(1+i%2))
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(r.Float64() * 1.1 * float64(whole)))
		cmd.Process.Kill()
		if err := cmd.Wait(); err == nil {
			finished++
		} else if cmd.ProcessState.ExitCode() == -1 {
			kills++
		} else {
			t.Fatalf("it ends in %d: %s", cmd.ProcessState.ExitCode(), said)
		}
		matches(t, filepath.Join(dir, "out"), want)
	}
	t.Logf("a whole run takes %v; of 20, %d were killed and %d had ended", whole, kills, finished)
	if kills < 8 {
		t.Errorf("only %d runs were killed", kills)
	}
	os.Remove(filepath.Join(dir, "out", "score.tif"))
	last, said := self(t, dir, "run", "wet.yaml", "--out", "out", "--scratch", dir)
	if err := last.Run(); err != nil {
		t.Fatal(err, said)
	}
	if got := hashes(t, filepath.Join(dir, "out")); fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("in the end: %v, not %v", got, want)
	}
	if left := listing(t, filepath.Join(dir, "likelyground-kept", "making")); left != "" {
		t.Errorf("%s is left unfinished", left)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".*")); left != nil {
		t.Errorf("%v are left", left)
	}
}

// forget makes all that was done to be done again.
func forget(t *testing.T, dir string) {
	t.Helper()
	for _, name := range []string{"out", "likelyground-kept"} {
		if err := os.RemoveAll(filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
	}
}

// hashes returns the hash of each file of a folder; of the account, without
// what differs from run to run.
func hashes(t *testing.T, dir string) map[string]string {
	t.Helper()
	found := map[string]string{}
	entries, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		t.Fatal(err)
	}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if e.Name() == "run.json" {
			var account map[string]any
			if err := json.Unmarshal(data, &account); err != nil {
				t.Fatal(err)
			}
			delete(account, "this_run")
			if data, err = json.Marshal(account); err != nil {
				t.Fatal(err)
			}
		}
		found[e.Name()] = fmt.Sprintf("%x", sha256.Sum256(data))
	}
	return found
}

// matches fails unless each file is one of those wanted, and all are there
// where the account is.
func matches(t *testing.T, dir string, want map[string]string) {
	t.Helper()
	found := hashes(t, dir)
	for name, hash := range found {
		if hash != want[name] {
			t.Fatalf("%s is not what it should be", name)
		}
	}
	if found["run.json"] != "" && len(found) != len(want) {
		t.Fatalf("the account is there with %v alone", found)
	}
}

// TestMemoryBudget: the program takes no more memory than it was given, and a
// quarter, and 150 MB for itself and its libraries, whatever the grid.
func TestMemoryBudget(t *testing.T) {
	for _, c := range []struct{ side, budget int }{{300, 64}, {1400, 100}, {1400, 256}} {
		dir := wet(t, c.side, c.side)
		cmd, said := self(t, dir, "run", "wet.yaml", "--scratch", dir, "--memory", fmt.Sprintf("%dM", c.budget), "-q")
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		status := fmt.Sprintf("/proc/%d/status", cmd.Process.Pid)
		peak := make(chan int)
		go func() {
			high := 0
			for {
				kB := highWater(status)
				if kB < 0 {
					peak <- high
					return
				}
				high = max(high, kB)
				time.Sleep(5 * time.Millisecond)
			}
		}()
		err := cmd.Wait()
		high := <-peak
		if err != nil {
			t.Fatal(err, said)
		}
		t.Logf("%d × %d cells with %d MB: %d MB at the most", c.side, c.side, c.budget, high>>10)
		if most := (c.budget*5/4 + 150) << 10; high > most || high < 20<<10 {
			t.Errorf("%d × %d cells with %d MB: %d kB at the most, not %d", c.side, c.side, c.budget, high, most)
		}
	}
}

// highWater returns the most memory that a living process held so far, in kB;
// -1 when it is gone.
func highWater(status string) (kB int) {
	data, err := os.ReadFile(status)
	if err != nil {
		return -1
	}
	_, text, ok := strings.Cut(string(data), "VmHWM:")
	if _, err := fmt.Sscan(text, &kB); !ok || err != nil {
		return -1
	}
	return kB
}
