package owner

import (
	"errors"
	"fmt"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// DropBands is the permissible drops.
type DropBands struct{ *web.Kit }

type dropBandsPage struct {
	web.Base
	Tables []dropTable
	Form   web.Form
	Hint   string // about the largest drop
	Bands  []bandForm
}

type dropTable struct {
	Edition, Fuel, Clause, By, On string
	Problem                       string // why no rule uses it, or ""
	Bands                         []bandForm
}

type bandForm struct {
	N                                    int
	Volume, Drop, VolumeError, DropError string
}

// blankBands is how many bands the form has room for.
const blankBands = 8

func dropBandsForm() web.Form {
	edition := web.Select("edition", "Edition", []string{}, "Choose").Must()
	fuel := web.Select("fuel", "Fuel", []string{}, "Choose").Must()
	for _, t := range records.OwnersTables {
		edition.Offer(t.Edition, records.TightnessEdition.ChoiceLabel(t.Edition))
		fuel.Offer(t.Fuel, records.ApplianceFuel.ChoiceLabel(t.Fuel))
	}
	return web.Form{Action: "/drop-bands", Button: "Save the table", Inputs: []*web.Input{
		edition, fuel, web.TextInput("clause", "Clause in your copy",
			120).Must().Hinted("Clause and table number."),
	}}
}

func (d DropBands) show(c echo.Context, status int, form web.Form, bands []bandForm) error {
	tables, err := d.Store.Settings.DropBands(c.Request().Context())
	if err != nil {
		return err
	}
	data := dropBandsPage{Base: d.Base(c, "Permissible drops"), Form: form,
		Hint: records.BandDropMbar.Hint, Bands: bands}
	for _, t := range tables {
		table := dropTable{Edition: records.TightnessEdition.ChoiceLabel(t.Edition),
			Fuel:   records.ApplianceFuel.ChoiceLabel(t.Fuel),
			Clause: t.Clause, By: t.EnteredBy, On: t.EnteredOn.Long()}
		if _, err := t.Checked(); err != nil {
			table.Problem = err.Error()
		}
		for _, b := range t.Bands {
			table.Bands = append(table.Bands, bandForm{Volume: records.FormatNumber(b.UpToM3, -1),
				Drop: records.FormatNumber(b.DropMbar, -1)})
		}
		data.Tables = append(data.Tables, table)
	}
	for len(data.Bands) < blankBands {
		data.Bands = append(data.Bands, bandForm{})
	}
	for i := range data.Bands {
		data.Bands[i].N = i + 1
	}
	return d.Page(c, status, "drop-bands", data)
}

func (d DropBands) Show(c echo.Context) error {
	return d.show(c, web.OK, dropBandsForm(), nil)
}

// readBands reads the posted bands; blank ones are left out. ok is
// false when one could not be read.
func readBands(v url.Values) (forms []bandForm, bands []records.DropBand, ok bool) {
	volumes, drops := v["volume"], v["drop"]
	ok = true
	for i := range min(len(volumes), len(drops), records.MaxBands) {
		if strings.TrimSpace(volumes[i]+drops[i]) == "" {
			continue
		}
		f := bandForm{Volume: volumes[i], Drop: drops[i]}
		band := records.DropBand{}
		read := func(field records.NumberField, entry string, wrong *string) float64 {
			value, err := field.Parse(entry)
			if err == nil && !value.Present() {
				err = &records.Error{Kind: records.Invalid, Label: field.Label, Want: field.Accepts()}
			}
			if err != nil {
				*wrong, ok = err.Error(), false
			}
			r, _ := value.Reading()
			return r.Value
		}
		band.UpToM3 = read(records.BandVolumeM3, f.Volume, &f.VolumeError)
		band.DropMbar = read(records.BandDropMbar, f.Drop, &f.DropError)
		forms, bands = append(forms, f), append(bands, band)
	}
	return forms, bands, ok
}

func (d DropBands) Save(c echo.Context) error {
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	forms, bands, ok := readBands(posted)
	if ok {
		p := web.Person(c)
		err = d.Store.Settings.SaveDropBands(c.Request().Context(), web.ActorOf(c),
			records.DropBands{Edition: posted.Get("edition"), Fuel: posted.Get("fuel"),
				Clause: posted.Get("clause"), EnteredBy: p.Name, EnteredOn: d.App.Today(), Bands: bands})
		if err == nil {
			d.Flash(c, "Saved. Drops with appliances connected are checked against this table from now on.")
			return web.Redirect(c, "/drop-bands")
		}
	}
	form := dropBandsForm()
	form.Refill(posted)
	if err != nil {
		if hard := form.Refuse(bandErrors(err, forms)); hard != nil {
			return hard
		}
	}
	return d.show(c, web.Refused, form, forms)
}

// bandErrors puts what the store refuses of a band beside it and returns the
// rest.
func bandErrors(err error, forms []bandForm) error {
	var all, rest records.Errors
	if !errors.As(err, &all) {
		return err
	}
	for _, e := range all {
		var i int
		var what string
		if n, _ := fmt.Sscanf(e.Field, "bands[%d].%s", &i, &what); n != 2 || i >= len(forms) {
			rest = append(rest, e)
		} else if what == "drop_mbar" {
			forms[i].DropError = e.Error()
		} else {
			forms[i].VolumeError = e.Error()
		}
	}
	if rest == nil {
		return &records.Error{Kind: records.Invalid, Msg: "the bands marked below were not accepted"}
	}
	return rest
}
