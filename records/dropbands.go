package records

import (
	"fmt"
	"slices"
)

// DropBand is one band of permissible drop by installation volume.
type DropBand struct {
	UpToM3   float64 `json:"up_to_m3"`
	DropMbar float64 `json:"drop_mbar"`
}

// DropBands is the permissible-drop table of a dated edition, entered by the
// owner from the firm's own copy of the standard. The tool ships none.
type DropBands struct {
	Edition   string     `json:"edition"`
	Fuel      string     `json:"fuel"`
	Clause    string     `json:"clause"` // where it stands in the firm's copy
	EnteredBy string     `json:"entered_by"`
	EnteredOn Date       `json:"entered_on"`
	Bands     []DropBand `json:"bands"` // volumes ascending
}

// OwnersTable is an edition and a fuel for which a rule reads the owner's
// table.
type OwnersTable struct{ Edition, Fuel string }

// OwnersTables lists every table that a rule reads, by the editions. A table
// that is not listed is neither offered nor accepted: nobody would know that it
// decides nothing.
var OwnersTables = func() []OwnersTable {
	var out []OwnersTable
	for _, e := range TightnessEditions {
		for _, fuel := range e.OwnerDrops {
			out = append(out, OwnersTable{e.Code, fuel})
		}
	}
	return out
}()

// What a band may hold. These bounds are the only ones: the form, the check
// and the rules all use them.
//
// Volume: both editions of IGEM/UP/1B end at 0.035 m³. Drop: 8 mbar is the
// largest permissible drop that edition 3 gave for any meter (IGEM/UP/1B,
// edition 3, table for no meter or an ultrasonic one); ten times a real figure
// lies beyond it.
var (
	BandVolumeM3 = number("bands.up_to_m3", "Volume up to", "m³", 0, 0.035, 6)
	BandDropMbar = number("bands.drop_mbar", "Drop at most", "mbar", 0, 8, 3).
			hint("8 mbar is the most that edition 3 allowed. Where your copy gives more, enter 8.")
)

// MaxBands is the most bands that a table may have.
const MaxBands = 50

// Used reports whether a rule reads the table.
func (b DropBands) Used() bool {
	return slices.Contains(OwnersTables, OwnersTable{b.Edition, b.Fuel})
}

// Checked returns the table tidied up, or every error in it: an edition and a
// fuel that a rule reads, the clause, who entered it, and bands whose volumes
// rise and whose drops do not.
func (b DropBands) Checked() (DropBands, error) {
	var c check
	var editions, fuels []string
	for _, t := range OwnersTables {
		editions = append(editions, t.Edition)
		if t.Edition == b.Edition {
			fuels = append(fuels, t.Fuel)
		}
	}
	oneOf(&c, "edition", "Edition", b.Edition, editions)
	if fuels != nil {
		oneOf(&c, "fuel", "Fuel", b.Fuel, fuels)
	}
	b.Clause = c.line("clause", "Clause in your copy", b.Clause, 1, maxTold)
	b.EnteredBy = c.line("entered_by", "Entered by", b.EnteredBy, 1, maxName)
	if n := len(b.Bands); n == 0 || n > MaxBands {
		c.add("bands", "Bands", fmt.Sprintf("%d bands", n), fmt.Sprintf("1 to %d bands", MaxBands))
	}
	for i, band := range b.Bands {
		volumeOK := c.band(i, BandVolumeM3, band.UpToM3)
		dropOK := c.band(i, BandDropMbar, band.DropMbar)
		before := DropBand{DropMbar: BandDropMbar.Max}
		if i > 0 {
			before = b.Bands[i-1]
		}
		if volumeOK && band.UpToM3 <= before.UpToM3 {
			c.addBand(i, BandVolumeM3, band.UpToM3, "the bands are not in order of volume",
				"more than "+FormatNumber(before.UpToM3, -1)+" m³")
		}
		if dropOK && band.DropMbar > before.DropMbar {
			c.addBand(i, BandDropMbar, band.DropMbar, "a larger volume is not allowed a larger drop",
				"at most "+FormatNumber(before.DropMbar, -1)+" mbar, as in the band before")
		}
	}
	return b, c.err()
}

// band reads a figure as the form reads it.
func (c *check) band(i int, f NumberField, v float64) bool {
	_, err := f.Parse(FormatNumber(v, -1))
	if err != nil {
		e := err.(*Error)
		c.addBand(i, f, v, e.Msg, e.Want)
	}
	return err == nil
}

func (c *check) addBand(i int, f NumberField, v float64, msg, want string) {
	c.errs = append(c.errs, &Error{Kind: Invalid, Field: fmt.Sprintf("bands[%d].%s", i, f.Name()),
		Label: fmt.Sprintf("Band %d, %s", i+1, LowerFirst(f.Label)), Value: FormatNumber(v, -1), Msg: msg, Want: want})
}
