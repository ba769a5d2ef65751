package licence

var (
	credit   = Duties{Credit: true}
	modified = Duties{Credit: true, SayModified: true}
	alike    = Duties{Credit: true, ShareAlike: true}
	kept     = Duties{Credit: true, NotShared: true}
)

var (
	publicDomain = Licence{Name: "public domain"}
	cc0          = Licence{Name: "CC0-1.0"}
	pddl         = Licence{Name: "PDDL-1.0"}
	odbl         = Licence{Name: "ODbL-1.0", Family: "ODbL", Duties: alike}
	odcBy        = Licence{Name: "ODC-By-1.0", Duties: credit}
	ogl1         = Licence{Name: "OGL-UK-1.0", Duties: credit}
	ogl2         = Licence{Name: "OGL-UK-2.0", Duties: credit}
	ogl3         = Licence{Name: "OGL-UK-3.0", Duties: credit}
	oglAny       = Licence{Name: "OGL-UK", Duties: credit}
	oglCanada    = Licence{Name: "OGL-Canada-2.0", Duties: credit}
	etalab       = Licence{Name: "etalab-2.0", Duties: credit}
	germanBy     = Licence{Name: "DL-DE-BY-2.0", Duties: modified}
	germanZero   = Licence{Name: "DL-DE-ZERO-2.0"}
	nlod1        = Licence{Name: "NLOD-1.0", Duties: modified}
	nlod2        = Licence{Name: "NLOD-2.0", Duties: modified}
	copernicus   = Licence{Name: "Copernicus", Duties: modified} // free, full and open access: name the source, say what was changed
	reserved     = Licence{Name: "all rights reserved", Duties: kept}
)

// others are licences by their names made plain.
var others = map[string]Licence{
	"public domain": publicDomain, "pd": publicDomain, "us public domain": publicDomain, "public domain mark": publicDomain, "public domain mark 1.0": publicDomain,
	"cc pddc": publicDomain, "us government work": publicDomain, "u s public domain": publicDomain,
	"cc0": cc0, "cc0 1.0": cc0, "cc 0": cc0, "cc 0.0": cc0, "cc 0.0 1.0": cc0, "cc zero": cc0, "cc zero 1.0": cc0, "cc public domain zero 1.0": cc0, "cc0 1.0 universal": cc0, "cc0 universal": cc0,
	"pddl": pddl, "pddl 1.0": pddl, "odc pddl": pddl, "odc pddl 1.0": pddl,
	"odbl": odbl, "odbl 1.0": odbl, "odc odbl": odbl, "odc odbl 1.0": odbl, "odc odbl odbl": odbl, "odc odbl odbl 1.0": odbl, "odbl odbl": odbl,
	"odc by": odcBy, "odc by 1.0": odcBy,
	"ogl": oglAny, "ogl uk": oglAny, "uk ogl": oglAny,
	"ogl 1.0": ogl1, "ogl uk 1.0": ogl1, "ogl 2.0": ogl2, "ogl uk 2.0": ogl2,
	"ogl 3.0": ogl3, "ogl uk 3.0": ogl3, "uk ogl 3.0": ogl3, "ogl 3.0 uk": ogl3,
	"ogl canada": oglCanada, "ogl canada 2.0": oglCanada,
	"etalab": etalab, "etalab 2.0": etalab, "etalab etalab 2.0": etalab, "lo 2.0": etalab,
	"dl de by 2.0": germanBy, "dl de by": germanBy, "dl de zero 2.0": germanZero, "dl de zero": germanZero,
	"nlod": nlod2, "nlod 1.0": nlod1, "nlod 2.0": nlod2,
	"copernicus": copernicus, "copernicus free full and open": copernicus, "free full and open": copernicus, "copernicus data": copernicus, "copernicus open": copernicus,
	"all rights reserved": reserved, "proprietary": reserved, "personal use only": reserved, "restricted": reserved,
}
