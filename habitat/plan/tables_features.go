package plan

// featureKeys are the keys of a map that say which features of a vector file
// count and what ground they cover.
func featureKeys() []key[Map] {
	return []key[Map]{
		entry("where", "Which features of a vector file count: a condition on its fields, such as \"TYPE = 'wood' AND HEIGHT > 5\". The others are left out and counted.", textShape("a condition"), func(m *Map, v put[string]) { m.Where, m.WhereAt = v.value, v.at }),
		entry("radius", "How far around each point of a vector file its value holds, such as 25 m.", measureShape(lengths), func(m *Map, v put[float64]) { m.Radius = v.value }),
		entry("width", "How wide the ground is along each line of a vector file, half on either side, such as 6 m.", measureShape(lengths), func(m *Map, v put[float64]) { m.Width = v.value }),
	}
}
