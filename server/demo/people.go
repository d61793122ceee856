package demo

import (
	"gaugebook/records"
)

// crew is everybody who signs in. Competence dates are months from today, so
// that one is near its end whenever the register is made.
var crew = []struct {
	name, email, licence string
	role                 records.Role
	competenceMonths     int
}{
	{name: "Marguerite Fernlow", email: "owner@fernlow.example", licence: "9901170", role: records.RoleOwner,
		competenceMonths: 40},
	{name: "Silas Oakhampton", email: "office@fernlow.example", licence: "", role: records.RoleOffice,
		competenceMonths: 0},
	{name: "Anwen Tresillian", email: "anwen@fernlow.example", licence: "9901171", role: records.RoleEngineer,
		competenceMonths: 27},
	{name: "Dougal Pennefather", email: "dougal@fernlow.example", licence: "9901172", role: records.RoleEngineer,
		competenceMonths: 44},
	{name: "Roisin Calloway", email: "roisin@fernlow.example", licence: "9901173", role: records.RoleEngineer,
		competenceMonths: 2},
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
	{kind: records.KindCombination, make: "Tarnwell", name: "Arc 24", location: "Kitchen", fuel: records.FuelNatural,
		netKW: 24.7, outputKW: 24.2, condensing: true,
		flue: records.FlueSealedFanned, co2Low: "8.7", co2High: "9.7", minLow: "8.2", minHigh: "9.2", flueMaxM: "10"},
	{kind: records.KindCombination, make: "Tarnwell", name: "Arc 30", location: "Utility room",
		fuel: records.FuelNatural, netKW: 30.4, outputKW: 29.8, condensing: true,
		flue: records.FlueSealedFanned, co2Low: "8.7", co2High: "9.7", minLow: "8.2", minHigh: "9.2", flueMaxM: "10"},
	{kind: records.KindSystem, make: "Calderfen", name: "Sluice 18", location: "Airing cupboard",
		fuel: records.FuelNatural, netKW: 18.4, outputKW: 18.0, condensing: true,
		flue: records.FlueSealedFanned, co2Low: "8.6", co2High: "9.6", minLow: "8.2", minHigh: "9.2", flueMaxM: "12"},
	{kind: records.KindCombination, make: "Ostley", name: "Vane 28", location: "Loft", fuel: records.FuelNatural,
		netKW: 28.6, outputKW: 28.0, condensing: true,
		flue: records.FlueSealedFanned, co2Low: "8.6", co2High: "9.8", minLow: "8.2", minHigh: "9.4", flueMaxM: "8"},
	{kind: records.KindRegular, make: "Calderfen", name: "Sluice H15", location: "Garage", fuel: records.FuelNatural,
		netKW: 15.3, outputKW: 15.0, condensing: true,
		flue: records.FlueSealedFanned, co2Low: "8.6", co2High: "9.6", minLow: "8.2", minHigh: "9.2", flueMaxM: "12"},
	{kind: records.KindCombination, make: "Ostley", name: "Vane 28 P", location: "Boot room",
		fuel: records.FuelPropane, netKW: 28.6, outputKW: 28.0, condensing: true,
		flue: records.FlueSealedFanned, co2Low: "10.2", co2High: "11.4", minLow: "9.8", minHigh: "11.0", flueMaxM: "8"},
	{kind: records.KindFire, make: "Brindlow", name: "Hearthlight 5", location: "Living room",
		fuel: records.FuelNatural, netKW: 5.4, outputKW: 4.1, condensing: false,
		flue: records.FlueOpenNatural, co2Low: "", co2High: "", minLow: "", minHigh: "", flueMaxM: ""},
	{kind: records.KindWaterHeater, make: "Ostley", name: "Rill 17", location: "Bathroom lobby",
		fuel: records.FuelNatural, netKW: 19.2, outputKW: 17.0, condensing: false,
		flue: records.FlueSealedFanned, co2Low: "", co2High: "", minLow: "", minHigh: "", flueMaxM: "5"},
	{kind: records.KindSpaceHeater, make: "Brindlow", name: "Glow 2", location: "Conservatory",
		fuel: records.FuelNatural, netKW: 2.1, outputKW: 2.1, condensing: false,
		flue: records.FlueNone, co2Low: "", co2High: "", minLow: "", minHigh: "", flueMaxM: ""},
	{kind: records.KindRange, make: "Hobrigg", name: "Fell 90", location: "Kitchen", fuel: records.FuelNatural,
		netKW: 9.8, outputKW: 7.4, condensing: false, flue: records.FlueOpenFanned,
		co2Low: "", co2High: "", minLow: "", minHigh: "", flueMaxM: "6"},
}
