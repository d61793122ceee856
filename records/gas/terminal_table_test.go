package gas_test

import (
	"slices"
	"strconv"
	"strings"
	"testing"

	"gaugebook/records/gas"

	"pgregory.net/rapid"
)

// diagram34 is the whole table by position: natural draught at 5, 7, 7.1, 14,
// 14.1, 32, 32.1 and 70 kW net, balanced and fanned at 5 and 24 kW, open and
// fanned at 24 kW; a dash where there is no general figure.
//
// Sources: Approved Document J (England) diagram 34 as tabulated by a building
// consultant, a gas fire manual and boiler manuals citing BS 5440-1; natural
// draught A to C beyond the manual's 7 to 14 kW from memory, unconfirmed.
const diagram34 = `
A   300 300 600 600 1500 1500 2000 2000       300 300    300
B   300 300 300 300 300 300 600 600           300 300    300
C   300 300 400 400 600 600 600 600           300 300    300
D   300 300 300 300 300 300 300 300           75 75      75
E   300 300 300 300 300 300 300 300           200 200    200
F   600 600 600 600 600 600 600 600           200 200    200
G   300 300 300 300 300 300 300 300           75 150     150
H   600 600 600 600 600 600 600 600           300 300    200
I   300 300 300 300 300 300 300 300           300 300    300
J   600 600 600 600 600 600 600 600           600 600    600
K   600 600 600 600 600 600 600 600           1200 1200  1200
L   1200 1200 1200 1200 1200 1200 1200 1200   1200 1200  1200
M   1200 1200 1200 1200 1200 1200 1200 1200   1500 1500  1500
N   300 300 300 300 300 300 300 300           300 300    300
O   - - - - - - - -                           - -        50
P   - - - - - - - -                           - -        -
Q   - - - - - - - -                           - -        150
KV  - - - - - - - -                           600 600    -
R   - - - - - - - -                           300 300    -
S   - - - - - - - -                           1000 1000  -
T   - - - - - - - -                           600 600    -
U   - - - - - - - -                           2000 2000  -
V   - - - - - - - -                           300 300    -
`

func TestTerminalTableCellByCell(t *testing.T) {
	columns := []struct {
		kind gas.FlueKind
		kw   float64
	}{{gas.BalancedNatural, 5}, {gas.BalancedNatural, 7}, {gas.BalancedNatural, 7.1}, {gas.BalancedNatural, 14},
		{gas.BalancedNatural, 14.1}, {gas.BalancedNatural, 32}, {gas.BalancedNatural, 32.1}, {gas.BalancedNatural, 70},
		{gas.BalancedFanned, 5}, {gas.BalancedFanned, 24}, {gas.OpenFanned, 24}}
	rows := strings.Split(strings.TrimSpace(diagram34), "\n")
	if len(rows) != len(positions()) {
		t.Errorf("%d rows here, %d positions in the table", len(rows), len(positions()))
	}
	for _, row := range rows {
		cells := strings.Fields(row)
		if len(cells) != len(columns)+1 {
			t.Fatalf("row %q has %d cells", row, len(cells))
		}
		for i, want := range cells[1:] {
			c, err := gas.TerminalClearanceOf(cells[0], columns[i].kind, columns[i].kw)
			got := "-"
			if c.Stated {
				got = strconv.FormatFloat(c.MinimumMM, 'f', -1, 64)
			}
			if err != nil || got != want {
				t.Errorf("%s, %s, %g kW: %s, want %s (%v)", cells[0], columns[i].kind, columns[i].kw, got, want, err)
			}
		}
	}
}

// For each position and kind the bands of heat input follow one another from
// below 0 to 70 kW without a gap, and a larger appliance never needs less.
func TestTerminalBandsAreContiguous(t *testing.T) {
	type key struct {
		letter string
		kind   gas.FlueKind
	}
	bands := map[key][]gas.Clearance{}
	for _, c := range gas.TerminalClearances() {
		k := key{c.Position.Letter, c.Kind}
		bands[k] = append(bands[k], c)
	}
	for k, rows := range bands {
		slices.SortFunc(rows, func(a, b gas.Clearance) int { return int(a.AboveNetKW - b.AboveNetKW) })
		if rows[0].AboveNetKW >= 0 || rows[len(rows)-1].UpToNetKW != gas.MaxTerminalNetKW {
			t.Errorf("%v: from %g to %g kW", k, rows[0].AboveNetKW, rows[len(rows)-1].UpToNetKW)
		}
		for i, c := range rows[1:] {
			if c.AboveNetKW != rows[i].UpToNetKW || c.MinimumMM < rows[i].MinimumMM {
				t.Errorf("%v: %g mm to %g kW, then %g mm from %g", k, rows[i].MinimumMM, rows[i].UpToNetKW, c.MinimumMM,
					c.AboveNetKW)
			}
		}
	}
}

