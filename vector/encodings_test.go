package vector

import (
	"os"
	"strings"
	"testing"
)

// A shapefile's texts read right in every encoding that its .cpg or the byte
// of the table's header tells, and in Windows-1252 where neither tells any.
// The euro sign is none of ISO 8859-1.
func TestShapefileEncodings(t *testing.T) {
	const utf8, latin, windows = "gr\xc3\xa8s", "gr\xe8s", "gr\xe8s \x80"
	for _, c := range []struct {
		name, cpg, bytes string
		driver           byte // of the table, at byte 29; 0x57 is ANSI, 0x03 Windows-1252
		want             string
		recoded          int
	}{
		{"UTF-8 told", "UTF-8", utf8, 0, "grès", 0},
		{"ISO 8859-1 told", "ISO-8859-1", latin, 0, "grès", 0},
		{"Windows-1252 told", "1252", windows, 0, "grès €", 0},
		{"Windows-1252 told by the header", "", windows, 0x03, "grès €", 0},
		{"ANSI told by the header", "", latin, 0x57, "grès", 0},
		{"nothing told, Windows-1252", "", windows, 0, "grès €", 1},
		{"nothing told, UTF-8", "", utf8, 0, "grès", 0},
		{"UTF-8 told, Windows-1252 held", "UTF-8", windows, 0, "grès €", 1},
	} {
		path := as(t, strings.Replace(things, "grès", "gr?????", 1), "a.shp", "ESRI Shapefile")
		stem := strings.TrimSuffix(path, ".shp")
		table := []byte(strings.Replace(readText(t, stem+".dbf"), "gr?????", (c.bytes + "       ")[:7], 1))
		table[29] = c.driver
		writeBytes(t, stem+".dbf", table)
		if err := os.Remove(stem + ".cpg"); err != nil && !os.IsNotExist(err) {
			t.Fatal(err)
		}
		if c.cpg != "" {
			writeBytes(t, stem+".cpg", []byte(c.cpg))
		}
		got, counts := told(t, opened(t, path, ""), "rock")
		if !strings.Contains(got, `"`+c.want+`"`) || counts.Recoded != c.recoded {
			t.Errorf("%s: recoded %d, want %q in\n%s", c.name, counts.Recoded, c.want, got)
		}
	}
}
