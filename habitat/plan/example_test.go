package plan_test

import (
	"fmt"

	"likelyground/habitat/plan"
)

// A plan with two slips: each is shown where it stands, with the line put
// right where that can be known.
func ExampleRead() {
	_, err := plan.Read("ellerdown.yaml", []byte(`format: 1
grid: {like: ground}
maps:
  ground: {file: dem.tif, unit: m}
derived:
  steepness: {slope: grond}
factors:
  low: {from: ground, curve: {100: 1, 300: 0}, wieght: 2}
keep out: [{map: ground, above: 400 m}]
`))
	fmt.Println(err)
	// Output:
	// ellerdown.yaml:6:22: there is no map or derived layer "grond"; did you mean "ground"?
	//       steepness: {slope: grond}
	//                          ^~~~~
	//   so: steepness: {slope: ground}
	// ellerdown.yaml:8:48: a factor has no key "wieght"; did you mean "weight"?
	//       low: {from: ground, curve: {100: 1, 300: 0}, wieght: 2}
	//                                                    ^~~~~~
	//   so: low: {from: ground, curve: {100: 1, 300: 0}, weight: 2}
}

func ExampleReadLegend() {
	legend, err := plan.ReadLegend("cover.csv", []byte("name;code\nheath;3\nbroadleaf;1\nbroadleaf;2\n"))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(legend.Names(), legend.Codes("broadleaf"))
	// Output: [broadleaf heath] [1 2]
}

// A check of the data points at the plan's line.
func ExamplePlan_UnknownClass() {
	p, err := plan.Read("p.yaml", []byte(`format: 1
grid: {like: rock}
maps: {rock: {file: rock.tif, legend: rock.csv}}
factors: {drained: {from: rock, scores: {sandstome: 1}, others: 0}}
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	class := p.Factors[0].Scores.Classes[0].Class
	fmt.Println(p.UnknownClass(class, &plan.Map{Name: "rock"}, plan.Vocabulary{Classes: plan.Legend{{Code: 0, Name: "clay"}, {Code: 1, Name: "sandstone"}}}))
	// Output:
	// p.yaml:4:42: the map "rock" has no class "sandstome"; did you mean "sandstone"?
	//       factors: {drained: {from: rock, scores: {sandstome: 1}, others: 0}}
	//                                                ^~~~~~~~~
	//   so: factors: {drained: {from: rock, scores: {sandstone: 1}, others: 0}}
}
