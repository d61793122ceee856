package engineer

import (
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/web"
)

// Find is the search of the register.
type Find struct{ *web.Kit }

type findPage struct {
	web.Base
	Query, Postcode string
	Appliances      []web.ApplianceLine
	Properties      []records.PropertyEntry
	More            bool
}

// Show searches by postcode, address, serial or record number, whatever the
// words are.
func (f Find) Show(c echo.Context) error {
	ctx := c.Request().Context()
	data := findPage{Base: f.Base(c, "Find"), Query: strings.TrimSpace(c.QueryParam("q"))}
	if data.Query == "" {
		return f.Page(c, web.OK, "find", data)
	}
	rows, next, err := f.Store.Register.Find(ctx, store.Query{Search: data.Query, Sort: store.ByAddress, Limit: 50})
	if err != nil {
		return err
	}
	data.More = next != ""
	for _, r := range rows {
		data.Appliances = append(data.Appliances, web.ApplianceLineOf(r, data.Today))
	}
	if code, err := records.NormalPostcode(data.Query); err == nil {
		data.Postcode = code
		if data.Properties, err = f.Store.Register.PropertiesIn(ctx, code); err != nil {
			return err
		}
	}
	return f.Page(c, web.OK, "find", data)
}
