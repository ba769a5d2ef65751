package plan

import "encoding/json"

// Schema returns the JSON Schema (draft 2020-12) of a plan, made from the
// tables that [Read] works by. It says which keys there are, what each may
// hold and which go together; that names refer to something, that nothing
// stands twice and that numbers in quotes are text, only Read can tell.
func Schema() []byte {
	s := topTable().schema()
	s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	s["title"] = "likelyground plan"
	defs := schema{}
	for _, as := range []role{factorRole, bestRole, meanRole} {
		defs[as.def()] = factorTables[as]().schema()
	}
	s["$defs"] = defs
	out, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		panic("plan: the schema holds only what JSON can: " + err.Error())
	}
	return append(out, '\n')
}
