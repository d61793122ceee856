package rules

import (
	"gaugebook/records"
)

var (
	bs6798 = records.Source{Document: "BS 6798", Edition: "2014", Confidence: records.Confirmed}

	condensateIn  = least(19, "mm", records.ByStandard, clause(bs6798, "6.3.7.1.3: inside diameter indoors"))
	condensateOut = least(30, "mm", records.ByStandard,
		clause(bs6798, "6.3.7.1.4 and annex A.2: inside diameter outdoors"))
	condensateFall = least(44, "mm/m", records.ByPractice, clause(manuals, "fall of 2.5°, 43.7 mm/m"))
	condensateRun  = most(3, "m", records.ByPractice, clause(manuals, "run outdoors"))
	condensateLag  = words("insulated outdoors, waterproof", records.ByPractice,
		clause(manuals, "insulation outdoors"))
	condensateEnds = words("a foul drain, gully, combined pipe or soakaway", records.ByPractice,
		clause(manuals, "where condensate drains to"))
	condensateFilled = words("trap filled before firing", records.ByManufacturer,
		clause(manuals, "trap of the appliance"))
)

func condensateRules() []Rule {
	id := records.Water.ID
	condensing := kindAnd(records.ApplianceCondensing.Field)
	outdoors := with(condensing, records.CondensateOut.Field)
	return []Rule{
		{ID: "water.condensate_size", Title: "Condensate pipe indoors", Section: id,
			Reads: with(condensing, records.CondensateMM.Field, records.CondensateStatedMM.Field,
				records.StatedDocument.Field),
			Limits: []records.Limit{condensateIn},
			Explains: "A narrow pipe blocks, and condensate backs up into the appliance. The manufacturer's figure " +
				"comes first.",
			eval: ifCondensing(func(e *entries) records.Finding {
				return water{e}.condensate(records.CondensateMM, records.CondensateStatedMM, condensateIn,
					"The pipe is wide enough.", "The pipe is too narrow: it can block.")
			})},
		{ID: "water.condensate_fall", Title: "Condensate fall", Section: id,
			Reads: with(condensing, records.CondensateFall.Field, records.CondensateStatedFall.Field,
				records.StatedDocument.Field),
			Limits:   []records.Limit{condensateFall},
			Explains: "It must drain by itself. 2.5° is 43.7 mm per metre; manufacturers print 44 to 50.",
			eval: ifCondensing(func(e *entries) records.Finding {
				return water{e}.condensate(records.CondensateFall, records.CondensateStatedFall, condensateFall,
					"The pipe falls enough.", "The pipe does not fall enough: condensate will stand in it.")
			})},
		{ID: "water.condensate_outside", Title: "Condensate pipe outdoors", Section: id,
			Reads: with(outdoors, records.CondensateOutMM.Field), Limits: []records.Limit{condensateOut},
			Explains: "Outdoors the pipe can freeze: it has to be wider from inside the wall onwards.",
			eval: ifOutdoors(onReading(records.CondensateOutMM, condensateOut, "The pipe is wide enough outdoors.",
				"The pipe is too narrow outdoors: it can freeze shut."))},
		{ID: "water.condensate_run", Title: "Condensate run outdoors", Section: id,
			Reads: with(outdoors, records.CondensateOutM.Field), Limits: []records.Limit{condensateRun},
			Explains: "The longer the run outdoors, the more likely it is to freeze.",
			eval: ifOutdoors(onReading(records.CondensateOutM, condensateRun, "The run outdoors is short.",
				"The run outdoors is long: it can freeze shut."))},
		{ID: "water.condensate_insulated", Title: "Condensate insulated outdoors", Section: id,
			Reads: with(outdoors, records.CondensateInsulated.Field), Limits: []records.Limit{condensateLag},
			Explains: "Insulation that soaks up water does not work.",
			eval: ifOutdoors(onTest(records.CondensateInsulated, condensateLag, records.Observation,
				"The pipe is insulated outdoors.", "The pipe is not insulated outdoors: it can freeze shut."))},
		{ID: "water.condensate_end", Title: "Where condensate drains to", Section: id,
			Reads: with(condensing, records.CondensateEnd.Field), Limits: []records.Limit{condensateEnds},
			Explains: "Condensate is acid; an internal foul drain is best. A gutter can freeze, and a " +
				"rainwater-only drain leads to open water.",
			eval: ifCondensing(on(water.condensateEnd))},
		{ID: "water.condensate_trap", Title: "Condensate trap", Section: id,
			Reads: with(condensing, records.CondensateTrap.Field), Limits: []records.Limit{condensateFilled},
			Explains: "A dry trap lets combustion products out through the pipe.",
			eval: ifCondensing(onTest(records.CondensateTrap, condensateFilled, records.AtRisk,
				"The trap is filled and nothing leaks.",
				"The trap is dry or leaks: combustion products can come out of the pipe."))},
	}
}

func ifCondensing(eval func(*entries) records.Finding) func(*entries) records.Finding {
	return func(e *entries) records.Finding {
		if _, answered := e.Values.Flag(records.ApplianceCondensing); !e.condensing() &&
			(answered || e.Values.Choice(records.ApplianceKind) != "") {
			return e.ruledOut("the appliance does not condense", eval)
		}
		return eval(e)
	}
}

func ifOutdoors(eval func(*entries) records.Finding) func(*entries) records.Finding {
	return ifCondensing(func(e *entries) records.Finding {
		if f, ok := e.gate(records.CondensateOut.Field); !ok {
			return f
		}
		if out, _ := e.Values.Flag(records.CondensateOut); !out {
			return e.ruledOut("none of the pipe is outdoors", eval)
		}
		return eval(e)
	})
}

// measured compares a number read at commissioning with a limit; outside is
// an observation.
func (e *entries) measured(field records.NumberField, l records.Limit, in, out string) records.Finding {
	if f, ok := e.taken(field.Field); !ok {
		return f
	}
	x, _ := e.Values.Float(field)
	return e.verdict(setTo(x, e.entered(field.Field)), l, records.Observation, in, out)
}

// condensate is measured, with the manufacturer's figure first.
func (e water) condensate(field, stated records.NumberField, general records.Limit, in,
	out string) records.Finding {
	own, ok := e.Values.Float(stated)
	if !ok {
		return e.measured(field, general, in, out)
	}
	f := e.measured(field, least(own, general.Unit, records.ByManufacturer, e.stated()), in, out)
	return e.asStated(f, &general, stated)
}

func (e water) condensateEnd() records.Finding {
	if f, ok := e.taken(records.CondensateEnd.Field); !ok {
		return f
	}
	f := inside(e.entered(records.CondensateEnd.Field), "Condensate drains to an accepted place.")
	if e.Values.Choice(records.CondensateEnd) == records.CondensateRainwater {
		f = outside(records.Observation, f.Reading, "Condensate is acid and must not drain to rainwater alone.")
	}
	f.Limit = copyOf(condensateEnds)
	return f
}
