package rules

import "gaugebook/records"

// topic is what there is to one topic: its rules and, for the sample record,
// what is entered in its section.
type topic struct {
	rules  []Rule
	sample map[*records.Field]string
	rows   map[*records.RowsField][]map[string]string
}

// What the rules of a topic are methods of.
type (
	appliance     struct{ *entries }
	tightness     struct{ *entries }
	pressure      struct{ *entries }
	heat          struct{ *entries }
	combustion    struct{ *entries }
	flue          struct{ *entries }
	ventilation   struct{ *entries }
	alarm         struct{ *entries }
	water         struct{ *entries }
	delivery      struct{ *entries }
	electrical    struct{ *entries }
	handover      struct{ *entries }
	contradiction struct{ *entries } // what contradicts an answer
)

// on makes a method of a topic the judgement of a rule. The rules of a topic are
// methods of a type of its own, struct{ *entries }, so that their names can be
// short and what belongs together stays together.
func on[T ~struct{ *entries }](judge func(T) records.Finding) func(*entries) records.Finding {
	return func(e *entries) records.Finding { return judge(T(struct{ *entries }{e})) }
}
