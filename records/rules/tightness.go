package rules

import (
	"gaugebook/records"
	"gaugebook/records/gas"
)

var tightnessTopic = topic{
	rules: tightnessRules(),
	sample: map[*records.Field]string{
		records.TightnessSupply.Field:    records.SupplyLow,
		records.TightnessSituation.Field: records.SituationConnected,
		records.TightnessEdition.Field:   records.Edition4, records.TightnessMeter.Field: "g4",
		records.LetByPressureMbar.Field: "8.5", records.LetByMinutes.Field: "1",
		records.LetByRiseMbar.Field: "0.0", records.TightnessGauge.Field: "gauge-1",
		records.TightnessGaugeHow.Field: records.GaugeElectronic, records.TightnessTime.Field: "10:35",
		records.TestPressureMbar.Field: "20.4", records.StabiliseMin.Field: "1", records.TestMinutes.Field: "2",
		records.DropMbar.Field: "0.1", records.SmellOfGas.Field: "no", records.BeforeDropMbar.Field: "0.1",
		records.BeforeSmell.Field: "no", records.PurgeDone.Field: "yes",
	},
	rows: map[*records.RowsField][]map[string]string{&records.TightnessRuns: {
		{"pipe": "copper-28", "length_m": "2.50", "feeds": "yes", "elbows": "2"},
		{"pipe": "copper-22", "length_m": "6.50", "feeds": "yes", "elbows": "3", "tees": "1"},
		{"pipe": "copper-15", "length_m": "4.00", "feeds": "no", "elbows": "2"},
	}},
}

