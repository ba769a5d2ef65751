package match_test

import (
	"fmt"

	"likelyground/habitat/match"
)

func ExampleContains() {
	keys := []string{"sand", "sandstone", "sand and gravel"}
	c := match.NewContains(keys)
	for _, text := range []string{"SAND AND GRAVEL, CLAYEY", "Silt and sand", "MUDSTONE, SILTSTONE AND SANDSTONE", "Sandy clay"} {
		if at := c.Find(text); at >= 0 {
			fmt.Printf("%s: %s\n", text, keys[at])
		} else {
			fmt.Printf("%s: none\n", text)
		}
	}
	// Output:
	// SAND AND GRAVEL, CLAYEY: sand and gravel
	// Silt and sand: sand
	// MUDSTONE, SILTSTONE AND SANDSTONE: sandstone
	// Sandy clay: none
}

func ExampleLastPart() {
	fmt.Println(match.LastPart("http://resource.geosciml.org/classifier/cgi/lithology/sandstone"))
	fmt.Println(match.LastPart("https://example.org/codes#peat"))
	// Output:
	// sandstone
	// peat
}
