package store_test

import (
	"context"
	"fmt"
	"log"
	"os"

	"likelyground/raster/store"
)

// Work that took long is kept under what it depends on.
func Example() {
	folder, err := os.MkdirTemp("", "kept-")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(folder)
	s, err := store.Open(folder, 1<<20)
	if err != nil {
		log.Fatal(err)
	}
	hollows := store.About{Kind: "water", Title: "hollows of the ground", Depends: []store.Part{{Name: "heights", Value: "5feceb66"}, {Name: "grid", Value: "300 × 240"}}}
	ctx := context.Background()
	_, err = s.Find(ctx, hollows)
	fmt.Println(err)

	making, err := s.Begin()
	if err != nil {
		log.Fatal(err)
	}
	defer making.Close()
	f, err := making.Create("depth")
	if err != nil {
		log.Fatal(err)
	}
	f.WriteString("0 0 0.5 0")
	f.Close()
	entry, err := making.Publish(ctx, hollows, nil)
	if err != nil {
		log.Fatal(err)
	}
	entry.Close()

	entry, err = s.Find(ctx, hollows)
	if err != nil {
		log.Fatal(err)
	}
	defer entry.Close()
	depth, err := os.ReadFile(entry.Path("depth"))
	fmt.Println(string(depth), err)

	hollows.Depends[0].Value = "6b86b273"
	fmt.Println("to be done again:", s.Changed(hollows))
	// Output:
	// it is not kept
	// 0 0 0.5 0 <nil>
	// to be done again: [heights]
}
