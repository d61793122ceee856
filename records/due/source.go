package due

import "gaugebook/records"

// ownGasLaw reports whether the nation has gas law of its own, so that a figure from
// the regulations of Great Britain is only an indication there.
func ownGasLaw(n records.Nation) bool { return n == records.NorthernIreland }

// gasRegulations is the source of a landlord's duty in a nation.
func gasRegulations(n records.Nation, clause string) records.Source {
	if ownGasLaw(n) {
		return records.Source{
			Document: "Gas Safety (Installation and Use) Regulations (Northern Ireland) 2004", Edition: "SR 2004/63",
			Clause: clause, Confidence: records.Unconfirmed,
		}
	}
	return records.Source{
		Document: "Gas Safety (Installation and Use) Regulations 1998",
		Edition:  "SI 1998/2451 as amended by SI 2018/139",
		Clause:   clause, From: records.NewDate(2018, 4, 6), Confidence: records.Confirmed,
	}
}

var (
	manufacturer = records.Source{
		Document: "Manufacturer's servicing instructions", Confidence: records.Practice,
	}
	buildingRegulations = records.Source{
		Document: "Building Regulations 2010", Edition: "SI 2010/2214 as amended by SI 2012/3119",
		Clause: "regulation 20(3)", Confidence: records.Confirmed,
	}
	buildingRegulationsNI = records.Source{
		Document: "Building Regulations (Northern Ireland) 2012", Confidence: records.Unconfirmed,
	}
	incidentRegulations = records.Source{
		Document: "Reporting of Injuries, Diseases and Dangerous Occurrences Regulations 2013", Edition: "SI 2013/1471",
		Clause: "regulation 11(2)", Confidence: records.Confirmed,
	}
	incidentRegulationsNI = records.Source{
		Document:   "Reporting of Injuries, Diseases and Dangerous Occurrences Regulations (Northern Ireland) 1997",
		Confidence: records.Unconfirmed,
	}
	calibrationSheet = records.Source{
		Document: "Calibration certificate of the instrument", Confidence: records.Confirmed,
	}
	calibrationHabit = records.Source{
		Document: "Yearly calibration of test instruments", Confidence: records.Practice,
	}
	licenceCard = records.Source{
		Document: "Licence of the engineer", Confidence: records.Confirmed,
	}
	waterTreatment = records.Source{
		Document: "BS 7593 Code of practice for the preparation, commissioning and maintenance of domestic central " +
			"heating and cooling water systems",
		Edition: "2019", Confidence: records.OneSource,
	}
)
