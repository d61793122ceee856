package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/picture"
)

// AddPhoto keeps a picture and adds it to a section of a draft. It leaves the
// revision alone, so that the form which is open on the same phone can still
// be saved. Kinds: NotFound; Invalid; Forbidden for a person who may not take
// readings; Conflict when the record is issued, has as many photos as it may
// have, or has the picture in another section.
func (a *App) AddPhoto(ctx context.Context, who records.Person, id string, section records.SectionID, caption string,
	pic picture.Picture) (*records.Record, error) {
	if err := mayPhotograph(who); err != nil {
		return nil, err
	}
	r, err := a.Store.Records.Record(ctx, id)
	if err != nil {
		return nil, err
	}
	// Refused before anything is written to disk, where possible. The store looks
	// once more in its transaction.
	hash := sha256.Sum256(pic.JPEG)
	there := slices.ContainsFunc(r.Photos, func(p records.Photo) bool {
		return p.SHA256 == hex.EncodeToString(hash[:])
	})
	if r.Stage == records.Draft && len(r.Photos) >= records.MaxPhotos && !there {
		return nil, store.PhotosFull()
	}
	sum, err := a.Store.Photos.Keep(pic.JPEG)
	if err != nil {
		return nil, err
	}
	return a.Store.Photos.Add(ctx, who.Actor(), id, records.Photo{SHA256: sum, Section: section, Caption: caption,
		Width: pic.Width, Height: pic.Height})
}

// CaptionPhoto changes a photo's caption; was is the one that the person saw.
// Kinds: NotFound; Invalid; Forbidden; Conflict when the record is issued or
// the caption was changed meanwhile.
func (a *App) CaptionPhoto(ctx context.Context, who records.Person, id, sum, was, caption string) (*records.Record,
	error) {
	if err := mayPhotograph(who); err != nil {
		return nil, err
	}
	return a.Store.Photos.Caption(ctx, who.Actor(), id, sum, was, caption)
}

// RemovePhoto takes a photo off a draft. Kinds: NotFound; Forbidden; Conflict
// when the record is issued.
func (a *App) RemovePhoto(ctx context.Context, who records.Person, id, sum string) (*records.Record, error) {
	if err := mayPhotograph(who); err != nil {
		return nil, err
	}
	return a.Store.Photos.Remove(ctx, who.Actor(), id, sum)
}

func mayPhotograph(who records.Person) error {
	return onlyEngineers(who, "photos are added by an engineer")
}

// pictures reads the pictures of a record's photos, and says which are not
// there: a record already issued is printed without them.
func (a *App) pictures(r *records.Record) (found map[string][]byte, lost []string, err error) {
	found = map[string][]byte{}
	named := map[string]string{} // picture to what it is called when it is lost
	var order []string
	name := func(sum, called string) {
		if _, again := named[sum]; !again && sum != "" {
			named[sum], order = called, append(order, sum)
		}
	}
	for i, p := range r.Photos {
		name(p.SHA256, fmt.Sprintf("photo %d “%s”", i+1, p.Caption))
	}
	name(r.Firm.Logo, "the firm's logo")
	for _, sum := range order {
		data, err := a.Store.Photos.Picture(sum)
		var gone *records.Error // not there, or damaged
		switch {
		case err == nil:
			found[sum] = data
		case errors.As(err, &gone):
			lost = append(lost, named[sum])
		default:
			return nil, nil, err
		}
	}
	return found, lost, nil
}

// SetLogo puts a picture on page one of every record issued from now on; nil
// puts none. Those issued before keep theirs, so the picture stays on disk.
func (a *App) SetLogo(ctx context.Context, who records.Person, jpeg []byte) error {
	f, err := a.Store.Settings.Firm(ctx)
	if err != nil {
		return err
	}
	f.Logo = ""
	if jpeg != nil {
		if f.Logo, err = a.Store.Photos.Keep(jpeg); err != nil {
			return err
		}
	}
	return a.Store.Settings.SaveFirm(ctx, who.Actor(), f)
}
