package habitat

// Cautions are what every output that somebody may carry into the field says.
var Cautions = []string{
	"A score rates ground. It names nothing, and it is no probability: 0.8 is not 8 chances in 10. Poisonous look-alikes grow in the same places; never eat a find on a map's word, but ask somebody competent.",
	"No access or hazard map was used unless the plan names one under keep out. A score gives no right of way: ask the owner, and obey notices, protected-site and collecting law.",
	"Steep, wet or undermined ground, old trees in wind, deer control and shooting, military ground and cattle can hurt: ask first, go in pairs, leave your route and the time you will be back.",
	"Clean boots between sites. Birds nest on heath from March to August.",
	"Before maps of places are shared, blur or withhold the sites of sensitive species.",
}
