package keep_test

import (
	"fmt"
	"log"
	"os"
	"path/filepath"
	"strings"

	"likelyground/habitat/keep"
	"likelyground/raster/store"
)

// A receipt tells whether a run has anything to do.
func ExampleReceipt() {
	dir, err := os.MkdirTemp("", "receipt-")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	hash := func(file string) (store.Hash, error) {
		data, err := os.ReadFile(file)
		return store.Hash{Bytes: int64(len(data)), SHA256: string(data)}, err // short files
	}
	put := func(name, text string) string {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			log.Fatal(err)
		}
		return filepath.Join(dir, name)
	}
	soil, score := put("soil.tif", "acid"), put("score.tif", "high")

	r := &keep.Receipt{}
	r.AddRead(soil, store.Hash{Bytes: 4, SHA256: "acid"})
	r.AddPattern(filepath.Join(dir, "s*.tif"))
	r.AddWritten(score, store.Hash{Bytes: 4, SHA256: "high"})
	say := func() { fmt.Printf("%q\n", strings.ReplaceAll(r.Stale(hash), dir+"/", "")) }
	say()
	put("score.tif", "none")
	say()
	put("sand.tif", "")
	say()
	put("soil.tif.aux.xml", "")
	say()
	os.Remove(soil)
	say()
	// Output:
	// ""
	// "score.tif has changed"
	// "other files match s*.tif"
	// "what lies beside soil.tif has changed"
	// "what lies beside soil.tif has changed"
}