func tightnessRules() []Rule {
	id := records.Tightness.ID
	volume := []*records.Field{records.TightnessMeter.Field, records.TightnessRuns.Field}
	supply := []*records.Field{records.TightnessSupply.Field, records.ApplianceFuel.Field,
		records.StatedDropSource.Field}
	edition := records.TightnessEdition.Field
	return []Rule{
		{ID: "tightness.edition", Title: "Edition of the procedure in force", Section: id,
			Reads: []*records.Field{edition},
			Limits: ofEach(func(p *procedure) records.Limit {
				return words("the edition in force on the date", records.ByStandard, p.Source)
			}),
			Explains: "The date of the test decides which edition its limits come from; where two could be used, " +
				"the engineer says which one was followed.",
			eval: on(tightness.editionRule)},
		{ID: "tightness.scope", Title: "Within the scope of the procedure", Section: id,
			Reads: with(volume, edition), Limits: ofEach(scopeOf),
			Explains: "The procedure is only for small installations; a larger one is tested to a different procedure.",
			eval:     on(tightness.scope)},
		{ID: "tightness.volume", Title: "Installation volume", Section: id, Reads: volume,
			Explains: "Meter and pipes, plus 10 % of the pipes for fittings. The permissible drop, the leak rate " +
				"and the purge volume follow from it.",
			eval: on(tightness.volumeRule)},
		{ID: "tightness.gauge", Title: "Gauge in calibration", Section: id,
			Reads:  []*records.Field{records.TightnessGauge.Field},
			Limits: []records.Limit{calibrationLimit}, Explains: "A gauge out of calibration proves nothing.",
			eval: func(e *entries) records.Finding { return e.calibration(records.TightnessGauge) }},
		{ID: "tightness.let_by_pressure", Title: "Let-by test pressure", Section: id,
			Reads: with(supply, edition, records.LetByPressureMbar.Field), Limits: ofEach(letByPressureOf),
			Explains: "Let-by is tested at a low pressure with the emergency control closed, so that gas getting " +
				"past it shows as a rise.",
			eval: func(e *entries) records.Finding {
				return tightness{e}.asProcedure(records.LetByPressureMbar, letByPressureOf)
			}},
		{ID: "tightness.let_by_time", Title: "Let-by test time", Section: id,
			Reads: with(supply, edition, records.LetByMinutes.Field), Limits: ofEach(letByTimeOf),
			Explains: "The gauge is watched for long enough for a rise to show.",
			eval: func(e *entries) records.Finding {
				return tightness{e}.asProcedure(records.LetByMinutes, letByTimeOf)
			}},
		{ID: "tightness.let_by_rise", Title: "No let-by", Section: id,
			Reads:  []*records.Field{records.LetByRiseMbar.Field, records.TightnessGaugeHow.Field, edition},
			Limits: movementLimits(),
			Explains: "A rise means that the emergency control does not shut off, so a tightness test would prove " +
				"nothing.",
			eval: on(tightness.letByRise)},
		{ID: "tightness.test_pressure", Title: "Test pressure", Section: id,
			Reads:    with(supply, edition, records.TestPressureMbar.Field),
			Limits:   testPressureLimits(),
			Explains: "The drop can only be compared if the test starts at the pressure given in the procedure.",
			eval:     on(tightness.testPressureRule)},
		{ID: "tightness.stabilise", Title: "Time to stabilise", Section: id,
			Reads: with(supply, edition, records.StabiliseMin.Field), Limits: ofEach(stabiliseOf),
			Explains: "The gas must reach the temperature of the pipe before the test is timed.",
			eval: func(e *entries) records.Finding {
				return tightness{e}.asProcedure(records.StabiliseMin, stabiliseOf)
			}},
		{ID: "tightness.duration", Title: "Length of the test", Section: id,
			Reads: with(supply, edition, records.TestMinutes.Field), Limits: ofEach(durationOf),
			Explains: "A drop only means something together with the time it took.",
			eval: func(e *entries) records.Finding {
				return tightness{e}.asProcedure(records.TestMinutes, durationOf)
			}},
		{ID: "tightness.drop", Title: "Pressure drop", Section: id, Reads: dropReads(), Limits: dropLimits(),
			Explains: "How far the pressure fell in the test, against what the edition allows for the meter, the " +
				"pipes and the installation.",
			eval: on(tightness.dropRule)},
		{ID: "tightness.pipework", Title: "Pipework alone", Section: id,
			Reads: with(supply, edition, records.TightnessSituation.Field, records.DropMbar.Field,
				records.PipeworkDropMbar.Field, records.TightnessGaugeHow.Field),
			Limits: movementLimits(),
			Explains: "Where the edition asks for it, movement with the appliances connected must be shown not to " +
				"come from the pipework: isolate the appliances, and there must be no perceptible movement.",
			eval: on(tightness.pipework)},
		{ID: "tightness.temperature", Title: "Temperature steady during the test", Section: id,
			Reads: []*records.Field{records.GasTempChangeK.Field, records.TestPressureMbar.Field,
				records.TightnessGaugeHow.Field, records.DropMbar.Field, edition},
			Limits: []records.Limit{temperatureLimit},
			Explains: "If the gas warms or cools by one degree, the gauge moves by about 3.6 mbar, which can hide a " +
				"leak or look like one.",
			eval: on(tightness.temperature)},
		{ID: "tightness.before_firing", Title: "Tested before firing", Section: id,
			Purposes: commissioningOnly,
			Reads:    with(firingTimes(), records.TightnessTime.Field),
			Limits:   []records.Limit{orderLimit},
			Explains: "No appliance is fired before the installation has been tested, so the test cannot be later " +
				"than readings with the burner on.",
			eval: on(tightness.beforeFiring)},
		{ID: "tightness.smell", Title: "No smell of gas", Section: id,
			Reads: []*records.Field{records.SmellOfGas.Field, edition}, Limits: ofEach(smellOf), always: true,
			Explains: "Any smell of gas fails the test, whatever the gauge says.",
			eval:     on(tightness.smell)},
		{ID: "tightness.purged", Title: "Purged and relit", Section: id,
			Reads:    with(volume, records.PurgeDone.Field, edition),
			Explains: "Air left in the pipes makes lighting dangerous and the first readings wrong.",
			eval:     on(tightness.purged)},
	}
}

// with returns fields and more in a new slice.
func with(fs []*records.Field, more ...*records.Field) []*records.Field {
	return append(append([]*records.Field(nil), fs...), more...)
}

// The kinds of supply whose permissible drop is not on file.
const (
	lpgSupply    = "LPG"
	mediumSupply = "a medium-pressure supply"
)

// special returns the kind of supply without a permissible drop on file, or "".
func (e tightness) special() string {
	switch {
	case e.Values.LPG():
		return lpgSupply
	case e.Values.Choice(records.TightnessSupply) == records.SupplyMedium:
		return mediumSupply
	}
	return ""
}

// asProcedure judges one reading of how the test was done.
func (e tightness) asProcedure(field records.NumberField, limit func(*procedure) records.Limit) records.Finding {
	f, _, done := e.procedureReading(field)
	if done {
		return f
	}
	p, _ := e.procedure()
	l := limit(p)
	if e.special() == mediumSupply {
		l.Source = sure(clause(p.Source, l.Source.Clause+", behind the regulator of a medium-pressure supply"),
			records.OneSource)
	}
	return e.verdict(e.figure(field), l, records.Observation,
		"As the procedure requires.", "Not as the procedure requires: repeat the test.")
}

