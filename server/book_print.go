package server

import (
	"context"
	"runtime"

	"gaugebook/pdf"
	"gaugebook/records"
)

// drawings bounds how many records are drawn at once: each takes a processor
// and the memory of its pictures. Who waits for a place holds nothing that
// anybody else needs.
var drawings = make(chan struct{}, max(2, runtime.NumCPU()))

// draw prints a record.
func (b *Book) draw(ctx context.Context, doc records.Document) ([]byte, error) {
	select {
	case drawings <- struct{}{}:
		defer func() { <-drawings }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	if b.Draw != nil {
		return b.Draw(doc, b.Key)
	}
	return pdf.RenderSealed(doc, b.Key)
}

// PDF returns the printed record. One that was issued without a print, or
// generated, is printed now and kept. Kinds: NotFound.
func (b *Book) PDF(ctx context.Context, id string) ([]byte, error) {
	file, err := b.Store.Records.PDF(ctx, id)
	if err == nil || records.KindOf(err) != records.NotFound {
		return file, err
	}
	doc, err := b.Document(ctx, id)
	if err != nil {
		return nil, err
	}
	if file, err = b.draw(ctx, doc); err != nil {
		return nil, err
	}
	return b.Store.Records.KeepPDF(ctx, records.SystemActor, id, file)
}
