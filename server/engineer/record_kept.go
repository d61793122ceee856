package engineer

import (
	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

// keptVersion is what somebody saved while a newer version was there already.
type keptVersion struct {
	By, At      string
	Differences []difference // only what still differs from the draft
}

// keptVersions lists what was put aside for a draft and still differs from it,
// newest first.
func (re Records) keptVersions(c echo.Context, r *records.Record) ([]keptVersion, error) {
	kept, err := re.Store.Records.KeptVersions(c.Request().Context(), r.ID)
	if err != nil {
		return nil, err
	}
	var out []keptVersion
	for _, k := range kept {
		v := keptVersion{By: k.By, At: re.Clock(k.At)}
		for _, sec := range records.Sections {
			for _, f := range sec.Fields() {
				mine, now := k.Record.Values[f.Key], r.Values[f.Key]
				if mine.Present() && !mine.Equal(now) {
					v.Differences = append(v.Differences, difference{Key: f.Key, Label: sec.Title + ": " + f.Label,
						Mine: plain(f, mine), Other: plain(f, now)})
				}
			}
		}
		if v.Differences != nil {
			out = append(out, v)
		}
	}
	return out, nil
}
