package rules

import "gaugebook/records"

// The rules of one topic are methods of a type of its own, so that their names
// can be short and what belongs together stays together.
type (
	tightness struct{ *entries }
	pressure  struct{ *entries }
	heat      struct{ *entries }
	water     struct{ *entries }
	delivery  struct{ *entries }
)

// on makes a topic's method the judgement of a rule.
func on[T ~struct{ *entries }](judge func(T) records.Finding) func(*entries) records.Finding {
	return func(e *entries) records.Finding { return judge(T(struct{ *entries }{e})) }
}