// figure is a reading of a gauge, or a number that was set or timed.
func (e *entries) figure(field records.NumberField) measured {
	if _, ok := takenWith[field.Key]; ok {
		return e.read(field)
	}
	x, _ := e.Values.Float(field)
	return setTo(x, e.entered(field.Field))
}

// procedureReading returns the reading, or the finding when there is none or
// no general figure to compare it with.
func (e tightness) procedureReading(field records.NumberField) (f records.Finding, x float64, done bool) {
	if f, ok := e.need(records.TightnessSupply.Field, records.ApplianceFuel.Field, field.Field); !ok {
		return f, 0, true
	}
	x, _ = e.Values.Float(field)
	kind := e.special()
	if kind != lpgSupply { // a medium-pressure one is tested alike, behind its regulator
		if _, problem := e.procedure(); problem != "" {
			return missing(problem), 0, true
		}
		return f, x, false
	}
	source := e.Values.Text(records.StatedDropSource)
	if source == "" {
		return missing("No general figure for " + kind +
			" is on file: enter the permissible drop and name the procedure you used."), 0, true
	}
	f = exempt("no general figure for " + kind + " is on file; tested to " + source)
	f.Reading = e.entered(field.Field)
	if p, problem := e.procedure(); problem == "" && field.Unit == "min" && below(x, leastMinutes(p, field)) {
		f.Outcome = records.Doubtful
		f.Reason = line("Shorter than the procedure asks even for natural gas, %s min: does %s really allow it?",
			show(leastMinutes(p, field), 1), source)
	}
	return f, 0, true
}

// leastMinutes is the least time that the procedure asks for.
func leastMinutes(p *procedure, field records.NumberField) float64 {
	switch field {
	case records.LetByMinutes:
		return p.LetByLeastMin
	case records.StabiliseMin:
		return p.StabiliseLeastMin
	}
	return p.TestLeastMin
}

func (e tightness) testPressureRule() records.Finding {
	f, x, done := e.procedureReading(records.TestPressureMbar)
	if done {
		return f
	}
	start := e.read(records.TestPressureMbar)
	p, _ := e.procedure()
	if p.ReducedTestMbar == 0 || !below(x, p.TestMbar[0]) {
		return e.verdict(start, p.testPressure, records.Observation, "Test pressure is as the procedure requires.",
			"The test did not start at the pressure the procedure requires: repeat it.")
	}
	return e.verdict(start, p.reducedPressure, records.AtRisk,
		show(p.TestMbar[0], 2)+
			" mbar could not be reached: if the test is good, the operating pressure must be checked.",
		"Below "+show(p.ReducedTestMbar, 2)+
			" mbar the test does not count: isolate the supply and investigate the low pressure.")
}

func (e tightness) scope() records.Finding {
	p, problem := e.procedure()
	if problem != "" {
		return missing(problem)
	}
	vol, working, bad := e.volume()
	if bad != nil {
		return *bad
	}
	f := e.verdict(setTo(vol.TotalM3, withUnit(show(vol.TotalM3, 6), "m³")), p.scope, records.Observation,
		"The installation is small enough for this procedure.",
		"Too large for the small-installation procedure: another procedure applies.")
	f.Working = working
	return f
}

func (e tightness) volumeRule() records.Finding {
	vol, working, bad := e.volume()
	if bad != nil {
		return *bad
	}
	f := inside(withUnit(show(vol.TotalM3, 6), "m³"),
		"The installation volume is worked out from the meter and the pipe runs.")
	f.Working = working
	return f
}

func (e tightness) letByRise() records.Finding {
	if f, ok := e.need(records.LetByRiseMbar.Field, records.TightnessGaugeHow.Field); !ok {
		return f
	}
	return e.verdict(e.read(records.LetByRiseMbar), e.movement(), records.AtRisk,
		"No perceptible rise: the emergency control shuts off.",
		"The emergency control is letting by: the tightness test does not count.")
}

var temperatureLimit = words("effect no larger than a perceptible movement", records.ByPhysics,
	clause(physics, "ideal gas, constant volume"))

