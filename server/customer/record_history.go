package customer

import (
	"errors"
	"net/http"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
	"gaugebook/server/web"
)

// historyLine is an issued record as the customer's page lists it.
type historyLine struct {
	store.RecordLine
	Href string
	Here bool // the record of the page
}

// history lists what the holder of a link may see of the property.
func (re Record) history(c echo.Context, link store.Link) ([]historyLine, error) {
	lines, err := re.Store.Links.Seen(c.Request().Context(), link)
	if err != nil {
		return nil, err
	}
	var out []historyLine
	for _, l := range lines {
		out = append(out, historyLine{l, "/r/" + c.Param("token") + "/records/" + l.Number, l.ID == link.RecordID})
	}
	return out, nil
}

// Other is the PDF of another record that the link may see.
func (re Record) Other(c echo.Context) error {
	link, _, err := re.openLink(c)
	if err != nil {
		return re.showEnded(c, err)
	}
	lines, err := re.history(c, link)
	if err != nil {
		return err
	}
	for _, l := range lines {
		if l.Number != c.Param("number") {
			continue
		}
		file, err := re.App.PDF(c.Request().Context(), l.ID)
		if err != nil {
			return err
		}
		return web.SendPDF(c, app.FileName(l.Number), file)
	}
	return records.Fail(records.NotFound, "this link does not lead to a record of that number")
}

// endedLink is the error of a link that is not known, ran out or was ended.
type endedLink struct{ link *store.Link } // nil: not known

func (e *endedLink) Error() string { return "the link no longer works" }

type endedPage struct {
	web.Base
	Known     bool // it did work once
	Firm      records.Firm
	Emergency records.EmergencyCall
}

// showEnded tells the holder of a link that has ended who to ask. It shows
// nothing of the record. Other errors pass through.
func (re Record) showEnded(c echo.Context, err error) error {
	var ended *endedLink
	if !errors.As(err, &ended) {
		return err
	}
	ctx := c.Request().Context()
	firm, err := re.Store.Settings.Firm(ctx)
	if err != nil {
		return err
	}
	data := endedPage{Base: re.Base(c, "This link has ended"), Firm: firm, Known: ended.link != nil}
	data.Private = true
	status := http.StatusNotFound
	if data.Known {
		status = http.StatusGone
		r, err := re.Store.Records.Record(ctx, ended.link.RecordID)
		if err != nil {
			return err
		}
		data.Emergency = records.Emergency(r.Property.Nation, r.Values.Choice(records.ApplianceFuel))
	}
	return re.Page(c, status, "customer-ended", data)
}
