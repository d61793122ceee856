package owner

import (
	"io"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/picture"
	"gaugebook/server/web"
)

const (
	maxLogoFile = 1 << 20 // bytes; the whole form must stay under largestBody
	logoSide    = 600     // pixels of the longer side as kept
)

// AddLogo takes in the firm's own logo. It is printed on page one of every
// record issued from now on; those issued before keep what they had.
func (fi Firm) AddLogo(c echo.Context) error {
	file, err := c.FormFile("file")
	if err != nil {
		return notALogo("no file was chosen")
	}
	if file.Size > maxLogoFile {
		return notALogo("the file is larger than 1 MB; save it smaller")
	}
	in, err := file.Open()
	if err != nil {
		return err
	}
	defer in.Close()
	data, err := io.ReadAll(io.LimitReader(in, maxLogoFile))
	if err != nil {
		return err
	}
	picture, err := picture.DecodeTo(data, logoSide)
	if err != nil {
		return err
	}
	err = fi.App.SetLogo(c.Request().Context(), web.Person(c), picture.JPEG)
	return fi.Done(c, err, "Saved. Records issued from now on will carry the logo.", "/firm#logo")
}

// RemoveLogo prints none from now on. The picture stays, since records that
// were issued name it.
func (fi Firm) RemoveLogo(c echo.Context) error {
	err := fi.App.SetLogo(c.Request().Context(), web.Person(c), nil)
	return fi.Done(c, err, "Removed. Records issued from now on will carry no logo.", "/firm#logo")
}

func (fi Firm) Logo(c echo.Context) error {
	f, err := fi.Store.Settings.Firm(c.Request().Context())
	if err != nil {
		return err
	}
	if f.Logo == "" || f.Logo != c.Param("sum") {
		return records.Fail(records.NotFound, "the firm has no such logo")
	}
	return fi.SendPhoto(c, f.Logo)
}

func notALogo(msg string) error {
	return &records.Error{Kind: records.Invalid, Field: "file", Label: "Logo", Msg: msg,
		Want: "a JPEG or PNG of at most 1 MB"}
}
