package server

import (
	"io"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

const (
	maxLogoFile = 1 << 20 // bytes; the whole form must stay under largestBody
	logoSide    = 600     // pixels of the longer side as kept
)

// addLogo takes in the firm's own logo. It is printed on page one of every
// record issued from now on; those issued before keep what they had.
func (s *Server) addLogo(c echo.Context) error {
	ctx := c.Request().Context()
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
	picture, err := decodePicture(data, logoSide)
	if err != nil {
		return err
	}
	sum, err := s.store.Photos.Keep(picture.JPEG)
	if err != nil {
		return err
	}
	f, err := s.store.Settings.Firm(ctx)
	if err != nil {
		return err
	}
	f.Logo = sum
	if err := s.store.Settings.SaveFirm(ctx, actorOf(c), f); err != nil {
		return err
	}
	s.say(c, "Saved. Records issued from now on will carry the logo.")
	return see(c, "/firm#logo")
}

// removeLogo prints none from now on. The picture stays, since records that
// were issued name it.
func (s *Server) removeLogo(c echo.Context) error {
	ctx := c.Request().Context()
	f, err := s.store.Settings.Firm(ctx)
	if err != nil {
		return err
	}
	f.Logo = ""
	if err := s.store.Settings.SaveFirm(ctx, actorOf(c), f); err != nil {
		return err
	}
	s.say(c, "Removed. Records issued from now on will carry no logo.")
	return see(c, "/firm#logo")
}

func (s *Server) logo(c echo.Context) error {
	f, err := s.store.Settings.Firm(c.Request().Context())
	if err != nil {
		return err
	}
	if f.Logo == "" || f.Logo != c.Param("sum") {
		return records.Fail(records.NotFound, "the firm has no such logo")
	}
	return s.sendPhoto(c, f.Logo)
}

func notALogo(msg string) error {
	return &records.Error{Kind: records.Invalid, Field: "file", Label: "Logo", Msg: msg,
		Want: "a JPEG or PNG of at most 1 MB"}
}
