package engineer

import (
	"context"
	"errors"
	"io"
	"mime/multipart"
	"net/http"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/picture"
	"gaugebook/server/web"
)

const (
	// photosAtOnce is how many photos are decoded at a time: one of 50
	// megapixels takes some 200 MB while it is.
	photosAtOnce = 2
	// largestUpload is where reading stops. It is well over what is accepted,
	// so that a photo somewhat too large gets an answer and not a broken line.
	largestUpload = 40 << 20
	// uploadTime is how long a photo may take to come in over a poor signal.
	uploadTime = 4 * time.Minute
)

// photoStrip is the photos of one section, with what adds and changes them.
type photoStrip struct {
	Action  string // where they are posted to
	Section *records.Section
	Photos  []photoForm
	All     int // photos of the whole record
	Most    int
	Caption string // typed with a photo that was refused
	Error   string
}

type photoForm struct {
	records.Photo
	N       int // in the record
	Address string
	Entry   string // caption as typed
	Error   string
}

func stripOf(sec *records.Section, r *records.Record) photoStrip {
	strip := photoStrip{Action: "/records/" + r.ID + "/sections/" + string(sec.ID) + "/photos", Section: sec,
		All: len(r.Photos), Most: records.MaxPhotos}
	for _, p := range photosOf(r) {
		if p.Section == sec.ID {
			strip.Photos = append(strip.Photos, p)
		}
	}
	return strip
}

func photosOf(r *records.Record) []photoForm {
	var out []photoForm
	for i, p := range r.Photos {
		out = append(out, photoForm{Photo: p, N: i + 1, Address: "/records/" + r.ID + "/photos/" + p.SHA256,
			Entry: p.Caption})
	}
	return out
}

// Full reports whether no further photo fits.
func (p photoStrip) Full() bool { return p.All >= p.Most }

// AddPhoto takes one photo in. A request of script gets the strip alone.
func (s Sections) AddPhoto(c echo.Context) error {
	sec, err := sectionOf(c)
	if err != nil {
		return err
	}
	file, caption, err := readPhoto(c)
	// The reading may have taken long; the work starts its own clock.
	ctx, cancel := context.WithTimeout(c.Request().Context(), web.RequestTime)
	defer cancel()
	c.SetRequest(c.Request().WithContext(ctx))
	var r *records.Record
	if err == nil {
		r, err = s.takePhoto(c, sec, caption, file)
	}
	return s.afterPhoto(c, sec, r, err, func(strip *photoStrip) { strip.Caption, strip.Error = caption, err.Error() })
}

func (s Sections) takePhoto(c echo.Context, sec *records.Section, caption string, file []byte) (*records.Record,
	error) {
	if _, err := draftOf(s.Kit, c); err != nil { // before the costly part
		return nil, err
	}
	ctx := c.Request().Context()
	pic, err := s.decode(ctx, file)
	if err != nil {
		return nil, err
	}
	return s.App.AddPhoto(ctx, web.Person(c), c.Param("id"), sec.ID, caption, pic)
}

// decode decodes a photo in one of the places there are for that.
func (s Sections) decode(ctx context.Context, file []byte) (picture.Picture, error) {
	select {
	case s.decoding <- struct{}{}:
		defer func() { <-s.decoding }() // whatever a photo does to its decoder
	case <-ctx.Done():
		return picture.Picture{}, ctx.Err()
	}
	return picture.Decode(file)
}

// ChangePhoto saves a caption, or removes the photo.
func (s Sections) ChangePhoto(c echo.Context) error {
	sec, err := sectionOf(c)
	if err != nil {
		return err
	}
	ctx, id, sum := c.Request().Context(), c.Param("id"), c.Param("sum")
	var r *records.Record
	if c.FormValue("do") == "remove" {
		r, err = s.App.RemovePhoto(ctx, web.Person(c), id, sum)
	} else {
		r, err = s.App.CaptionPhoto(ctx, web.Person(c), id, sum, c.FormValue("was"),
			strings.TrimSpace(c.FormValue("caption")))
	}
	return s.afterPhoto(c, sec, r, err, func(strip *photoStrip) {
		for i, p := range strip.Photos {
			if p.SHA256 == sum {
				strip.Photos[i].Entry, strip.Photos[i].Error = c.FormValue("caption"), err.Error()
				return
			}
		}
		strip.Error = err.Error()
	})
}

