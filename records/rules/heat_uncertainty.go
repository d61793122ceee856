package rules

import (
	"math"

	"gaugebook/records"
	"gaugebook/records/gas"
)

// What a heat input's uncertainty is made of, as ± of each part.
const (
	stopwatchErrorS   = 0.5
	meterClassPct     = 1.5 // EN 1359 class 1.5, from a tenth of the largest flow on
	meterClassLowPct  = 3.0 // below it
	meterLowM3PerHour = 0.6
	enteredCVPct      = 1.0 // as on a bill
	generalCVPct      = 7.0 // general figure, of all natural gas that may be supplied
	generalLPGPct     = 3.0
)

// readingClassPct is how well a meter that was timed as the procedure asks is
// read: the standard uncertainty of its digit and of the stopwatch, of an
// appliance of about 15 kW and more. A coarser reading is not decided as read.
const readingClassPct = 1.5

// longestTimingS is the longest time that a person is asked to time a meter.
const longestTimingS = 1200.0

// fixedTime reports whether a metric meter was read at a set time instead of at
// changes of its last digit: the time is a whole number of half minutes.
func fixedTime(seconds float64) bool { return equal(math.Mod(seconds, 30), 0) }

// relativeOfReading is the part of the relative standard uncertainty that comes
// from reading the meter, if it were timed for so many seconds at the same
// rate.
func (r rate) relativeOfReading(seconds float64) float64 {
	watch, err := gas.StandardFromLimits(stopwatchErrorS)
	digit, err2 := gas.StandardOfDifference(r.digitM3)
	if err != nil || err2 != nil || r.m3PerHour <= 0 {
		return 0
	}
	parts := []float64{watch / seconds}
	if r.digitM3 > 0 {
		parts = append(parts, digit*3600/(r.m3PerHour*seconds))
	}
	u, err := gas.RootSumOfSquares(parts...)
	if err != nil {
		return 0
	}
	return u
}

// relativeOfRest is the part that timing for longer does not lessen: the
// meter's class and the calorific value.
func (e *entries) relativeOfRest(r rate) float64 {
	meter, cv := meterClassPct, enteredCVPct
	if r.m3PerHour < meterLowM3PerHour {
		meter = meterClassLowPct
	}
	if _, entered := e.Values.Float(records.HeatCV); !entered {
		if cv = generalCVPct; e.Values.LPG() {
			cv = generalLPGPct
		}
	}
	a, err := gas.StandardFromLimits(meter / 100)
	b, err2 := gas.StandardFromLimits(cv / 100)
	u, err3 := gas.RootSumOfSquares(a, b)
	if err != nil || err2 != nil || err3 != nil {
		return 0
	}
	return u
}

// inputMeasured is the heat input as it is held against the data plate.
func (e *entries) inputMeasured(r rate, kw float64, l records.Limit) measured {
	m := ruled(kw, withUnit(minus(apart(kw, 2, l)), "kW"))
	reading, rest := r.relativeOfReading(r.seconds), e.relativeOfRest(r)
	both, err := gas.RootSumOfSquares(reading, rest)
	if err != nil || both <= 0 {
		return m
	}
	m.u = float64(kw * both)
	if above(100*reading, readingClassPct) {
		m.coarse = line("One step of the meter is %s %% of the gas timed.", show(100*r.digitM3/r.passedM3, 1))
		if r.digitM3 == 0 {
			m.coarse = line("The stopwatch alone is good for %s %% of so short a time.", show(100*stopwatchErrorS/r.seconds, 1))
		}
		m.settle = e.timeLonger(r, kw, rest, l)
	}
	return m
}

// timeLonger says for how long the meter has to be timed to decide.
func (e *entries) timeLonger(r rate, kw, rest float64, l records.Limit) string {
	for seconds := math.Ceil((r.seconds+1)/30) * 30; seconds <= longestTimingS; seconds += 30 {
		u, err := gas.RootSumOfSquares(r.relativeOfReading(seconds), rest)
		if err != nil {
			break
		}
		kept, err := gas.Conformity(kw, float64(kw*u), l.Low, l.High)
		if err == nil && (kept >= gas.ShareCertain || kept <= 1-gas.ShareCertain) ||
			!above(100*r.relativeOfReading(seconds), readingClassPct) {
			return line("Time it for %s s more, or from one change of the last digit to another.",
				show(seconds-r.seconds, 0))
		}
	}
	return line("Even %s minutes would not decide it: compare with pressure and combustion, and answer by your word.",
		show(longestTimingS/60, 0))
}
