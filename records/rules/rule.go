package rules

import (
	"gaugebook/records"
	"gaugebook/records/gas"
)

// Rule is one check: what it reads, against which limits, and why.
type Rule struct {
	ID       string // stable, section.name
	Title    string
	Section  records.SectionID
	Purposes []records.Purpose // records it judges; nil means all
	Reads    []*records.Field  // every field that can change its finding
	// Limits lists every general limit it may use, all editions. What the
	// manufacturer or the engineer states is on the record, not here.
	Limits   []records.Limit
	Explains string // what it reads and why, in a sentence or two

	eval func(*entries) records.Finding
	own  []*records.Field // of Reads, the readings that the rule is about
	// always judges the rule even when its section was left out of a record
	// that need not have it.
	always bool
}

// For reports whether the rule judges records of the purpose.
func (r Rule) For(p records.Purpose) bool {
	if r.Purposes == nil {
		return true
	}
	for _, q := range r.Purposes {
		if p == q {
			return true
		}
	}
	return false
}

// topics are the rules by topic, in the order of the work.
var topics = []topic{
	applianceTopic, tightnessTopic, pressureTopic, heatTopic, combustionTopic, flueTopic, ventilationTopic, waterTopic,
	deliveryTopic, electricalTopic, handoverTopic,
	{rules: placeRules()}, {rules: doubtRules()}, {rules: answerRules()},
}

// all is every rule, in the order of the sections and then of the work, the
// cross-checks of a section after its own rules.
var all = func() []Rule {
	var groups []Rule
	for _, t := range topics {
		groups = append(groups, t.rules...)
	}
	var out []Rule
	for _, s := range records.Sections {
		for _, r := range groups {
			if r.Section == s.ID {
				r.Reads = completed(r.Reads)
				r.own = ownReadings(r)
				out = append(out, r)
			}
		}
	}
	return out
}()

// completed adds what every figure of some kinds depends on: a stated one on
// the appliance that it is stated of, a reading on what it was read with.
func completed(reads []*records.Field) []*records.Field {
	out := reads
	for _, f := range reads {
		if statedFor(f) {
			out = with(out, records.ApplianceKind.Field, records.ApplianceFuel.Field, records.ApplianceFlue.Field,
				records.ApplianceCondensing.Field, records.FlueSystem.Field)
		}
		if how, ok := takenWith[f.Key]; ok && how.instrument != nil {
			out = with(out, how.instrument.Field)
			if how.instrument == &records.TightnessGauge {
				out = with(out, records.TightnessGaugeHow.Field)
			}
		}
	}
	return distinct(out)
}

// statedFor reports whether a field, or a column of it, is stated by the
// manufacturer.
func statedFor(f *records.Field) bool {
	for i := range statedFigures {
		if s := &statedFigures[i]; s.field == f || s.rows != nil && s.rows.Field == f {
			return true
		}
	}
	return false
}

// shared are readings that several rules need beside their own.
var shared = map[string]bool{records.AirTempC.Key: true, records.VolumeLitres.Key: true, records.PanelsSingle.Key: true,
	records.PanelsDouble.Key: true, records.Emitters.Key: true}

// ownReadings are the readings and answers that a rule is about: what it reads
// in its own section but for what decides whether it applies, what the
// manufacturer states, and words.
func ownReadings(r Rule) []*records.Field {
	var out []*records.Field
	for _, f := range r.Reads {
		switch {
		case f.Section() != r.Section || switches[f.Key] || statedByKey[f.Key] != nil ||
			shared[f.Key]:
		case f.Kind == records.NumberKind, f.Kind == records.FlagKind, f.Kind == records.ChoiceKind:
			out = append(out, f)
		}
	}
	return out
}

// All returns every rule, in the order of the sections and then of the work.
func All() []Rule { return append([]Rule(nil), all...) }

// ByID returns the rule with the id.
func ByID(id string) (Rule, bool) {
	for _, r := range all {
		if r.ID == id {
			return r, true
		}
	}
	return Rule{}, false
}

// Evaluate judges the record: exactly one finding for each rule that is for
// its purpose, in the order of All. The same record and facts always give the
// same findings; a record that is mostly blank gives findings that say what
// is missing. The record is only read.
func Evaluate(r *records.Record, f records.Facts) []records.Finding {
	e := &entries{Record: r, facts: f}
	var out []records.Finding
	for i := range all {
		if all[i].For(r.Purpose) {
			out = append(out, all[i].judge(e))
		}
	}
	return out
}

// Example is the finding of a rule on the sample record, computed when asked
// for. An unknown id gives the zero Finding.
func Example(id string) records.Finding {
	rule, ok := ByID(id)
	if !ok {
		return records.Finding{}
	}
	return rule.judge(&entries{Record: Sample()})
}

func (r *Rule) judge(e *entries) records.Finding {
	e.rule, e.guarded = r, e.ownerGuards(r.ID)
	var f records.Finding
	if reason := e.sectionExempt(r); reason != "" {
		f = exempt(reason)
	} else {
		f = r.eval(e)
	}
	if f.Outcome == records.Close {
		f.Working = append(f.Working, line("The limit is kept with a probability of %s %%; neither side is claimed "+
			"below %s %%.", show(100*f.Measured.Kept, 0), show(100*gas.ShareCertain, 0)))
		if entry, ok := e.Condition.Entry(r.ID); ok {
			f.Word = entry.Word()
		}
	}
	f.Rule, f.Section, f.Title = r.ID, r.Section, r.Title
	f.Fields = make([]string, len(r.Reads))
	for i, field := range r.Reads {
		f.Fields[i] = field.Key
	}
	return f
}
