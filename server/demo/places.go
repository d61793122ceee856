package demo

import "gaugebook/records"

var firm = records.Firm{
	Name:         "Fernlow Heating",
	Address:      "Unit 4, Tolland Yard, Marrowby, AA1 4TY",
	Phone:        "01632 960100",
	Email:        "office@fernlow.example",
	Registration: "990117",
}

// place is one property with whoever is written to.
type place struct {
	line1, line2, town, postcode string
	nation                       records.Nation
	name, email, phone           string
	tenure                       records.Tenure
	address                      string // of a landlord or agent
}

const (
	eng = records.England
	wal = records.Wales
	sco = records.Scotland
	nir = records.NorthernIreland
	own = records.OwnerOccupier
	let = records.Landlord
	ten = records.Tenant
	agt = records.Agent
)

// places: at least ten in each nation. Landlords with several properties are
// one contact named several times.
var places = []place{
	{"3 Quillet Row", "", "Marrowby", "AA1 1QR", eng, "Ottoline Varne", "o.varne@home.example", "01632 960211", own, ""},
	{"18 Saltpan Lane", "", "Marrowby", "AA1 2SL", eng, "Bertil Ashgrove", "bertil@ashgrove.example", "01632 960212", own, ""},
	{"Flat 2, 41 Corder Street", "", "Marrowby", "AA1 3DS", eng, "Hestia Lettings", "repairs@hestia-lettings.example", "01632 960213", agt, "9 Merchant Stairs, Marrowby, AA1 1NS"},
	{"Flat 5, 41 Corder Street", "", "Marrowby", "AA1 3DS", eng, "Hestia Lettings", "repairs@hestia-lettings.example", "01632 960213", agt, "9 Merchant Stairs, Marrowby, AA1 1NS"},
	{"27 Tinder Hill", "", "Upper Marrowby", "AA2 5TH", eng, "Małgorzata Żurawska", "m.zurawska@home.example", "01632 960214", own, ""},
	{"The Old Pump House", "Ryecote Green", "Skelby", "AA3 7RG", eng, "Lucan Thripp", "thripp@pumphouse.example", "01632 960215", own, ""},
	{"9 Whin Close", "", "Skelby", "AA3 1WD", eng, "Dorrit Maskell", "", "01632 960216", own, ""},
	{"62 Lantern Road", "", "Skelby", "AA3 2LR", eng, "Ingram Pollard", "i.pollard@rents.example", "01632 960217", let, "11 Abbot’s Walk, Skelby, AA3 4AW"},
	{"64 Lantern Road", "", "Skelby", "AA3 2LR", eng, "Ingram Pollard", "i.pollard@rents.example", "01632 960217", let, "11 Abbot’s Walk, Skelby, AA3 4AW"},
	{"1 Fuller’s Court", "", "Haxley", "AA4 9FD", eng, "Priya Devnath", "priya@devnath.example", "01632 960218", own, ""},
	{"14 Orrery Gardens", "", "Haxley", "AA4 6RG", eng, "Theodora Kalliri", "t.kalliri@home.example", "01632 960219", own, ""},
	{"Coldharbour Farm", "Ryecote", "Skelby", "AA3 8DF", eng, "Wilfred Garrowby", "farm@coldharbour.example", "01632 960220", own, ""},
	{"5 Heol y Dderwen", "", "Llanferth", "WX1 1HD", wal, "Gwenllian Prys", "g.prys@home.example", "01632 960231", own, ""},
	{"22 Stryd y Bont", "", "Llanferth", "WX1 2SB", wal, "Emrys Tŷ Gwyn", "emrys@tygwyn.example", "01632 960232", own, ""},
	{"Bryn Awel", "Ffordd y Mynydd", "Cwmdarren", "WX2 4FN", wal, "Nesta Howell", "n.howell@home.example", "01632 960233", own, ""},
	{"7 Maes y Felin", "", "Cwmdarren", "WX2 5NF", wal, "Rhodri Caradog", "rents@caradog.example", "01632 960234", let, "2 Rhes y Capel, Cwmdarren, WX2 1RD"},
	{"8 Maes y Felin", "", "Cwmdarren", "WX2 5NF", wal, "Rhodri Caradog", "rents@caradog.example", "01632 960234", let, "2 Rhes y Capel, Cwmdarren, WX2 1RD"},
	{"Yr Hen Ysgol", "Llanferth Isaf", "Llanferth", "WX1 9YS", wal, "Ceinwen Ŵyn", "c.wyn@home.example", "01632 960235", own, ""},
	{"30 Teras y Rheilffordd", "", "Aberdwyrain", "WX3 3TR", wal, "Ianto Breese", "", "01632 960236", own, ""},
	{"12 Rhodfa’r Môr", "", "Aberdwyrain", "WX3 1RN", wal, "Lowri Seaton", "lowri@seaton.example", "01632 960237", own, ""},
	{"Fflat 1, 4 Sgwâr y Farchnad", "", "Aberdwyrain", "WX3 2SF", wal, "Marchnad Lettings", "tai@marchnad.example", "01632 960238", agt, "6 Sgwâr y Farchnad, Aberdwyrain, WX3 2SF"},
	{"Tyddyn Uchaf", "Nant y Garreg", "Cwmdarren", "WX2 8NG", wal, "Tegid Rowlands", "tegid@tyddyn.example", "01632 960239", own, ""},
	{"11 Kirk Brae", "", "Dunferrick", "SX1 1LB", sco, "Eilidh Torrance", "e.torrance@home.example", "01632 960251", own, ""},
	{"2F1, 37 Provost Terrace", "", "Dunferrick", "SX1 4PT", sco, "Torrance Residential", "keys@torrance-res.example", "01632 960252", agt, "3 Weighhouse Close, Dunferrick, SX1 1WD"},
	{"1F2, 37 Provost Terrace", "", "Dunferrick", "SX1 4PT", sco, "Torrance Residential", "keys@torrance-res.example", "01632 960252", agt, "3 Weighhouse Close, Dunferrick, SX1 1WD"},
	{"Taigh na Coille", "Strathmorven", "Balnacraig", "SX7 9TD", sco, "Mòrag NicIlleathain", "morag@coille.example", "01632 960253", own, ""},
	{"5 Shielhill Crescent", "", "Balnacraig", "SX7 2SD", sco, "Fergus Auchter", "f.auchter@home.example", "01632 960254", own, ""},
	{"16 Harbour Wynd", "", "Portlennan", "SX4 3HW", sco, "Isla Rendall", "isla@rendall.example", "01632 960255", own, ""},
	{"The Smiddy", "Mill of Gellan", "Balnacraig", "SX7 5NG", sco, "Callum Strang", "smiddy@gellan.example", "01632 960256", own, ""},
	{"48 Linden Avenue", "", "Dunferrick", "SX1 7LA", sco, "Agnieszka Wróbel", "a.wrobel@home.example", "01632 960257", own, ""},
	{"9 Shore Street", "", "Portlennan", "SX4 1SS", sco, "Davina Mouat", "", "01632 960258", ten, ""},
	{"21 Cairnhill Drive", "", "Dunferrick", "SX1 9DD", sco, "Ruaraidh Beith", "r.beith@home.example", "01632 960259", own, ""},
	{"Balvraid Lodge", "Glen Arrow", "Balnacraig", "SX7 8GA", sco, "Ailsa Cumine", "lodge@balvraid.example", "01632 960260", own, ""},
	{"4 Dulse Road", "", "Carrickmoyle", "NX1 1DR", nir, "Aoife Hanratty", "aoife@hanratty.example", "01632 960271", own, ""},
	{"15 Lisnagar Park", "", "Carrickmoyle", "NX1 5LP", nir, "Eoin McGarrity", "e.mcgarrity@home.example", "01632 960272", own, ""},
	{"33 Ballyroe Avenue", "", "Drumlester", "NX2 3BA", nir, "Sperrin Homes", "lets@sperrin-homes.example", "01632 960273", let, "1 Custom House Lane, Drumlester, NX2 1DH"},
	{"35 Ballyroe Avenue", "", "Drumlester", "NX2 3BA", nir, "Sperrin Homes", "lets@sperrin-homes.example", "01632 960273", let, "1 Custom House Lane, Drumlester, NX2 1DH"},
	{"The Coach House", "Tullynure Demesne", "Drumlester", "NX2 9TD", nir, "Rosalind Eccles", "coach@tullynure.example", "01632 960274", own, ""},
	{"7 Mill Race", "", "Drumlester", "NX2 2NR", nir, "Conall Devenny", "conall@devenny.example", "01632 960275", own, ""},
	{"26 Strand View", "", "Portdoran", "NX3 4SW", nir, "Hyacinth Boal", "h.boal@home.example", "01632 960276", own, ""},
	{"Apartment 12, Quay House", "Slip Street", "Portdoran", "NX3 1SQ", nir, "Quayside Letting", "team@quayside.example", "01632 960277", agt, "5 Slip Street, Portdoran, NX3 1SQ"},
	{"Apartment 14, Quay House", "Slip Street", "Portdoran", "NX3 1SQ", nir, "Quayside Letting", "team@quayside.example", "01632 960277", agt, "5 Slip Street, Portdoran, NX3 1SQ"},
	{"Knockbreda Cottage", "Derrylane", "Carrickmoyle", "NX1 8DL", nir, "Sorcha Kinney", "sorcha@derrylane.example", "01632 960278", own, ""},
	{"2 Chandler’s Steps", "", "Portdoran", "NX3 2DS", nir, "Magnus Tully", "", "01632 960279", own, ""},
}
