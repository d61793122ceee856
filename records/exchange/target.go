package exchange

import (
	"slices"
	"strings"
	"unicode"

	"gaugebook/records"
)

// Target is what a column of a list can hold. Its value is its key in forms.
type Target string

// The targets.
const (
	Line1       Target = "line1"
	Line2       Target = "line2"
	Town        Target = "town"
	Postcode    Target = "postcode"
	Nation      Target = "nation"
	Name        Target = "name"
	Email       Target = "email"
	Phone       Target = "phone"
	Tenure      Target = "tenure"
	Address     Target = "address"
	Kind        Target = "kind"
	Make        Target = "make"
	Model       Target = "model"
	Serial      Target = "serial"
	Location    Target = "location"
	Fuel        Target = "fuel"
	LastService Target = "last_service"
)

// TargetInfo describes a target.
type TargetInfo struct {
	Target   Target
	Label    string
	Required bool             // a list must have it, or a default for it
	Choices  []records.Choice // what its cells may hold, and its default may be
	words    []string         // heads that mean it, as plain keeps them
}

// Targets lists what can be read in, in the order of a form.
var Targets = []TargetInfo{
	{Target: Line1, Label: "First line of the address", Required: true,
		words: []string{"addressline1", "address1", "line1", "street",
			"streetaddress", "firstline", "firstlineoftheaddress", "address", "propertyaddress", "siteaddress"}},
	{Target: Line2, Label: "Second line", words: []string{"addressline2", "address2", "line2",
		"secondline", "district",
		"locality"}},
	{Target: Town, Label: "Town", Required: true, words: []string{"town", "city", "towncity", "posttown",
		"addressline3", "address3"}},
	{Target: Postcode, Label: "Postcode", Required: true, words: []string{"postcode", "postalcode", "zip"}},
	{Target: Nation, Label: "Nation", Required: true, Choices: choices(records.Nations),
		words: []string{"nation", "country"}},
	{Target: Name, Label: "Contact: name", words: []string{"contact", "contactname", "name",
		"customer", "customername",
		"client", "fullname", "landlordname", "owner"}},
	{Target: Email, Label: "Contact: e-mail",
		words: []string{"email", "emailaddress", "mail", "contactemail"}},
	{Target: Phone, Label: "Contact: telephone",
		words: []string{"telephone", "phone", "tel", "mobile", "phonenumber",
			"telephonenumber", "telno", "mobilenumber", "contactnumber"}},
	{Target: Tenure, Label: "Contact: relationship to the property", Choices: choices(records.Tenures),
		words: []string{"tenure", "holdsthepropertyas", "contacttype"}},
	{Target: Address, Label: "Contact: address, if different",
		words: []string{"contactaddress", "billingaddress", "correspondenceaddress", "landlordaddress"}},
	{Target: Kind, Label: "Kind of appliance", Required: true, Choices: records.ApplianceKind.Choices,
		words: []string{"kindofappliance", "appliancekind",
			"appliancetype", "kind", "type", "appliance", "boilertype"}},
	{Target: Make, Label: "Make", words: []string{"make", "manufacturer", "brand",
		"boilermake", "appliancemake"}},
	{Target: Model, Label: "Model", words: []string{"model", "boilermodel", "appliancemodel"}},
	{Target: Serial, Label: "Serial number", words: []string{"serialnumber", "serial",
		"serialno", "serialnr", "sn"}},
	{Target: Location, Label: "Where in the property",
		words: []string{"location", "room", "position", "whereintheproperty",
			"appliancelocation"}},
	{Target: Fuel, Label: "Fuel", Choices: records.ApplianceFuel.Choices,
		words: []string{"fuel", "gas", "gastype", "fueltype"}},
	{Target: LastService, Label: "Date of the last service",
		words: []string{"lastservice", "lastserviced", "lastservicedate",
			"dateoflastservice", "serviced", "servicedate", "lastvisit"}},
}

func choices[T ~string](all []T) []records.Choice {
	out := make([]records.Choice, len(all))
	for i, v := range all {
		out[i] = records.Choice{Code: string(v), Label: string(v)}
	}
	return out
}

// Info returns the description of a target; ok is false for an unknown one.
func Info(t Target) (info TargetInfo, ok bool) {
	i := slices.IndexFunc(Targets, func(i TargetInfo) bool { return i.Target == t })
	if i < 0 {
		return info, false
	}
	return Targets[i], true
}

// Guess proposes the column of each target by the words of the heading, the
// first listed word winning. A target that nothing fits is not in the map.
func Guess(header []string) map[Target]int {
	heads := make([]string, len(header))
	for i, h := range header {
		heads[i] = plain(h)
	}
	out, taken := map[Target]int{}, map[int]bool{}
	for _, t := range Targets {
		for _, w := range t.words {
			if i := slices.Index(heads, w); i >= 0 && !taken[i] {
				out[t.Target], taken[i] = i, true
				break
			}
		}
	}
	return out
}

// plain keeps the letters and digits of s, in lower case.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, s)
}

// Mapping is which column holds what, counted from 0, and the default of a
// target where its cell is blank or no column holds it.
type Mapping struct {
	Column  map[Target]int
	Default map[Target]string
}

// Check refuses a mapping without a target that must be there, with a column
// that the list does not have or with one column for two targets.
func (m Mapping) Check(columns int) error {
	var errs records.Errors
	refuse := func(t TargetInfo, msg, want string) {
		errs = append(errs, &records.Error{Kind: records.Invalid, Field: string(t.Target), Label: t.Label, Msg: msg,
			Want: want})
	}
	usedBy := map[int]string{}
	for _, t := range Targets {
		col, mapped := m.Column[t.Target]
		switch {
		case mapped && (col < 0 || col >= columns):
			refuse(t, "the list has no such column", "one of its columns")
		case mapped && usedBy[col] != "":
			refuse(t, "this column is already used for “"+usedBy[col]+"”", "another column")
		case t.Required && !mapped && t.Choices != nil && m.Default[t.Target] == "":
			refuse(t, "", "the column that holds it, or one value for all rows")
		case t.Required && !mapped && t.Choices == nil:
			refuse(t, "", "the column that holds it")
		}
		if mapped {
			usedBy[col] = t.Label
		}
		if s := m.Default[t.Target]; s != "" && !slices.ContainsFunc(t.Choices, func(c records.Choice) bool {
			return c.Code == s
		}) {
			refuse(t, "“"+s+"” cannot be used for it", "one from the list")
		}
	}
	if len(errs) > 0 {
		return errs
	}
	return nil
}
