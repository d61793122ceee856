package app

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
func (a *App) draw(ctx context.Context, doc records.Document) ([]byte, error) {
	select {
	case drawings <- struct{}{}:
		defer func() { <-drawings }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	if a.Draw != nil {
		return a.Draw(doc, a.Key)
	}
	return pdf.RenderSealed(doc, a.Key)
}

// PDF returns the printed record. One that was issued without a print, or
// generated, is printed now and kept. Kinds: NotFound.
func (a *App) PDF(ctx context.Context, id string) ([]byte, error) {
	file, err := a.Store.Records.PDF(ctx, id)
	if err == nil || records.KindOf(err) != records.NotFound {
		return file, err
	}
	doc, err := a.Document(ctx, id)
	if err != nil {
		return nil, err
	}
	if file, err = a.draw(ctx, doc); err != nil {
		return nil, err
	}
	return a.Store.Records.KeepPDF(ctx, records.SystemActor, id, file)
}

// Printed returns the PDF of an issued record by its id or number, and the
// number. Kinds: NotFound.
func (a *App) Printed(ctx context.Context, idOrNumber string) (number string, file []byte, err error) {
	row, err := a.Store.Records.Issued(ctx, idOrNumber)
	if err != nil {
		return "", nil, err
	}
	file, err = a.PDF(ctx, row.ID)
	return row.Number, file, err
}

// FileName is the name of a record's PDF.
func FileName(number string) string { return "record-" + number + ".pdf" }

// Notice prints the notice to leave on site: of an issued record as it was
// issued, of a draft as it stands, since it is left before the engineer leaves.
// Kinds: NotFound.
func (a *App) Notice(ctx context.Context, idOrNumber string) (name string, file []byte, err error) {
	r, err := a.Store.Records.Record(ctx, idOrNumber)
	if records.KindOf(err) == records.NotFound && err != nil {
		row, byNumber := a.Store.Records.Issued(ctx, idOrNumber)
		if byNumber != nil {
			return "", nil, err
		}
		r, err = a.Store.Records.Record(ctx, row.ID)
	}
	if err != nil {
		return "", nil, err
	}
	doc, name := records.Document{Issued: records.Issued{Record: r, Findings: r.Findings,
		Standing: records.StandingOf(r.Findings)}}, "notice-draft.pdf"
	if r.Stage != records.Draft {
		if doc, err = a.Document(ctx, r.ID); err != nil {
			return "", nil, err
		}
		name = "notice-" + doc.Number + ".pdf"
	}
	file, err = pdf.ConditionReport(doc)
	return name, file, err
}
