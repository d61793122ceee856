package rules

import (
	"strings"

	"gaugebook/records"
)

// Law on the rooms that people sleep and wash in, and on LPG below ground. Which
// room it is goes by the words under “Where in the property”.
var (
	bathingLimit = words("only a room-sealed appliance in a bathroom or shower room", records.ByRegulation,
		sure(clause(gasSafety, "regulation 30(1)"), records.OneSource))
	sleepingLimit = words("in a room for sleeping over 14 kW gross only room-sealed; below, with a device that "+
		"shuts it off before a dangerous quantity gathers", records.ByRegulation, sure(clause(gasSafety,
		"regulation 30(2) and (3); Technical Bulletin 105"), records.OneSource))
	cellarLimit = words("LPG is heavier than air: not in a cellar or basement without flame supervision",
		records.ByRegulation, sure(clause(gasSafety, "regulation 6(9)"), records.Unconfirmed))
)

// mostSleepingKW is the gross heat input above which an appliance in a room for
// sleeping has to be room-sealed.
const mostSleepingKW = 14.0

var (
	bathingWords  = []string{"bath", "shower", "wet room", "wetroom", "en suite", "en-suite", "ensuite"}
	sleepingWords = []string{"bed", "sleep", "dormitory", "nursery"}
	cellarWords   = []string{"cellar", "basement", "below ground"}
	besideWords   = []string{"lobby", "landing", "hall", "outside", "next to", "near", "opposite", "adjoining",
		"beside",
		"above", "below the"}
)

func placeRules() []Rule {
	return []Rule{{ID: "appliance.room", Title: "Room that the appliance may stand in",
		Section: records.ApplianceSection.ID,
		Reads: []*records.Field{records.ApplianceLocation.Field, records.ApplianceFlue.Field,
			records.ApplianceKind.Field, records.ApplianceFuel.Field, records.RatedInputKW.Field,
			records.RatedInputBasis.Field},
		Limits: []records.Limit{bathingLimit, sleepingLimit, cellarLimit},
		Explains: "What may stand where people sleep or wash is law. The room is taken from the words entered for " +
			"it, so name it.",
		eval: on(appliance.room)}}
}

// names reports whether the words of a place name a room of some kind.
func names(place string, words []string) bool {
	for _, w := range words {
		if strings.Contains(place, w) {
			return true
		}
	}
	return false
}

func (e appliance) room() records.Finding {
	place := strings.ToLower(e.Values.Text(records.ApplianceLocation))
	flue := e.Values.Choice(records.ApplianceFlue)
	if place == "" || flue == "" {
		return notThere("place and kind of flue are not both entered")
	}
	reading := e.Values.Text(records.ApplianceLocation) + ", " + e.entered(records.ApplianceFlue.Field)
	sealed := flue == records.FlueSealedFanned || flue == records.FlueSealedNatural
	within := !names(place, besideWords)
	_, gross, rated := e.ratedKW()
	cooks := e.Values.Choice(records.ApplianceKind) == records.KindCooker
	var f records.Finding
	switch {
	case e.Values.LPG() && names(place, cellarWords):
		return odd(reading, "LPG gathers below ground: an appliance there needs flame supervision on every burner "+
			"and a competent person's word for it.", cellarLimit)
	case within && !sealed && names(place, bathingWords):
		f = outside(records.AtRisk, reading, "Only a room-sealed appliance may be in a bathroom or shower room.")
		f.Limit = copyOf(bathingLimit)
		return f
	case within && !sealed && !cooks && names(place, sleepingWords) && (!rated || above(gross, mostSleepingKW)):
		f = outside(records.AtRisk, reading,
			"Above 14 kW gross only a room-sealed appliance may be where people sleep.")
		f.Limit = copyOf(sleepingLimit)
		return f
	case within && !sealed && !cooks && names(place, sleepingWords):
		return odd(reading, "Where people sleep an appliance that takes its air from the room needs a device that "+
			"shuts it off before a dangerous quantity of products gathers: say in the condition report "+
			"that it has one.",
			sleepingLimit)
	}
	f = inside(reading, "Nothing entered says that the appliance is in a room that it may not be in.")
	f.Limit = copyOf(bathingLimit)
	return f
}
