package rules

import (
	"fmt"
	"math"
	"strings"

	"gaugebook/records"
	"gaugebook/records/gas"
)

// entries is what one record holds, with the facts around it, as the rules
// read it.
type entries struct {
	*records.Record
	facts records.Facts

	rule    *Rule // being judged
	guarded bool  // its limit, by the owner's choice

	// Worked out once, when the first rule asks.
	fuelSought, volumeSought bool
	foundFuel                *gas.Fuel
	foundVolume              volumeResult
	foundProcedure           *procedure
	procedureProblem         string
}

// sectionExempt returns why a rule's whole section does not apply to the
// appliance or was rightly left out of this record, or "".
func (e *entries) sectionExempt(r *Rule) string {
	s := records.SectionByID(r.Section)
	if reason := s.ExemptReason(e.Values); reason != "" && !e.anyOf(r.own...) {
		return reason
	}
	if r.always || !e.blank(s) {
		return ""
	}
	routine := e.Purpose == records.Service || e.Purpose == records.LandlordCheck
	switch {
	case r.Section == records.Tightness.ID && routine:
		return "no tightness test was done at this visit; one is advised, but not always required"
	case r.Section == records.Combustion.ID && e.Purpose == records.LandlordCheck:
		return "no combustion readings were taken; a landlord check needs them only where the instructions do, or " +
			"where neither pressure nor heat input can be examined"
	}
	return ""
}

// blank reports whether nothing has been entered in the section. Combustion
// may not be left blank when nothing else could be examined.
func (e *entries) blank(s *records.Section) bool {
	if s.ID == records.Combustion.ID && e.Values.Choice(records.Examined) == records.ExaminedNeither {
		return false
	}
	for _, g := range s.Groups {
		for _, f := range g.Fields {
			if f != records.SmellOfGas.Field && e.Values[f.Key].Present() { // smell is asked at every visit
				return false
			}
		}
	}
	return true
}

// ruledOut is the exemption of a rule that an answer takes out, unless one of
// its own readings stands on the record: a reading that is there is judged,
// whatever the answers say.
func (e *entries) ruledOut(why string, eval func(*entries) records.Finding) records.Finding {
	if e.anyOf(e.rule.own...) {
		return eval(e)
	}
	return exempt(why)
}

// outOfScope is the exemption of a reading to which no limit applies by its
// nation, date or scope: shown, and held against nothing.
func (e *entries) outOfScope(f *records.Field, why string) records.Finding {
	out := exempt(why)
	out.Reading = e.entered(f)
	return out
}

// commissioning reports whether the limits of commissioning apply.
func (e *entries) commissioning() bool { return e.Purpose == records.Commissioning }

// fuel returns the physics of the appliance's fuel.
func (e *entries) fuel() (gas.Fuel, bool) {
	if !e.fuelSought {
		e.fuelSought = true
		if f, ok := gas.FuelByCode(gas.FuelCode(e.Values.Choice(records.ApplianceFuel))); ok {
			e.foundFuel = &f
		}
	}
	if e.foundFuel == nil {
		return gas.Fuel{}, false
	}
	return *e.foundFuel, true
}

// boiler reports whether the appliance is a central heating boiler.
func (e *entries) boiler() bool {
	switch e.Values.Choice(records.ApplianceKind) {
	case records.KindCombination, records.KindSystem, records.KindRegular:
		return true
	}
	return false
}

// condensing reports whether the appliance condenses; unanswered counts as
// yes for a boiler, because the tighter limits follow from it.
func (e *entries) condensing() bool {
	yes, answered := e.Values.Flag(records.ApplianceCondensing)
	return yes || !answered && e.boiler()
}

// entered returns a field's value as it was entered, with its unit.
func (e *entries) entered(f *records.Field) string {
	val := e.Values[f.Key]
	switch {
	case !val.Present():
		return ""
	case f.Kind == records.ChoiceKind:
		return f.ChoiceLabel(val.Text())
	}
	return withUnit(minus(val.Text()), f.Unit)
}

// need returns a missing finding that names every blank field among fs.
func (e *entries) need(fs ...*records.Field) (records.Finding, bool) {
	var names []string
	for _, f := range fs {
		if !e.Values[f.Key].Present() {
			names = append(names, nameOf(f))
		}
	}
	if names == nil {
		return records.Finding{}, true
	}
	return missing("Not entered: " + strings.Join(names, "; ") + "."), false
}

