package store

import (
	"context"
	"fmt"
	"slices"

	"gaugebook/records"
)

// Photos of a draft are changed through their own three methods and not with
// the draft. They leave its revision alone, so that whoever has a form open
// can take a photo in between and still save the form; and SaveDraft keeps
// the photos that are stored, so that a form that knew fewer takes none away.
// Two people who add photos at once both keep theirs.

// Add adds a photo whose picture has been kept before. Adding once more
// what is there already changes nothing, so a phone that got no answer may
// try again. Errors: NotFound, also when the picture is not kept; Invalid;
// Conflict when the record is issued, full, or has the picture elsewhere.
func (s Photos) Add(ctx context.Context, actor records.Actor, recordID string,
	p records.Photo) (*records.Record, error) {
	if err := s.Has(p.SHA256); err != nil {
		return nil, err
	}
	return s.change(ctx, actor, recordID, "photo added", p.SHA256,
		func(all []records.Photo) ([]records.Photo, error) {
			if i := photoAt(all, p.SHA256); i >= 0 {
				if all[i].Section == p.Section {
					return all, nil
				}
				return nil, records.Fail(records.Conflict, "this record has the same picture already, under “"+
					sectionTitle(all[i].Section)+"”")
			}
			if len(all) >= records.MaxPhotos {
				return nil, PhotosFull()
			}
			return append(all, p), nil
		})
}

// PhotosFull is the Conflict of one photo too many.
func PhotosFull() error {
	return records.Fail(records.Conflict,
		fmt.Sprintf("this record has %d photos, as many as it may have; remove one before you add another",
			records.MaxPhotos))
}

// Caption changes a caption. Was is the caption that the person saw.
// Errors: NotFound; Invalid; Conflict when the record is issued or somebody
// else changed the caption meanwhile.
func (s Photos) Caption(ctx context.Context, actor records.Actor, recordID, sha256, was,
	caption string) (*records.Record, error) {
	return s.change(ctx, actor, recordID, "photo captioned", sha256,
		func(all []records.Photo) ([]records.Photo, error) {
			i := photoAt(all, sha256)
			if i < 0 {
				return nil, notFound("photo of this record", sha256)
			}
			if all[i].Caption != was && all[i].Caption != caption {
				return nil, records.Fail(records.Conflict, "somebody else changed this caption meanwhile, to “"+
					all[i].Caption+"”; yours was “"+clip(caption)+"”")
			}
			all[i].Caption = caption
			return all, nil
		})
}

// Remove takes a photo off a draft; one that is not there is no error.
// The picture stays kept: an amended record or a version put aside may name
// it. Errors: NotFound; Conflict when the record is issued.
func (s Photos) Remove(ctx context.Context, actor records.Actor, recordID, sha256 string) (*records.Record, error) {
	return s.change(ctx, actor, recordID, "photo removed", sha256,
		func(all []records.Photo) ([]records.Photo, error) {
			return slices.DeleteFunc(all, func(p records.Photo) bool { return p.SHA256 == sha256 }), nil
		})
}

func photoAt(all []records.Photo, sha256 string) int {
	return slices.IndexFunc(all, func(p records.Photo) bool { return p.SHA256 == sha256 })
}

func sectionTitle(id records.SectionID) string {
	if s := records.SectionByID(id); s != nil {
		return s.Title
	}
	return string(id)
}

func (s Photos) change(ctx context.Context, actor records.Actor, recordID, what, sha256 string,
	change func([]records.Photo) ([]records.Photo, error)) (out *records.Record, err error) {
	err = s.write(ctx, actor, func(t *tx) error {
		row, r, err := readRecord(t.DB, recordID)
		if err != nil {
			return err
		}
		if r.Stage != records.Draft {
			return records.Fail(records.Conflict, "this record has been issued and cannot change; amend it instead")
		}
		if r.Photos, err = change(r.Photos); err != nil {
			return err
		}
		if r.Photos, err = records.CheckedPhotos(r.Photos); err != nil {
			return err
		}
		next := row
		if err := next.setRecord(r); err != nil {
			return err
		}
		out = r
		if next.Doc == row.Doc {
			return nil
		}
		r.UpdatedAt = t.at
		if err := t.Model(&row).Updates(map[string]any{"doc": next.Doc, "updated_at": stamp(t.at)}).Error; err != nil {
			return err
		}
		return t.log(what, recordID, detail{"sha256": sha256})
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}
