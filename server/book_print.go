package server

import (
	"context"

	"gaugebook/pdf"
	"gaugebook/records"
)

// PDF returns the printed record. One that came without a print, as those of
// a generated register do, is printed now and kept. Kinds: NotFound.
func (b *Book) PDF(ctx context.Context, id string) ([]byte, error) {
	file, err := b.Store.Records.PDF(ctx, id)
	if err == nil || records.KindOf(err) != records.NotFound {
		return file, err
	}
	doc, err := b.Document(ctx, id)
	if err != nil {
		return nil, err
	}
	if file, err = pdf.RenderSealed(doc, b.Key); err != nil {
		return nil, err
	}
	return b.Store.Records.KeepPDF(ctx, records.SystemActor, id, file)
}
