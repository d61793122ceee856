package records

import (
	"encoding/hex"
	"fmt"
	"strings"
)

// MaxPhotos is the most photos that one record may have.
const MaxPhotos = 40

const maxCaption = 120

// Photo is a picture taken on the visit. The record holds its hash, so the
// seal covers what it shows; the picture itself is kept beside the register.
type Photo struct {
	SHA256  string    `json:"sha256"` // hex, of the JPEG as kept
	Section SectionID `json:"section"`
	Caption string    `json:"caption"`
	Width   int       `json:"width"`
	Height  int       `json:"height"`
}

// CheckedPhotos returns a record's photos tidied up, or every error in them.
func CheckedPhotos(in []Photo) ([]Photo, error) {
	var c check
	out := c.photos(in)
	return out, c.err()
}

const wantPicture = "the SHA-256 of the picture, 64 small hexadecimal digits"

// pictureName reports whether s can name a picture.
func pictureName(s string) bool {
	b, err := hex.DecodeString(s)
	return err == nil && len(b) == 32 && strings.ToLower(s) == s
}

func (c *check) photos(in []Photo) []Photo {
	if len(in) > MaxPhotos {
		c.add("photos", "Photos", fmt.Sprintf("%d photos", len(in)), fmt.Sprintf("at most %d photos", MaxPhotos))
		return in
	}
	var out []Photo
	for i, p := range in {
		at := fmt.Sprintf("photos[%d].", i)
		if !pictureName(p.SHA256) {
			c.add(at+"sha256", "Photo", p.SHA256, wantPicture)
		}
		if SectionByID(p.Section) == nil {
			c.add(at+"section", "Section of the photo", string(p.Section), sectionNames())
		}
		if p.Width < 1 || p.Height < 1 || p.Width > 10000 || p.Height > 10000 {
			c.add(at+"width", "Size of the photo", fmt.Sprintf("%d × %d", p.Width, p.Height),
				"from 1 to 10000 pixels each way")
		}
		p.Caption = c.line(at+"caption", "Caption", p.Caption, 0, maxCaption)
		out = append(out, p)
	}
	return out
}

// EarlierVisit is what an issued record shows of a visit before it: the few
// numbers whose drift over the years tells something.
type EarlierVisit struct {
	Number   string  `json:"number"`
	WorkDate Date    `json:"work_date"`
	Purpose  Purpose `json:"purpose"`
	// Readings by field key, as entered.
	Readings map[string]string `json:"readings"`
}

// DriftFields are the readings that are followed from visit to visit.
var DriftFields = []NumberField{ApplianceMbar, COMaxPPM, CO2MaxPct, COMinPPM, CO2MinPct}

// EarlierVisitOf picks the followed readings out of a record.
func EarlierVisitOf(number string, r *Record) EarlierVisit {
	v := EarlierVisit{Number: number, WorkDate: r.WorkDate, Purpose: r.Purpose, Readings: map[string]string{}}
	for _, f := range DriftFields {
		if text := r.Values[f.Key].Text(); text != "" {
			v.Readings[f.Key] = text
		}
	}
	return v
}
