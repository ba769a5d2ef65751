package csvw

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func Example() {
	t := Table{
		File:    "areas.csv",
		Columns: []Column{{Name: "rank", Kind: Integer}, {Name: "factor_1", Title: "=acid, soil", Kind: Number}},
		Rows:    [][]any{{1, -0.5}, {2, nil}},
	}
	var b bytes.Buffer
	fmt.Println(Write(&b, t))
	fmt.Print(strings.ReplaceAll(b.String(), "\r\n", "|\n"))
	// Output:
	// <nil>
	// rank,"'=acid, soil"|
	// 1,-0.5|
	// 2,|
}

// nasty are texts that spreadsheets have run, or that broke tables, with what
// they are to be read as.
var nasty = map[string]string{
	"=1+1": "'=1+1", "+49": "'+49", "-2": "'-2", "@SUM(A1)": "'@SUM(A1)", "'quoted": "''quoted",
	"\t=1": "'=1", "\r\n@x": "'@x", "\u202e=x": "'=x", "a=b": "a=b", `say "x", y`: `say "x", y`,
	"two\nlines": "two lines", "\x1b[1m\x00": "[1m", "": "", "Ж 木": "Ж 木", "a;b": "a;b",
}

// Python's csv module, another reader, gets back what is meant.
func TestReadBack(t *testing.T) {
	table := Table{Columns: []Column{{Name: "t", Title: "-t", Kind: Text}}}
	for _, s := range sorted() {
		table.Rows = append(table.Rows, []any{s})
	}
	path := filepath.Join(t.TempDir(), "a.csv")
	if err := os.WriteFile(path, written(t, table), 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("/usr/bin/python3", "-c", `
import csv, json, sys
print(json.dumps([r for r in csv.reader(open(sys.argv[1], encoding="utf-8", newline=""), strict=True)]))`, path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]string
	if err := json.Unmarshal(out, &rows); err != nil {
		t.Fatal(err)
	}
	if rows[0][0] != "'-t" {
		t.Errorf("header %q", rows[0])
	}
	for i, s := range sorted() {
		got := strings.Join(rows[i+1], "|") // an empty line is an empty cell
		if got != nasty[s] {
			t.Errorf("%q is read as %q, want %q", s, got, nasty[s])
		}
	}
}

func sorted() []string {
	var out []string
	for s := range nasty {
		out = append(out, s)
	}
	slices.Sort(out)
	return out
}

func written(t *testing.T, table Table) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, table); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestNumbers(t *testing.T) {
	table := Table{Columns: []Column{{Name: "n", Kind: Number}, {Name: "i", Kind: Integer}}, Rows: [][]any{
		{math.NaN(), 1}, {math.Inf(-1), int64(1) << 60}, {math.Copysign(0, -1), -7}, {1e-7, nil}, {1e21, 0},
	}}
	got := string(written(t, table))
	want := "n,i\r\n,1\r\n,1152921504606846976\r\n0,-7\r\n0.0000001,\r\n1000000000000000000000,0\r\n"
	if got != want {
		t.Errorf("%q", got)
	}
	if _, err := csv.NewReader(strings.NewReader(got)).ReadAll(); err != nil {
		t.Error(err)
	}
}

func TestRefuses(t *testing.T) {
	columns := []Column{{Name: "n", Kind: Integer}}
	for want, row := range map[string][]any{
		"row 1 has 2 cells, the table 1 columns":       {1, 2},
		"row 1, column n: x (string) is no integer":    {"x"},
		"row 1, column n: 1.5 (float64) is no integer": {1.5},
		"row 1, column n: [] ([]int) is no integer":    {[]int{}},
		"row 1, column n: <nil> (*int) is no integer":  {(*int)(nil)},
		"row 1, column n: true (bool) is no integer":   {true},
	} {
		err := Write(io.Discard, Table{Columns: columns, Rows: [][]any{row}})
		if err == nil || !strings.HasSuffix(err.Error(), want) {
			t.Errorf("%v, want %s", err, want)
		}
	}
}

// The description names what the Metadata Vocabulary asks for: context, url,
// and for each column name, titles (those of the header) and datatype.
func TestDescribe(t *testing.T) {
	table := Table{File: "a.csv", Title: "A <b>", About: "All.", Key: "rank", Columns: []Column{{Name: "rank", Kind: Integer, About: "1 is best"}, {Name: "f", Title: "@f", Kind: Number}}}
	var b bytes.Buffer
	if err := Describe(&b, table); err != nil {
		t.Fatal(err)
	}
	var d map[string]any
	if err := json.Unmarshal(b.Bytes(), &d); err != nil {
		t.Fatal(err)
	}
	got := strings.TrimSpace(fmt.Sprintln(d["@context"], d["url"], d["dc:title"], d["dialect"], d["tableSchema"]))
	want := `[http://www.w3.org/ns/csvw map[@language:en]] a.csv A <b> map[delimiter:, doubleQuote:true encoding:utf-8 header:true lineTerminators:[` + "\r\n" + `] quoteChar:"] ` +
		`map[columns:[map[datatype:integer dc:description:1 is best name:rank titles:rank] map[datatype:number name:f titles:'@f]] primaryKey:rank]`
	if got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	if !strings.Contains(fmt.Sprint(d["dc:description"]), "apostrophe") {
		t.Errorf("what an apostrophe means is not said: %s", d["dc:description"])
	}
	header, _, _ := strings.Cut(string(written(t, table)), "\r\n")
	if header != "rank,'@f" {
		t.Errorf("header %s", header)
	}
}
