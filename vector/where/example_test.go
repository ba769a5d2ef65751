package where_test

import (
	"fmt"

	"likelyground/vector/where"
)

// A condition on two fields, asked of two features.
func Example() {
	c, err := where.Parse(`TYPE IN ('oak', 'beech') AND NOT HEIGHT < 5`)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(c.Fields())
	fmt.Println(c.Holds([]where.Value{{Text: "oak"}, {Number: 12.5}}))
	fmt.Println(c.Holds([]where.Value{{Text: "oak"}, {Null: true}}))

	_, err = where.Parse(`TYPE = 'oak' OR 1 = 1`)
	fmt.Println(err)
	// Output:
	// [TYPE HEIGHT]
	// true
	// false
	// at its character 17: a field should stand there, not "1"
}
