package cog

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// job asks the referee about one file.
type job struct {
	Path     string `json:"path"`
	Dump     string `json:"dump"` // where it puts the cells it read; "" nowhere
	Overview string `json:"overview"`
}

// account is what GDAL says of a file.
type account struct {
	Warnings, Errors []string
	Size             []int
	Transform        []float64
	CRS              string
	Metadata         map[string]string
	Structure        map[string]string
	Files            []string
	Bands            []bandAccount
}

type bandAccount struct {
	Description, Unit, Type string
	Scale, Offset           *float64
	Nodata                  *string
	Metadata                map[string]string
	Block                   []int
	Known                   int64
	Stats                   []float64 // numpy's minimum, maximum, mean, standard deviation
	Overviews               [][]int
	Wrong                   []int // cells of each overview that numpy makes otherwise
}

// ask has GDAL read files. The tests stand on it, so they fail without it.
func ask(t *testing.T, jobs ...job) []account {
	t.Helper()
	in, err := json.Marshal(jobs)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(pythonWithGDAL(t), filepath.Join("testdata", "referee.py"))
	var out, words bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = bytes.NewReader(in), &out, &words
	if err := cmd.Run(); err != nil {
		t.Fatalf("the GDAL referee failed: %v\n%s", err, words.String())
	}
	var accounts []account
	if err := json.Unmarshal(out.Bytes(), &accounts); err != nil {
		t.Fatalf("the GDAL referee said %q: %v", out.String(), err)
	}
	return accounts
}

func pythonWithGDAL(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"python3", "/usr/bin/python3"} {
		if exec.Command(name, "-c", "import numpy, osgeo.gdal, osgeo_utils").Run() == nil {
			return name
		}
	}
	t.Fatal("no python3 with osgeo, osgeo_utils and numpy found, which these tests need: apt-get install python3-gdal python3-numpy")
	return ""
}

// readDump returns the cells that the referee read, band after band, row by
// row, as float64.
func readDump(t *testing.T, path string, s Sample) []float64 {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	out := make([]float64, len(data)/s.bytes())
	for i := range out {
		cell := data[i*s.bytes():]
		switch s {
		case Float32:
			out[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(cell)))
		case Int16:
			out[i] = float64(int16(binary.LittleEndian.Uint16(cell)))
		default:
			out[i] = float64(cell[0])
		}
	}
	return out
}
