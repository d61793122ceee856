package gas

// Meter is a kind of gas meter with the volume of gas it holds.
type Meter struct {
	Code       string // stable, e.g. "g4"
	Label      string
	M3         float64
	Source     string
	Confidence string
}

// Meters lists the known meters. "none" is for an installation tested without
// its meter.
func Meters() []Meter {
	const src = "IGEM/UP/1B, volume of meters"
	return []Meter{
		{Code: "none", Label: "No meter in the test", M3: 0, Source: "no meter, no volume", Confidence: "H"},
		{Code: "g4", Label: "G4 or U6 diaphragm, up to 6 m3/h", M3: 0.008, Source: src, Confidence: "H"},
		{Code: "e6", Label: "E6 ultrasonic, up to 6 m3/h", M3: 0.0024, Source: src, Confidence: "M"},
		{Code: "g10", Label: "G10 or U16 diaphragm, up to 16 m3/h", M3: 0.025, Source: src, Confidence: "M"},
	}
}

// MeterByCode finds a meter; false if the code is not one of ours.
func MeterByCode(code string) (Meter, bool) {
	for _, m := range Meters() {
		if m.Code == code {
			return m, true
		}
	}
	return Meter{}, false
}

// FittingsShare is the allowance for fittings as a share of the pipe volume.
// Source: IGEM/UP/1B (H).
const FittingsShare = 0.1

// PipeRun is a length of one pipe size.
type PipeRun struct {
	Pipe    Pipe
	LengthM float64
}

// InstallationVolume is the gas held between the emergency control and the
// appliances. TotalM3 uses the tabulated pipe volumes; BoreTotalM3 the ones
// from the bore: where a band edge lies between the two the verdict is
// doubtful.
type InstallationVolume struct {
	MeterM3, PipeM3, FittingsM3, TotalM3 float64
	BoreTotalM3                          float64
}

// InstallationVolumeOf adds up meter, pipe and 10 % of the pipe for fittings.
// Runs may be empty; a length is 0 to 1000 m. Errors: *RangeError.
// Source: IGEM/UP/1B.
func InstallationVolumeOf(m Meter, runs []PipeRun) (InstallationVolume, error) {
	if err := within("volume of meter", m.M3, 0, 10, "m3"); err != nil {
		return InstallationVolume{}, err
	}
	v := InstallationVolume{MeterM3: m.M3}
	bore := 0.0
	for _, r := range runs {
		perM, err := r.Pipe.VolumeM3PerM()
		if err != nil {
			return InstallationVolume{}, err
		}
		borePerM, err := r.Pipe.BoreM3PerM()
		if err != nil {
			return InstallationVolume{}, err
		}
		if err := within("length of pipe", r.LengthM, 0, 1000, "m"); err != nil {
			return InstallationVolume{}, err
		}
		v.PipeM3 += float64(perM * r.LengthM)
		bore += float64(borePerM * r.LengthM)
	}
	v.FittingsM3 = float64(v.PipeM3 * FittingsShare)
	v.TotalM3 = v.MeterM3 + v.PipeM3 + v.FittingsM3
	v.BoreTotalM3 = v.MeterM3 + float64(bore*(1+FittingsShare))
	if err := within("installation volume", v.TotalM3, 0, 1000, "m3"); err != nil {
		return InstallationVolume{}, err
	}
	return v, nil
}

// PurgeVolumeM3 is the gas to pass when purging: a number of installation
// volumes (1 to 10, by the edition of the procedure) of an installation of 0
// to 1000 m3. Errors: *RangeError.
func PurgeVolumeM3(installationM3, volumes float64) (float64, error) {
	if err := first(withinInstallation(installationM3), within("volumes to purge", volumes, 1, 10, "")); err != nil {
		return 0, err
	}
	return volumes * installationM3, nil
}

// LeakRateM3PerHour is the leak behind a pressure drop, as m3/h at
// atmospheric pressure: volume × drop / (atmospheric pressure × time).
// Volume 0 to 1000 m3, drop 0 to 1000 mbar, time 1 to 86 400 s. Isothermal
// ideal gas: a temperature change during the test distorts it, see
// TemperatureEffectMbarPerK. Errors: *RangeError. Source: derived.
func LeakRateM3PerHour(installationM3, dropMbar, seconds float64) (float64, error) {
	if err := first(
		withinInstallation(installationM3),
		within("pressure drop", dropMbar, 0, 1000, "mbar"),
		within("test time", seconds, 1, 86400, "s"),
	); err != nil {
		return 0, err
	}
	return installationM3 * (dropMbar / ReferenceMbar) * 3600 / seconds, nil
}

// TemperatureEffectMbarPerK is how far the pressure of an enclosed gas falls
// for each kelvin that it cools, at a gauge pressure of 0 to 1000 mbar and a
// temperature of -30 to 60 °C. Errors: *RangeError. Source: ideal gas.
func TemperatureEffectMbarPerK(gaugeMbar, temperatureC float64) (float64, error) {
	if err := first(
		within("gauge pressure", gaugeMbar, 0, 1000, "mbar"),
		within("gas temperature", temperatureC, -30, 60, "°C"),
	); err != nil {
		return 0, err
	}
	return (ReferenceMbar + gaugeMbar) / (kelvinOffset + temperatureC), nil
}

func withinInstallation(m3 float64) error {
	return within("installation volume", m3, 0, 1000, "m3")
}
