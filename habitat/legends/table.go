package legends

// copernicus is what the European land monitoring service asks for: its terms
// want the source named, no endorsement implied, and a change told.
const (
	copernicus        = "Generated using European Union's Copernicus Land Monitoring Service information ({year}), modified"
	copernicusLicence = "Copernicus"
)

// table is every legend but for its classes, which stand in data. What is
// from memory says so.
var table = []Legend{
	{
		Name: "worldcover", Title: "ESA WorldCover 10 m", Publisher: "European Space Agency", Kind: Codes,
		Source: "https://worldcover2021.esa.int (address from memory)", Edition: "2020 v100 and 2021 v200, which have the same codes",
		Licence: "CC-BY-4.0", Credit: "© ESA WorldCover project {year} / Contains modified Copernicus Sentinel data ({year}) processed by ESA WorldCover consortium",
		Note:  "class names from memory; differences between 2020 and 2021 are partly those of the method",
		signs: signs{words: []string{"worldcover"}, crs: "EPSG:4326", cell: 1.0 / 12000},
	},
	{
		Name: "corine", Title: "CORINE Land Cover, 44 classes", Publisher: "Copernicus Land Monitoring Service, European Environment Agency", Kind: Codes,
		Source: "https://land.copernicus.eu (address from memory)", Edition: "the nomenclature of 1990 to 2018; raster codes 1 to 44 and vector codes 111 to 523",
		Licence: copernicusLicence, Credit: copernicus,
		Note:  "names of classes and groups from memory; no-data codes 48, 999, -128 and 128 from memory; smallest unit 25 ha",
		signs: signs{words: []string{"clc", "corine", "clc1990", "clc2000", "clc2006", "clc2012", "clc2018"}, fields: []string{"code"}, crs: "EPSG:3035", cell: 100, telling: 111},
	},
	{
		Name: "clcplus backbone", Title: "CLCplus Backbone 10 m", Publisher: "Copernicus Land Monitoring Service, European Environment Agency", Kind: Codes,
		Source: "https://land.copernicus.eu (address from memory)", Edition: "2018, 2021 and 2023; code 253 from 2021 on",
		Licence: copernicusLicence, Credit: copernicus, Note: "class names from memory",
		signs: signs{words: []string{"clcplus", "clcplus backbone"}, crs: "EPSG:3035", cell: 10},
	},
	{
		Name: "leaf type", Title: "Dominant Leaf Type", Publisher: "Copernicus Land Monitoring Service, European Environment Agency", Kind: Codes,
		Source: "https://land.copernicus.eu (address from memory)", Edition: "High Resolution Layers, yearly from 2018",
		Licence: copernicusLicence, Credit: copernicus, Note: "class names from memory; the group Trees is ours",
		signs: signs{words: []string{"dlt", "leaf type", "leaftype"}},
	},
	{
		Name: "tree cover", Title: "Tree Cover Density", Publisher: "Copernicus Land Monitoring Service, European Environment Agency", Kind: Amounts, Unit: "percent",
		Source: "https://land.copernicus.eu (address from memory)", Edition: "High Resolution Layers, yearly from 2018",
		Licence: copernicusLicence, Credit: copernicus, Note: "0 to 100 are percent; the names of codes 254 and 255 are from memory",
		signs: signs{words: []string{"tcd", "tree cover density", "treecoverdensity"}},
	},
	{
		Name: "nlcd", Title: "National Land Cover Database 30 m", Publisher: "U.S. Geological Survey, Multi-Resolution Land Characteristics consortium", Kind: Codes,
		Source: "https://www.mrlc.gov (address from memory)", Edition: "2001 to 2021; codes 51 and 72 to 74 in Alaska only",
		Licence: "public domain", Credit: "National Land Cover Database ({year}), U.S. Geological Survey",
		Note:  "names of classes and groups, the credit and the no-data code 0 from memory",
		signs: signs{words: []string{"nlcd"}, telling: 11},
	},
	{
		Name: "annual nlcd", Title: "Annual National Land Cover Database 30 m", Publisher: "U.S. Geological Survey", Kind: Codes,
		Source: "https://www.mrlc.gov (address from memory)", Edition: "Annual NLCD, 1985 on",
		Licence: "public domain", Credit: "Annual National Land Cover Database ({year}), U.S. Geological Survey",
		Note:  "names of classes and groups, the credit and the no-data code 250 from memory",
		signs: signs{words: []string{"annual nlcd", "lndcov", "annualnlcd"}, telling: 11},
	},
	{
		Name: "simple lithology", Title: "CGI Simple Lithology", Publisher: "Commission for the Management and Application of Geoscience Information (IUGS)", Kind: Texts,
		Source: "http://resource.geosciml.org/classifier/cgi/lithology/", Edition: "list 201211, the terms whose place is certain; also as INSPIRE writes them",
		Note:  "terms and their parents from memory: a parent that is not certain is left out for a wider one that is; a vocabulary, so that licence and credit are the map's own",
		signs: signs{words: []string{"lithology", "lithologyvalue", "simplelithology"}, telling: 1},
	},
	{
		Name: "glim", Title: "Global Lithological Map, first level", Publisher: "Hartmann & Moosdorf 2012, doi:10.1029/2012GC004370", Kind: Texts,
		Source: "Hartmann & Moosdorf 2012, doi:10.1029/2012GC004370 (number from memory)", Edition: "1.0; the two letters of the first level",
		Credit: "Hartmann & Moosdorf (2012): Global Lithological Map",
		Note:   "the groups are ours, the credit from memory; the licence is not known here: ask where you fetched it",
		signs:  signs{words: []string{"glim", "litho"}, fields: []string{"xx"}, telling: 1},
	},
}
