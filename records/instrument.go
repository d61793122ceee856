package records

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// InstrumentKinds are what a section may ask for.
var InstrumentKinds = []string{"gauge", "analyser", "thermometer", "leak detector", "other"}

// Instrument is a measuring instrument as it was on the day.
type Instrument struct {
	ID             string `json:"id"`
	Kind           string `json:"kind"`
	Make           string `json:"make,omitempty"`
	Model          string `json:"model,omitempty"`
	Serial         string `json:"serial"`
	CalibratedOn   Date   `json:"calibrated_on,omitzero"`
	CalibrationDue Date   `json:"calibration_due,omitzero"`
	// Accuracy is what its manufacturer states of what it reads. What is not
	// stated is taken from its class.
	Accuracy []Accuracy `json:"accuracy,omitempty"`
}

// Quantity is something that an instrument reads.
type Quantity string

// The quantities, each in one unit.
const (
	QuantityPressure    Quantity = "pressure"    // mbar
	QuantityOxygen      Quantity = "oxygen"      // % by volume
	QuantityCO2         Quantity = "co2"         // % by volume
	QuantityCO          Quantity = "co"          // ppm
	QuantityTemperature Quantity = "temperature" // °C
)

// QuantityInfo describes a quantity for forms and pages.
type QuantityInfo struct {
	Quantity    Quantity
	Label, Unit string
	kind        string // of instrument that reads it
}

// Quantities lists them.
var Quantities = []QuantityInfo{
	{QuantityPressure, "Pressure", "mbar", "gauge"},
	{QuantityOxygen, "Oxygen", "%", "analyser"},
	{QuantityCO2, "CO₂", "%", "analyser"},
	{QuantityCO, "CO", "ppm", "analyser"},
	{QuantityTemperature, "Temperature", "°C", "thermometer"},
}

// Accuracy is what the manufacturer of an instrument states of one quantity:
// a reading is right to within Within or WithinPercent of itself, whichever is
// more.
type Accuracy struct {
	Quantity      Quantity `json:"quantity"`
	Step          float64  `json:"step"`   // smallest step shown, in the quantity's unit
	Within        float64  `json:"within"` // ±, in the quantity's unit
	WithinPercent float64  `json:"within_percent,omitempty"`
}

// Of returns ± of a reading.
func (a Accuracy) Of(reading float64) float64 {
	return math.Max(a.Within, float64(math.Abs(reading)*a.WithinPercent)/100)
}

// String writes the accuracy as ParseAccuracy reads it.
func (a Accuracy) String() string {
	s := FormatNumber(a.Step, -1) + " ± " + FormatNumber(a.Within, -1)
	if a.WithinPercent > 0 {
		s += " or " + FormatNumber(a.WithinPercent, -1) + " %"
	}
	return s
}

// Name returns the instrument in one line.
func (i Instrument) Name() string {
	out := i.Kind
	for _, s := range []string{i.Make, i.Model} {
		if s != "" {
			out += " " + s
		}
	}
	return out + ", serial " + i.Serial
}

// Stated returns the accuracy that is stated for a quantity.
func (i Instrument) Stated(q Quantity) (Accuracy, bool) {
	for _, a := range i.Accuracy {
		if a.Quantity == q {
			return a, true
		}
	}
	return Accuracy{}, false
}

// Serves reports whether the instrument can take readings that ask for one of
// some kinds: it is of that kind, or an accuracy is stated for what such an
// instrument reads, as of an analyser that is a gauge too.
func (i Instrument) Serves(kinds []string) bool {
	if len(kinds) == 0 || slices.Contains(kinds, i.Kind) {
		return true
	}
	for _, q := range Quantities {
		if _, stated := i.Stated(q.Quantity); stated && slices.Contains(kinds, q.kind) && q.kind != "analyser" {
			return true
		}
	}
	return false
}

const (
	wantAccuracy = "step ± accuracy, such as 1 ± 20 or 1 ± 20 or 5 %"
	maxAccuracy  = 1000.0
)

// ParseAccuracy reads an accuracy as a data sheet states it: the smallest step
// shown, ± in the same unit, and after "or" ± in percent of the reading, the
// larger of the two counting. A blank entry is none. Errors: Invalid.
func ParseAccuracy(q QuantityInfo, entry string) (a Accuracy, stated bool, err error) {
	refused := &Error{Kind: Invalid, Field: "accuracy_" + string(q.Quantity), Label: q.Label + ", step and accuracy",
		Value: clip(entry), Want: wantAccuracy}
	if entry = strings.TrimSpace(entry); entry == "" {
		return a, false, nil
	}
	step, rest, ok := strings.Cut(strings.ReplaceAll(entry, "+/-", "±"), "±")
	within, percent, both := strings.Cut(rest, "or")
	a.Quantity = q.Quantity
	var err1, err2, err3 error
	a.Step, err1 = plainNumber(step, q.Unit)
	a.Within, err2 = plainNumber(within, q.Unit)
	if both {
		a.WithinPercent, err3 = plainNumber(percent, "%")
		ok = ok && strings.Contains(percent, "%")
	}
	if !ok || err1 != nil || err2 != nil || err3 != nil || a.problem() != "" {
		return Accuracy{}, false, refused
	}
	return a, true, nil
}

// plainNumber reads a decimal that may have its unit behind it.
func plainNumber(s, unit string) (float64, error) {
	s = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), unit))
	if strings.Trim(s, ".0123456789") != "" {
		return 0, strconv.ErrSyntax
	}
	return strconv.ParseFloat(s, 64)
}

// problem says what is wrong with the figures, or "".
func (a Accuracy) problem() string {
	in := func(x, low, high float64) bool { return x >= low && x <= high } // NaN is in nothing
	switch {
	case !slices.ContainsFunc(Quantities, func(q QuantityInfo) bool { return q.Quantity == a.Quantity }):
		return "a quantity that an instrument reads"
	case !in(a.Step, 1e-4, maxAccuracy):
		return "a smallest step from 0.0001 to 1000"
	case !in(a.Within, 0, maxAccuracy):
		return "± from 0 to 1000"
	case !in(a.WithinPercent, 0, 50):
		return "± from 0 to 50 % of the reading"
	}
	return ""
}

// CheckedAccuracy returns nil, or an error for what the stated accuracies of
// an instrument may not be.
func (i Instrument) CheckedAccuracy() error {
	var c check
	c.accuracy("", "", i.Accuracy)
	return c.err()
}

func (c *check) accuracy(at, label string, stated []Accuracy) {
	seen := map[Quantity]bool{}
	for i, a := range stated {
		want := a.problem()
		if seen[a.Quantity] {
			want = "each quantity once"
		}
		if want != "" {
			c.add(fmt.Sprintf("%saccuracy[%d]", at, i), label+"accuracy", string(a.Quantity)+" "+a.String(), want)
		}
		seen[a.Quantity] = true
	}
}