func (e tightness) temperature() records.Finding {
	change, ok := e.Values.Float(records.GasTempChangeK)
	if !ok {
		return exempt("no change in gas temperature was recorded")
	}
	if f, ok := e.need(records.TestPressureMbar.Field, records.TightnessGaugeHow.Field); !ok {
		return f
	}
	p, _ := e.Values.Float(records.TestPressureMbar)
	perK, err := gas.TemperatureEffectMbarPerK(p, gas.ReferenceC)
	if err != nil {
		return missing("The effect of temperature cannot be worked out: " + err.Error() + ".")
	}
	size := max(change, -change) * perK
	l, seen := temperatureLimit, e.movement()
	f := inside(e.entered(records.GasTempChangeK.Field), "The temperature change is too small to matter.")
	if above(size, *seen.High) {
		f.Outcome = records.Doubtful
		f.Reason = e.temperatureHides(change, size, *seen.High)
	}
	f.Limit = &l
	f.Working = []string{
		line("At %s mbar and about 15 °C, 1 K moves the gauge by %s mbar.", show(p, 2), show(perK, 2)),
		line("%s K × %s mbar/K = %s mbar; perceptible above %s mbar.", show(change, 1), show(perK, 4),
			show(change*perK, 2), show(*seen.High, 2)),
	}
	return f
}

// temperatureHides says what a change of temperature that moves the gauge by so
// much can mean, by what the gauge did.
func (e tightness) temperatureHides(change, size, seen float64) string {
	moved := withUnit(show(size, 1), "mbar")
	drop, known := e.Values.Float(records.DropMbar)
	switch {
	case change > 0:
		return "The gas warmed, which alone raises the gauge by " + moved + ": it can hide a drop. Wait and repeat."
	case known && below(drop, size-seen):
		return "The gas cooled, which alone lowers the gauge by " + moved + ", and the gauge fell by " +
			withUnit(show(drop, 2), "mbar") + " only: gas came in. The control valve lets by, or a reading is wrong."
	}
	return "The gas cooled, which alone lowers the gauge by " + moved +
		": the drop may be that or a leak. Wait and repeat."
}

func (e tightness) smell() records.Finding {
	said, ok := e.Values.Flag(records.SmellOfGas)
	if !ok {
		return missing("Not answered: " + nameOf(records.SmellOfGas.Field) + ".")
	}
	p, _ := e.procedure()
	l := p.smell
	f := inside("none", "No smell of gas at any time.")
	if said {
		f = outside(records.Immediate, "smell of gas", "A smell of gas fails the test, whatever the gauge says.")
	}
	f.Limit = &l
	return f
}

func (e tightness) purged() records.Finding {
	f := e.answer(records.PurgeDone, nil, records.AtRisk, "Purged and relit after the test.",
		"Not purged and relit after the test.")
	if f.Outcome == records.Missing {
		return f
	}
	if vol, _, bad := e.volume(); bad == nil {
		p, _ := e.procedure()
		if m3, err := gas.PurgeVolumeM3(vol.TotalM3, p.PurgeVolumes); err == nil {
			f.Working = []string{line("%s × %s m³ = %s m³ to pass in purging (%s; %s).", show(p.PurgeVolumes, 2),
				show(vol.TotalM3, 6), show(m3, 4), p.Name, p.PurgeSource)}
			if vol.TotalM3 > 0.02 {
				f.Working = append(f.Working, "Over 0.02 m³: burn off the purge gas at the purge point.")
			}
		}
	}
	return f
}

var orderLimit = words("not later than the readings with the burner on", records.ByPractice,
	clause(practice, "tightness test first, then firing"))

// firingTimes are the times of the readings with the burner on.
func firingTimes() []*records.Field {
	return []*records.Field{records.PressureTime.Field, records.HeatTime.Field, records.CombustionTime.Field}
}

func (e tightness) beforeFiring() records.Finding {
	test := e.Values.Text(records.TightnessTime)
	first := ""
	for _, f := range firingTimes() {
		if at := e.Values[f.Key].Text(); at != "" && (first == "" || at < first) {
			first = at
		}
	}
	if test == "" || first == "" {
		return exempt("the times were not entered, so their order cannot be checked")
	}
	reading := test + ", first reading " + first
	f := inside(reading, "The installation was tested before the first reading with the burner on.")
	if test > first {
		f = doubtful(reading,
			"A reading with the burner on is entered as earlier than the tightness test: check the times.")
	}
	l := orderLimit
	f.Limit = &l
	return f
}
