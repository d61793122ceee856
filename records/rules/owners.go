package rules

import "gaugebook/records"

// ownersLimit is the level that the owner entered for a rule and a kind of
// appliance, the one entered last where there are several. One that no form
// would have accepted is not used.
func (e *entries) ownersLimit(rule, kind string) (l records.Limit, ok bool) {
	for _, o := range e.facts.OwnerLimits {
		if o.Rule != rule || o.Kind != kind || o.High == nil {
			continue
		}
		if _, err := o.Checked(); err != nil {
			continue
		}
		where := "entered by " + o.EnteredBy
		if !o.EnteredOn.IsZero() {
			where += " on " + o.EnteredOn.Long()
		}
		if o.Clause != "" {
			where = o.Clause + "; " + where
		}
		l, ok = most(*o.High, "", records.ByStandard, records.Source{Document: o.Document, Clause: where,
			Confidence: records.OneSource}), true
		l.Decision = o.Decision
	}
	return l, ok
}

// Guardable lists the rules whose readings have an uncertainty, so that their
// limits can be guarded.
func Guardable() []Rule {
	var out []Rule
	for _, r := range all {
		if Example(r.ID).Measured != nil {
			out = append(out, r)
		}
	}
	return out
}

// ownerGuards reports whether the owner wants the limit of a rule guarded.
func (e *entries) ownerGuards(rule string) bool {
	guarded := false
	for _, o := range e.facts.OwnerLimits {
		if o.Rule == rule && o.High == nil && (o.Kind == "" || o.Kind == e.Values.Choice(records.ApplianceKind)) {
			guarded = o.Decision == records.Guarded
		}
	}
	return guarded
}
