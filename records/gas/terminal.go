package gas

// FlueKind is how a flue draws and where its air comes from.
type FlueKind string

// Flue kinds of the terminal table.
const (
	BalancedNatural FlueKind = "balanced-natural" // room-sealed, natural draught
	BalancedFanned  FlueKind = "balanced-fanned"  // room-sealed, fan
	OpenFanned      FlueKind = "open-fanned"      // air from the room, fan
)

// TerminalPosition is one place where a terminal may come near something. The
// letters are those of the diagram in the building regulations guidance; the
// names are our own words.
type TerminalPosition struct {
	Letter string
	Name   string
}

// terminalPositions are in the order of their letters. R to V are the extras
// for flues that leave through a roof or run along a boundary.
var terminalPositions = []TerminalPosition{
	{"A", "straight below an opening window, air brick or other opening"},
	{"B", "above an opening"},
	{"C", "to the side of an opening"},
	{"D", "under a gutter, soil pipe or drain pipe"},
	{"E", "under the eaves"},
	{"F", "under a balcony or car port roof"},
	{"G", "to the side of an upright drain or soil pipe"},
	{"H", "from a corner of the wall, or a boundary alongside"},
	{"I", "above the ground, a roof or a balcony floor"},
	{"J", "from a surface or boundary that it faces"},
	{"K", "from a terminal that it faces"},
	{"L", "from a car port opening that leads into the building"},
	{"M", "above or below another terminal on the same wall"},
	{"N", "beside another terminal on the same wall"},
	{"O", "out from the wall that it is fixed to"},
	{"P", "from an upright structure on the roof"},
	{"Q", "above the point where it leaves the roof"},
	{"KV", "roof terminal from another roof terminal"},
	{"R", "roof terminal from a wall beside it"},
	{"S", "roof terminal from an opening window in a wall beside it"},
	{"T", "roof terminal to the side of a window in the roof"},
	{"U", "roof terminal below a window in a pitched roof"},
	{"V", "terminal whose discharge runs along a boundary"},
}

// Clearance is the least distance of a terminal in one position. Where Stated
// is false there is no generic figure and Note says why; MinimumMM is then 0
// and must not be judged against.
type Clearance struct {
	Position   TerminalPosition
	Kind       FlueKind
	Stated     bool
	MinimumMM  float64
	AboveNetKW float64 // the figure holds above this net heat input ...
	UpToNetKW  float64 // ... and up to this one
	Note       string
	Source     string
	Confidence string // H, M or L
}

// MaxTerminalNetKW is the largest net heat input that the table covers.
const MaxTerminalNetKW = 70.0

const (
	terminalSource = "Approved Document J (England) diagram 34; BS 5440-1"
	roofSource     = "BS 5440-1, as tabulated in boiler makers' instructions"
	notForThisKind = "no generic figure for this kind of flue: manufacturer's instructions or BS 5440-1"
)

// fixed is a figure that does not depend on heat input; 0 means not stated.
func fixed(letter string, kind FlueKind, mm float64, confidence string) Clearance {
	c := band(letter, kind, -1, MaxTerminalNetKW, mm, confidence)
	if mm == 0 {
		c.Stated, c.Note = false, notForThisKind
	}
	return c
}

func band(letter string, kind FlueKind, above, upTo, mm float64, confidence string) Clearance {
	return Clearance{
		Position: TerminalPosition{Letter: letter}, Kind: kind, Stated: true, MinimumMM: mm,
		AboveNetKW: above, UpToNetKW: upTo, Source: terminalSource, Confidence: confidence,
	}
}

// naturalBands are the positions whose distance grows with heat input.
func naturalBands() []Clearance {
	const k, top = BalancedNatural, MaxTerminalNetKW
	return []Clearance{
		band("A", k, -1, 7, 300, "M"), band("A", k, 7, 14, 600, "M"),
		band("A", k, 14, 32, 1500, "M"), band("A", k, 32, top, 2000, "M"),
		band("B", k, -1, 32, 300, "M"), band("B", k, 32, top, 600, "M"),
		band("C", k, -1, 7, 300, "M"), band("C", k, 7, 14, 400, "M"), band("C", k, 14, top, 600, "M"),
	}
}

