package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestShieldNegatives(t *testing.T) {
	got := shieldNegatives([]string{"plan.yaml", "-5.0", "-.5", "-q", "--json", "-5,56", "5"})
	want := []string{"plan.yaml", "−5.0", "−.5", "-q", "--json", "−5,56", "5"}
	if !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
}

// TestWhy: a place west of Greenwich is no option, wherever it stands.
func TestWhy(t *testing.T) {
	dir := t.TempDir()
	plan := filepath.Join(dir, "plan.yaml")
	ground := "ncols 4\nnrows 4\nxllcorner 300000\nyllcorner 6000000\ncellsize 1000\n" + strings.Repeat("500 500 500 500\n", 4)
	for name, text := range map[string]string{
		"plan.yaml":  "format: 1\ngrid: {like: ground}\nmaps: {ground: {file: ground.asc, unit: m, crs: EPSG:25830}}\nfactors: {height: {from: ground, curve: {0: 0, 1000: 1}}}\n",
		"ground.asc": ground,
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	for _, args := range [][]string{
		{"why", plan, "-6.04", "54.12", "--json"},
		{"why", "--json", plan, "-6.04,54.12", "-q"},
		{"why", plan, "302000", "6001000", "--json"},
	} {
		var out, err bytes.Buffer
		if code := Main(args, &out, &err); code != 0 {
			t.Fatalf("%v: exit %d: %s%s", args, code, &out, &err)
		}
		var answer struct {
			State string
			Score float64
		}
		if e := json.Unmarshal(out.Bytes(), &answer); e != nil || answer.State != "scored" || answer.Score != 0.5 {
			t.Errorf("%v: %v %s", args, e, &out)
		}
	}
	for _, args := range [][]string{{"why", plan}, {"why"}, {"why", plan, "10", "10"}, {"why", plan, "somewhere"}} {
		var out, err bytes.Buffer
		if code := Main(args, &out, &err); code != 2 || !strings.Contains(err.String(), "What to do") || out.Len() > 0 {
			t.Errorf("%v: exit %d: %s%s", args, code, &out, &err)
		}
	}
}