// taken is need for what is read when an appliance is commissioned: at any
// other visit all of fs may be left out.
func (e *entries) taken(fs ...*records.Field) (records.Finding, bool) {
	if !e.commissioning() && !e.anyOf(fs...) {
		return exempt("needed when the appliance is commissioned; not taken at this visit"), false
	}
	return e.need(fs...)
}

// gate is taken for an answer that decides whether a rule applies: a reading of
// the rule that stands on the record asks for it at any visit.
func (e *entries) gate(f *records.Field) (records.Finding, bool) {
	if e.anyOf(e.rule.own...) {
		return e.need(f)
	}
	return e.taken(f)
}

// anyOf reports whether one of the fields has a value.
func (e *entries) anyOf(fs ...*records.Field) bool {
	for _, f := range fs {
		if e.Values[f.Key].Present() {
			return true
		}
	}
	return false
}

// tested is answer for what is checked when an appliance is commissioned.
func (e *entries) tested(field records.FlagField, l *records.Limit, class records.Class, yes,
	no string) records.Finding {
	if f, ok := e.taken(field.Field); !ok {
		return f
	}
	return e.answer(field, l, class, yes, no)
}

// onAnswer, onTest and onReading make answer, tested and measured the judgement
// of a rule.
func onAnswer(field records.FlagField, l records.Limit, class records.Class,
	yes, no string) func(*entries) records.Finding {
	return func(e *entries) records.Finding { return e.answer(field, copyOf(l), class, yes, no) }
}

func onTest(field records.FlagField, l records.Limit, class records.Class,
	yes, no string) func(*entries) records.Finding {
	return func(e *entries) records.Finding { return e.tested(field, copyOf(l), class, yes, no) }
}

func onReading(field records.NumberField, l records.Limit, in, out string) func(*entries) records.Finding {
	return func(e *entries) records.Finding { return e.measured(field, l, in, out) }
}

// current reports whether a source is in force on the day of the work; with
// no day, the newest is taken.
func (e *entries) current(s records.Source) bool {
	return e.WorkDate.IsZero() || s.InForce(e.WorkDate)
}

// orPractice returns the limit, ranked as common practice on a day when its
// source is not in force.
func (e *entries) orPractice(l records.Limit) *records.Limit {
	if !e.current(l.Source) {
		l.Rank, l.Source = records.ByPractice, practice
	}
	return &l
}

// nameOf is the field's label, with its group where two fields of a section
// share a label.
func nameOf(f *records.Field) string { return fieldNames[f.Key] }

var fieldNames = func() map[string]string {
	names := map[string]string{}
	for _, s := range records.Sections {
		seen := map[string]int{}
		for _, f := range s.Fields() {
			seen[f.Label]++
		}
		for _, g := range s.Groups {
			for _, f := range g.Fields {
				names[f.Key] = f.Label
				if seen[f.Label] > 1 {
					names[f.Key] = f.Label + " (" + g.Title + ")"
				}
			}
		}
	}
	return names
}()

func withUnit(s, unit string) string {
	if unit == "" {
		return s
	}
	return s + " " + unit
}

// tolerance keeps binary rounding from moving a reading over an edge; it is
// far below what any instrument can show.
const tolerance = 1e-9

// slack is rounded before it is added to anything, so that no processor fuses
// the two steps and every machine has the same edge.
func slack(x float64) float64 { return float64(tolerance * math.Max(1, math.Abs(x))) }

func above(x, limit float64) bool { return x > limit+slack(limit) }
func below(x, limit float64) bool { return x < limit-slack(limit) }
func equal(x, y float64) bool     { return !above(x, y) && !below(x, y) }

// difference subtracts two readings as decimals.
func difference(a, b records.Reading) float64 {
	return roundTo(a.Value-b.Value, max(a.Decimals, b.Decimals))
}

func roundTo(x float64, decimals int) float64 {
	p := math.Pow10(decimals)
	return math.Round(x*p) / p
}

// show writes a computed number with at most that many decimals.
func show(x float64, decimals int) string {
	s := records.FormatNumber(x, decimals)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return minus(s)
}

// minus writes the one minus sign that is used in words.
func minus(number string) string {
	if rest, negative := strings.CutPrefix(number, "-"); negative {
		return "−" + rest
	}
	return number
}

func line(format string, args ...any) string { return fmt.Sprintf(format, args...) }
