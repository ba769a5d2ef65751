package habitat

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"likelyground/habitat/plan"
)

// A pipe that nobody writes to would be waited for without end.
func TestPlanOfAPipe(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "plan.yaml")
	if err := syscall.Mkfifo(pipe, 0o666); err != nil {
		t.Fatal(err)
	}
	for _, file := range []string{pipe, "/dev/null"} {
		var fault *Fault
		if err := (&desk{file: file}).read(); !errors.As(err, &fault) {
			t.Errorf("%s: %v", file, err)
		}
	}
}

// Neither a map nor its side file, neither the area nor a legend may be one.
func TestMapOfAPipe(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"area.geojson", "legend.csv", "tiles-2.tif", "dem.aux.xml"} {
		if err := syscall.Mkfifo(filepath.Join(dir, name), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{"tiles-1.tif", "dem.tif"} {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	text := `format: 1
title: pipes
subject: none
area: area.geojson
grid: {like: dem}
maps:
  dem: {file: dem.tif}
  tiles: {file: "tiles-*.tif", legend: legend.csv}
  zero: {file: /dev/zero}
factors:
  a: {from: dem, curve: {0: 0, 1: 1}}
`
	d := &desk{file: filepath.Join(dir, "plan.yaml"), dir: dir}
	var err error
	if d.plan, err = plan.Read(d.file, []byte(text)); err != nil {
		t.Fatal(err)
	}
	err = d.refusePipes()
	if err == nil {
		t.Fatal("nothing refused")
	}
	for _, name := range []string{"area.geojson", "legend.csv", "tiles-2.tif", "dem.aux.xml", "/dev/zero"} {
		if !strings.Contains(err.Error(), name+": this is no file") {
			t.Errorf("%s is not refused", name)
		}
	}
	if n := strings.Count(err.Error(), "is no file"); n != 5 {
		t.Errorf("%d refused", n)
	}
}