// afterPhoto answers a change of the photos: with the strip for script, else
// with the section's page, at its strip.
func (s Sections) afterPhoto(c echo.Context, sec *records.Section, r *records.Record, err error,
	refuse func(*photoStrip)) error {
	status, alone := http.StatusOK, c.Request().Header.Get(web.PartHeader) != ""
	if err == nil && !alone {
		return web.Redirect(c, "/records/"+r.ID+"/sections/"+string(sec.ID)+"#photos")
	}
	if err != nil {
		kind := records.KindOf(err)
		if kind != records.Invalid && kind != records.Conflict {
			return err
		}
		status = web.StatusOf(kind)
		draft, gone := draftOf(s.Kit, c)
		if gone != nil {
			return gone
		}
		r = draft
	}
	strip := stripOf(sec, r)
	if err != nil {
		refuse(&strip)
	}
	if alone {
		return s.Part(c, status, "section", "photos", strip)
	}
	data, err := s.data(c, sec, r)
	if err != nil {
		return err
	}
	data.Photos = strip
	return s.Page(c, status, "section", data)
}

// readPhoto reads a posted photo and its caption. There may be two fields for
// a file, one that opens the camera; the one left blank is not looked at.
func readPhoto(c echo.Context) (file []byte, caption string, err error) {
	w, until := http.NewResponseController(c.Response()), time.Now().Add(uploadTime)
	// A server that cannot move its deadlines keeps those it has.
	if err := errors.Join(w.SetReadDeadline(until), w.SetWriteDeadline(until.Add(web.RequestTime*2))); err != nil &&
		!errors.Is(err, http.ErrNotSupported) {
		return nil, "", err
	}
	req := c.Request()
	req.Body = http.MaxBytesReader(c.Response(), req.Body, largestUpload)
	parts, err := req.MultipartReader()
	if err != nil {
		return nil, "", picture.Refusal("this was not sent as a form with a file; choose a photo on the page of the " +
			"section")
	}
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return file, caption, nil
		}
		if err != nil {
			return nil, caption, brokenUpload(err)
		}
		switch part.FormName() {
		case "caption":
			text, err := io.ReadAll(io.LimitReader(part, 4096))
			if err != nil {
				return nil, caption, brokenUpload(err)
			}
			caption = strings.TrimSpace(string(text))
		case "photo":
			data, err := readPart(part)
			if err != nil {
				return nil, caption, err
			}
			if len(data) > 0 {
				file = data
			}
		}
	}
}

// readPart reads one file, and of one too large the rest, so that the answer
// gets through.
func readPart(part *multipart.Part) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(part, picture.MaxFile+1))
	if err == nil && len(data) > picture.MaxFile {
		_, err = io.Copy(io.Discard, part)
		data = data[:picture.MaxFile+1]
	}
	if err != nil {
		return nil, brokenUpload(err)
	}
	return data, nil
}

func brokenUpload(err error) error {
	var over *http.MaxBytesError
	if errors.As(err, &over) {
		return picture.Refusal("the file is far larger than the 12 MB that a photo may have")
	}
	return picture.Refusal("the photo did not come through whole; send it again")
}

// Photo shows a photo of a record.
func (re Records) Photo(c echo.Context) error {
	r, err := re.Store.Records.Record(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	for _, p := range r.Photos {
		if p.SHA256 == c.Param("sum") {
			return re.SendPhoto(c, p.SHA256)
		}
	}
	return records.Fail(records.NotFound, "the record has no such photo")
}
