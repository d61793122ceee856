package records

import "fmt"

// OwnerLimit is a level that the owner enters where no published one is on
// file, from a document of the firm's, or the owner's wish that a limit be
// guarded.
type OwnerLimit struct {
	Rule     string   `json:"rule"` // or the part of its id that several rules share
	Kind     string   `json:"kind"` // of appliance; "" for all
	High     *float64 `json:"high,omitempty"`
	Decision Decision `json:"decision,omitempty"`

	Document  string `json:"document,omitempty"`
	Clause    string `json:"clause,omitempty"`
	EnteredBy string `json:"entered_by"`
	EnteredOn Date   `json:"entered_on,omitzero"`
}

// OwnersRatio is the rule for which an owner may enter a level, the CO/CO2
// ratio of kinds of appliance without a published one, and the most it may be:
// what is recalled as the level of action of any appliance.
const (
	OwnersRatio     = "combustion.ratio"
	ownersMostRatio = 0.02
)

// Checked returns the limit tidied up, or every error in it. It is the one
// check: form, command line, store and the rules use it.
func (o OwnerLimit) Checked() (OwnerLimit, error) {
	var c check
	o.Rule = c.line("rule", "Rule", o.Rule, 1, maxRule)
	o.Document = c.line("document", "Document", o.Document, 0, maxNote)
	o.Clause = c.line("clause", "Clause or page", o.Clause, 0, maxFirm)
	o.EnteredBy = c.line("entered_by", "Entered by", o.EnteredBy, 1, maxName)
	if o.Decision != "" {
		oneOf(&c, "decision", "How readings are judged", o.Decision, []Decision{AsRead, Guarded})
	}
	switch {
	case o.High == nil && o.Decision == "":
		c.add("high", "Level", "", "a level, or how the limit is decided")
	case o.High == nil:
	case o.Rule != OwnersRatio:
		c.add("rule", "Rule", o.Rule, "the rule "+OwnersRatio+": other limits have published figures")
	case o.Kind == "" || ApplianceKind.ChoiceLabel(o.Kind) == o.Kind:
		c.add("kind", "Kind of appliance", o.Kind, "a kind of appliance")
	case !(*o.High > 0 && *o.High <= ownersMostRatio):
		c.add("high", "Level", fmt.Sprint(*o.High), "a ratio above 0, at most "+FormatNumber(ownersMostRatio, -1))
	case o.Document == "":
		c.add("document", "Document", "", "the document that the level is from")
	}
	return o, c.err()
}