// wallRows are the positions with one figure each per kind of flue.
func wallRows() []Clearance {
	rows := []struct {
		letter                        string
		natural, fanned, open         float64
		confNatural, confFan, confOpn string
	}{
		{letter: "D", natural: 300, fanned: 75, open: 75, confNatural: "H", confFan: "H", confOpn: "H"},
		{letter: "E", natural: 300, fanned: 200, open: 200, confNatural: "H", confFan: "H", confOpn: "H"},
		{letter: "F", natural: 600, fanned: 200, open: 200, confNatural: "H", confFan: "H", confOpn: "H"},
		{letter: "H", natural: 600, fanned: 300, open: 200, confNatural: "H", confFan: "H", confOpn: "H"},
		{letter: "I", natural: 300, fanned: 300, open: 300, confNatural: "H", confFan: "H", confOpn: "H"},
		{letter: "J", natural: 600, fanned: 600, open: 600, confNatural: "H", confFan: "H", confOpn: "H"},
		{letter: "K", natural: 600, fanned: 1200, open: 1200, confNatural: "H", confFan: "H", confOpn: "H"},
		{letter: "L", natural: 1200, fanned: 1200, open: 1200, confNatural: "H", confFan: "H", confOpn: "H"},
		{letter: "M", natural: 1200, fanned: 1500, open: 1500, confNatural: "M", confFan: "H", confOpn: "H"},
		{letter: "N", natural: 300, fanned: 300, open: 300, confNatural: "H", confFan: "H", confOpn: "H"},
		{letter: "O", natural: 0, fanned: 0, open: 50, confNatural: "H", confFan: "H", confOpn: "L"},
		{letter: "P", natural: 0, fanned: 0, open: 0, confNatural: "H", confFan: "H", confOpn: "H"},
		{letter: "Q", natural: 0, fanned: 0, open: 150, confNatural: "H", confFan: "M", confOpn: "L"},
	}
	var out []Clearance
	for _, r := range rows {
		out = append(out,
			fixed(r.letter, BalancedNatural, r.natural, r.confNatural),
			fixed(r.letter, BalancedFanned, r.fanned, r.confFan),
			fixed(r.letter, OpenFanned, r.open, r.confOpn))
	}
	return out
}

// roofRows are the extras that boiler makers tabulate for fanned flues.
func roofRows() []Clearance {
	rows := []struct {
		letter string
		mm     float64
	}{{"KV", 600}, {"R", 300}, {"S", 1000}, {"T", 600}, {"U", 2000}, {"V", 300}}
	var out []Clearance
	for _, r := range rows {
		c := fixed(r.letter, BalancedFanned, r.mm, "H")
		c.Source = roofSource
		out = append(out, c)
	}
	return out
}

// TerminalClearances lists every row of the table, for display.
func TerminalClearances() []Clearance {
	return append([]Clearance(nil), terminalClearances...)
}

// terminalClearances is put together once: a record asks for many rows.
var terminalClearances = buildClearances()

func buildClearances() []Clearance {
	rows := naturalBands()
	for _, letter := range []string{"A", "B", "C"} {
		rows = append(rows, fixed(letter, BalancedFanned, 300, "H"), fixed(letter, OpenFanned, 300, "H"))
	}
	rows = append(rows,
		fixed("G", BalancedNatural, 300, "H"),
		band("G", BalancedFanned, -1, 5, 75, "H"), band("G", BalancedFanned, 5, MaxTerminalNetKW, 150, "H"),
		fixed("G", OpenFanned, 150, "H"))
	rows = append(rows, wallRows()...)
	rows = append(rows, roofRows()...)
	names := map[string]string{}
	for _, p := range terminalPositions {
		names[p.Letter] = p.Name
	}
	for i := range rows {
		rows[i].Position.Name = names[rows[i].Position.Letter]
		if rows[i].Position.Letter == "M" && rows[i].Kind == BalancedNatural {
			rows[i].Note = "one tabulation gives 1500 mm"
		}
	}
	return rows
}

// TerminalClearanceOf is the least distance for a position, a kind of flue and
// a net heat input of 0 to 70 kW. For a pair that the table does not hold the
// result has Stated false. Errors: a *RangeError for the heat input.
// The manufacturer's instructions come first; natural-draught open flues
// must not use wall positions at all.
func TerminalClearanceOf(letter string, kind FlueKind, netKW float64) (Clearance, error) {
	if err := within("net heat input", netKW, 0, MaxTerminalNetKW, "kW"); err != nil {
		return Clearance{}, err
	}
	for _, c := range terminalClearances {
		if c.Position.Letter == letter && c.Kind == kind && netKW > c.AboveNetKW && netKW <= c.UpToNetKW {
			return c, nil
		}
	}
	position := TerminalPosition{Letter: letter}
	for _, p := range terminalPositions {
		if p.Letter == letter {
			position = p
		}
	}
	return Clearance{
		Position: position, Kind: kind, Note: notForThisKind,
		Source: terminalSource, Confidence: "M",
	}, nil
}
