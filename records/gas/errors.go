package gas

import (
	"math"
	"strconv"
)

// RangeError reports an input, or a result, outside the range for which a
// function holds. Value may be NaN or infinite: format it with Error, do not
// marshal it as a JSON number. Min and Max are always finite, and inclusive.
type RangeError struct {
	Quantity string  // the trade's name of the quantity, e.g. "flue oxygen"
	Value    float64 // what was given, in Unit
	Min, Max float64 // the accepted range, in Unit
	Unit     string  // e.g. "mbar"; empty for a plain number
}

// Error names the quantity, the value given and the range accepted. The value
// has six figures, unless that would put it inside the range.
func (e *RangeError) Error() string {
	unit := e.Unit
	if unit != "" {
		unit = " " + unit
	}
	value := strconv.FormatFloat(e.Value, 'g', 6, 64)
	if rounded, err := strconv.ParseFloat(value, 64); err != nil || rounded >= e.Min && rounded <= e.Max {
		value = number(e.Value)
	}
	return e.Quantity + " " + value + unit + " is outside " + number(e.Min) + " to " + number(e.Max) + unit
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// within returns a *RangeError unless lo <= v <= hi. NaN is never within.
func within(quantity string, v, lo, hi float64, unit string) error {
	if v >= lo && v <= hi {
		return nil
	}
	return &RangeError{Quantity: quantity, Value: v, Min: lo, Max: hi, Unit: unit}
}

// first returns the first error that is not nil.
func first(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// finite returns v, or a *RangeError for NaN and infinity. The input ranges
// make that unreachable except for hand-made Fuel or Pipe values.
func finite(quantity string, v float64, unit string) (float64, error) {
	if err := within(quantity, v, -math.MaxFloat64, math.MaxFloat64, unit); err != nil {
		return 0, err
	}
	return v, nil
}
