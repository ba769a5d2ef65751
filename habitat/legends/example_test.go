package legends_test

import (
	"fmt"

	"likelyground/habitat/legends"
)

func Example() {
	l := legends.Named("corine")
	for _, c := range l.Classes {
		if c.Code == 23 || c.Code == 311 {
			fmt.Println(c.Code, c.Name, c.Groups)
		}
	}
	g := legends.Recognise(legends.Seen{File: "U2018_CLC2018_V2020_20u1.tif", CRS: "EPSG:3035", Cell: 100, Codes: []int32{2, 12, 23, 48}, Whole: true})
	fmt.Printf("%s: %s\n", g.Name, g.Why)
	// Output:
	// 23 Broad-leaved forest [{Forests 1} {Forest and semi natural areas 2}]
	// 311 Broad-leaved forest [{Forests 1} {Forest and semi natural areas 2}]
	// corine: all codes found are its own, 3 of its classes, the file's name speaks of "clc2018", it lies as that product does (EPSG:3035, cells of 100 m)
}
