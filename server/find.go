package server

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

type findPage struct {
	base
	Query, Postcode string
	Appliances      []applianceLine
	Properties      []records.PropertyEntry
	More            bool
}

// find searches by postcode, address, serial or record number, whatever the
// words are.
func (s *Server) find(c echo.Context) error {
	ctx := c.Request().Context()
	data := findPage{base: s.base(c, "Find"), Query: strings.TrimSpace(c.QueryParam("q"))}
	if data.Query == "" {
		return s.page(c, http.StatusOK, "find", data)
	}
	rows, next, err := s.store.Register.Find(ctx, store.Query{Search: data.Query, Sort: store.ByAddress, Limit: 50})
	if err != nil {
		return err
	}
	data.More = next != ""
	for _, r := range rows {
		data.Appliances = append(data.Appliances, lineOfRow(r, data.Today))
	}
	if code, err := records.NormalPostcode(data.Query); err == nil {
		data.Postcode = code
		if data.Properties, err = s.store.Register.PropertiesIn(ctx, code); err != nil {
			return err
		}
	}
	return s.page(c, http.StatusOK, "find", data)
}

func lineOfRow(r store.RegisterRow, today records.Date) applianceLine {
	line := applianceLine{ID: r.ApplianceID, Name: r.MakeModel, Kind: records.ApplianceKind.ChoiceLabel(r.Kind),
		Serial: r.Serial, Address: r.Address}
	if line.Name == "" {
		line.Name = records.UpperFirst(line.Kind)
	}
	if d := r.NextDuty; d != nil {
		line.Duty, line.State, line.Due = d.Duty.Kind, d.StateOn(today), d.Duty.Due
	}
	return line
}
