// Package plan reads the plan file: what ground to rate, from which maps, by
// which factors, joined how.
//
// A plan is one YAML document, read strictly: an unknown key, a wrong unit or
// an impossible number is a [Problem] that points at its line and column and
// says what to write instead. All problems of a plan are reported at once.
// [Schema] gives the same rules as a JSON Schema; both come from one table.
//
// The package opens no file and knows no map's content: paths stay text,
// relative to the plan, and whether a class stands in a map is for those who
// open it; [Plan.PointAt] lets them point at the plan's line. [ReadLegend]
// reads the bytes of a class legend that somebody else has opened.
//
// Units: lengths are metres, areas square metres, angles degrees once read,
// whatever they were in the plan. A number that is not given is a nil
// pointer or said by its field; what the plan leaves out has its default
// filled in. What a missing map value means is kept in [Unknown].
//
// The pairwise table follows Saaty (1980), ordered weights Yager (1988); both
// are only read here and worked out where factors are combined.
package plan
