package demo

import (
	"gaugebook/records"
	"gaugebook/records/store"
)

// crew is everybody who signs in. Competence dates are months from today, so
// that one is near its end whenever the register is made.
var crew = []struct {
	name, email, licence string
	role                 store.Role
	competenceMonths     int
}{
	{"Marguerite Fernlow", "owner@fernlow.example", "9901170", store.Owner, 40},
	{"Silas Oakhampton", "office@fernlow.example", "", store.Office, 0},
	{"Anwen Tresillian", "anwen@fernlow.example", "9901171", store.Engineer, 27},
	{"Dougal Pennefather", "dougal@fernlow.example", "9901172", store.Engineer, 44},
	{"Roisin Calloway", "roisin@fernlow.example", "9901173", store.Engineer, 2},
}

// kit is the firm's instruments, with the months since the last calibration.
// They are calibrated yearly; earlier visits used them as they were then.
var kit = []struct {
	in     records.Instrument
	months int
}{
	{records.Instrument{ID: "gauge-a", Kind: "gauge", Make: "Whitlow", Model: "DM 30", Serial: "WD30-01877"}, 3},
	{records.Instrument{ID: "gauge-b", Kind: "gauge", Make: "Whitlow", Model: "DM 30", Serial: "WD30-02240"}, 11},
	{records.Instrument{ID: "analyser-a", Kind: "analyser", Make: "Emberline", Model: "FX 2", Serial: "EF2-55120"}, 5},
	{records.Instrument{ID: "analyser-b", Kind: "analyser", Make: "Emberline", Model: "FX 2", Serial: "EF2-55391"}, 8},
	{records.Instrument{ID: "thermo-a", Kind: "thermometer", Make: "Sallow", Model: "K2", Serial: "SK2-7781"}, 6},
}

// model is one appliance of the demo trade.
type model struct {
	kind, make, name, location string
	fuel                       string
	netKW, outputKW            float64
	condensing                 bool
	flue                       string
	co2Low, co2High            string // stated for maximum rate; blank: not stated
	minLow, minHigh            string
	flueMaxM                   string
}

var models = []model{
	{records.KindCombination, "Tarnwell", "Arc 24", "Kitchen", records.FuelNatural, 24.7, 24.2, true, records.FlueSealedFanned, "8.7", "9.7", "8.2", "9.2", "10"},
	{records.KindCombination, "Tarnwell", "Arc 30", "Utility room", records.FuelNatural, 30.4, 29.8, true, records.FlueSealedFanned, "8.7", "9.7", "8.2", "9.2", "10"},
	{records.KindSystem, "Calderfen", "Sluice 18", "Airing cupboard", records.FuelNatural, 18.4, 18.0, true, records.FlueSealedFanned, "8.6", "9.6", "8.2", "9.2", "12"},
	{records.KindCombination, "Ostley", "Vane 28", "Loft", records.FuelNatural, 28.6, 28.0, true, records.FlueSealedFanned, "8.6", "9.8", "8.2", "9.4", "8"},
	{records.KindRegular, "Calderfen", "Sluice H15", "Garage", records.FuelNatural, 15.3, 15.0, true, records.FlueSealedFanned, "8.6", "9.6", "8.2", "9.2", "12"},
	{records.KindCombination, "Ostley", "Vane 28 P", "Boot room", records.FuelPropane, 28.6, 28.0, true, records.FlueSealedFanned, "10.2", "11.4", "9.8", "11.0", "8"},
	{records.KindFire, "Brindlow", "Hearthlight 5", "Living room", records.FuelNatural, 5.4, 4.1, false, records.FlueOpenNatural, "", "", "", "", ""},
	{records.KindWaterHeater, "Ostley", "Rill 17", "Bathroom lobby", records.FuelNatural, 19.2, 17.0, false, records.FlueSealedFanned, "", "", "", "", "5"},
	{records.KindSpaceHeater, "Brindlow", "Glow 2", "Conservatory", records.FuelNatural, 2.1, 2.1, false, records.FlueNone, "", "", "", "", ""},
	{records.KindRange, "Hobrigg", "Fell 90", "Kitchen", records.FuelNatural, 9.8, 7.4, false, records.FlueOpenFanned, "", "", "", "", "6"},
}