// A list that is handed out may be changed without changing the table.
func TestTerminalTableIsCopied(t *testing.T) {
	list := gas.TerminalClearances()
	list[0].MinimumMM = 1
	if again := gas.TerminalClearances(); again[0].MinimumMM == 1 {
		t.Error("the table changed with the copy")
	}
}

// The areas by the rule as published, worked out here: 5 cm² for each kW above
// 7, or for each kW; the four pairs of a compartment for each kW.
func TestVentAreasByTheRule(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kw := float(t, "kw", 0, 70)
		usual, err := gas.FreeAreaForOpenFlueCm2(kw, false)
		if want := max(0, 5*(kw-7)); err != nil || !near(usual, want) {
			t.Fatalf("%g kW: %g cm², want %g (%v)", kw, usual, want, err)
		}
		airtight, err := gas.FreeAreaForOpenFlueCm2(kw, true)
		if err != nil || !near(airtight, 5*kw) || airtight < usual || airtight-usual > 35+1e-9 {
			t.Fatalf("%g kW: %g cm² airtight, %g not (%v)", kw, airtight, usual, err)
		}
		for _, c := range []struct {
			open, outside bool
			high, low     float64
		}{{true, false, 10, 20}, {true, true, 5, 10}, {false, false, 10, 10}, {false, true, 5, 5}} {
			area, err := gas.CompartmentAreaOf(c.open, c.outside, kw)
			if err != nil || !near(area.HighCm2, c.high*kw) || !near(area.LowCm2, c.low*kw) {
				t.Fatalf("open %v, outside %v, %g kW: %+v (%v)", c.open, c.outside, kw, area, err)
			}
			if area.Per.OpenFlued != c.open || area.Per.ToOutside != c.outside || area.Per.Source == "" {
				t.Fatalf("open %v, outside %v: row %+v", c.open, c.outside, area.Per)
			}
		}
	})
}

// Openings straight outdoors are half of those into a room, and an open flue
// never needs less than a room-sealed one.
func TestCompartmentsCompare(t *testing.T) {
	for _, kw := range []float64{0.1, 7, 24, 70} {
		for _, open := range []bool{true, false} {
			room, _ := gas.CompartmentAreaOf(open, false, kw)
			out, _ := gas.CompartmentAreaOf(open, true, kw)
			if room.HighCm2 != 2*out.HighCm2 || room.LowCm2 != 2*out.LowCm2 {
				t.Errorf("open %v, %g kW: into a room %+v, outdoors %+v", open, kw, room, out)
			}
		}
		for _, outside := range []bool{true, false} {
			open, _ := gas.CompartmentAreaOf(true, outside, kw)
			sealed, _ := gas.CompartmentAreaOf(false, outside, kw)
			if open.HighCm2 < sealed.HighCm2 || open.LowCm2 <= sealed.LowCm2 {
				t.Errorf("outside %v, %g kW: open %+v, sealed %+v", outside, kw, open, sealed)
			}
		}
	}
}

// A bend counts as its stated length wherever it stands in the list.
func TestFlueLengthAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		route := float(t, "route", 0, 30)
		bends := make([]gas.FlueBend, rapid.IntRange(0, 5).Draw(t, "bends"))
		want := route
		for i := range bends {
			bends[i] = gas.FlueBend{Count: float64(rapid.IntRange(0, 6).Draw(t, "count")),
				EquivalentM: float(t, "each", 0, 3)}
			want += bends[i].Count * bends[i].EquivalentM
		}
		total, err := gas.EquivalentFlueLengthM(route, bends)
		if err != nil || !near(total, want) {
			t.Fatalf("%g m, want %g (%v)", total, want, err)
		}
		slices.Reverse(bends)
		if again, err := gas.EquivalentFlueLengthM(route, bends); err != nil || !near(again, total) {
			t.Fatalf("%g m, backwards %g (%v)", total, again, err)
		}
	})
}
