package rules

import "gaugebook/records"

// The rules of one topic are methods of a type of its own, so that their names
// can be short and what belongs together stays together.
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

// on makes a topic's method the judgement of a rule.
func on[T ~struct{ *entries }](judge func(T) records.Finding) func(*entries) records.Finding {
	return func(e *entries) records.Finding { return judge(T(struct{ *entries }{e})) }
}

// also makes a method of contradiction what an answer of the table asks.
func also(says func(contradiction) string) func(*entries) string {
	return func(e *entries) string { return says(contradiction{e}) }
}
