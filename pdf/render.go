package pdf

import (
	"bytes"
	"crypto/ed25519"
	"fmt"
	"strings"
	"time"
	"unicode"

	"gaugebook/pdf/layout"
	"gaugebook/pdf/seal"
	"gaugebook/records"
)

// MaxVerifyURL is the most bytes that the address of a proof may have: more
// would make the code at the foot of the page too fine for a phone.
const MaxVerifyURL = 122

// Names of the files attached to the printed record.
const (
	RecordFile = "record.json" // the canonical JSON
	SealFile   = "seal.json"
)

// printer is one record being printed.
type printer struct {
	*layout.Document
	doc    records.Document
	values records.Values
	notes  *sourceNotes
	// shortened tells whether page one cut anything off; onPageOne are the
	// rules whose findings it spells out. The pages behind hold the rest.
	shortened bool
	onPageOne map[string]bool
	replaced  []rune
}

func newPrinter(doc records.Document) *printer {
	return &printer{doc: doc, values: doc.Record.Values, notes: &sourceNotes{}}
}

// margins leave room for the holes of a file at the left.
var margins = layout.Margins{Left: 20.5 * layout.MM, Right: 12.5 * layout.MM, Top: 16 * layout.MM,
	Bottom: 16.5 * layout.MM}

// Runs of the pages behind page one.
const (
	runCount = 2
	runGap   = 14
)

// Render prints a document without sealing the file. Without a number it is a
// draft and says so on every page; with a number but no seal or address of
// proof it is a copy without proof. Errors: records.Invalid if there is no
// record or date, if the seal does not belong to the record, or if the
// address is longer than MaxVerifyURL; *layout.MissingGlyphError if a label of
// ours cannot be printed.
func Render(doc records.Document) ([]byte, error) {
	canonical, err := check(doc)
	if err != nil {
		return nil, err
	}
	p := newPrinter(doc)
	p.Document = layout.New(layout.Options{Header: p.header, Footer: p.footer, Margins: margins})
	frontPage{printer: p}.print()
	p.NewPage()
	p.inside()
	photoPages{p}.print()
	body, err := p.Bytes()
	if err != nil {
		return nil, err
	}
	attached := []seal.Attachment{{Name: RecordFile, MIME: "application/json", Description: "The record as data",
		Data: canonical}}
	if doc.Seal.Code != "" {
		data, err := records.MarshalSeal(doc.Seal)
		if err != nil {
			return nil, fmt.Errorf("pdf: seal: %w", err)
		}
		attached = append(attached, seal.Attachment{Name: SealFile, MIME: "application/json",
			Description: "The seal of the record", Data: data})
	}
	return seal.Finish(body, meta(doc), attached)
}

// inside prints the pages behind page one, in the order in which the next
// engineer reads them.
func (p *printer) inside() {
	read := readings{printer: p, oldValues: map[string]records.Value{}, old: p.doc.Record.OldEntries()}
	rest := closingPages{p}
	read.legend()
	p.Space(3)
	p.Runs(runCount, runGap, func() {
		rest.conditionReport()
		read.visit()
		read.sections()
		read.strays()
		read.exempt()
		visitTrend{p}.print()
		rest.duties()
		rest.workings()
		rest.sources()
		rest.closing()
	})
}

// RenderSealed prints an issued document and seals the file with the firm's
// key, so that Verify can tell it from any altered one. The seal of the record
// must have been made with the same key. Errors: those of Render, and
// records.NotReady for a draft or a document without a seal of this key.
func RenderSealed(doc records.Document, key ed25519.PrivateKey) ([]byte, error) {
	if len(key) != ed25519.PrivateKeySize {
		return nil, &records.Error{Kind: records.Invalid, Field: "key", Value: fmt.Sprintf("%d bytes", len(key)),
			Want: fmt.Sprintf("a private key of %d bytes", ed25519.PrivateKeySize)}
	}
	switch {
	case doc.Number == "":
		return nil, records.Fail(records.NotReady, "a draft cannot be sealed: issue the record first")
	case !bytes.Equal(doc.Seal.PublicKey, key.Public().(ed25519.PublicKey)):
		return nil, records.Fail(records.NotReady, "the record "+doc.Number+" was not sealed with this key")
	}
	file, err := Render(doc)
	if err != nil {
		return nil, err
	}
	return seal.Seal(file, key), nil
}

// check refuses what cannot be printed truthfully and returns the canonical
// JSON.
func check(doc records.Document) ([]byte, error) {
	refuse := func(field, value, want string) error {
		return &records.Error{Kind: records.Invalid, Field: field, Value: value, Want: want}
	}
	if doc.Record == nil {
		return nil, refuse("record", "", "a record to print")
	}
	if created(doc).IsZero() {
		return nil, refuse("work_date", "", "the date of the work, which the document is dated by")
	}
	if n := len(doc.VerifyURL); n > MaxVerifyURL {
		return nil, refuse("verify_url", fmt.Sprintf("%d bytes", n), fmt.Sprintf("an address of at most %d bytes",
			MaxVerifyURL))
	}
	canonical, err := doc.Canonical()
	if err != nil {
		return nil, fmt.Errorf("pdf: record as JSON: %w", err)
	}
	if doc.Seal.Code != "" && (doc.Number == "" || !doc.Seal.Holds(canonical, doc.Seal.PublicKey)) {
		return nil, refuse("seal", doc.Seal.Code, "the seal that was made for this very record")
	}
	return canonical, nil
}

// draft tells whether the record has not been issued.
func (p *printer) draft() bool { return p.doc.Number == "" }

// proof tells whether there is something to check the record by.
func (p *printer) proof() bool { return !p.draft() && p.doc.Seal.Code != "" }

// scannable tells whether there is an address to check it at.
func (p *printer) scannable() bool { return p.proof() && p.doc.VerifyURL != "" }

func created(doc records.Document) time.Time {
	if doc.Number != "" && !doc.IssuedAt.IsZero() {
		return doc.IssuedAt
	}
	if doc.Record.WorkDate.IsZero() {
		return time.Time{}
	}
	return doc.Record.WorkDate.Time()
}

func meta(doc records.Document) seal.Meta {
	r := doc.Record
	title := documentName(r.Purpose) + " "
	if doc.Number == "" {
		title += "(draft, not issued)"
	} else {
		title += doc.Number
	}
	return seal.Meta{
		Title: title, Author: r.Firm.Name, Creator: "Gaugebook", Created: created(doc),
		Subject: r.Values.ApplianceName() + ", " + r.Property.OneLine(),
	}
}

// text makes what people typed printable. Signs that no font holds are shown
// as a box, and the last page says so.
func (p *printer) text(s string) string {
	out, replaced := layout.Printable(s)
	p.replaced = append(p.replaced, replaced...)
	return out
}

// line is text on one line. Spaces that do not break stay.
func (p *printer) line(s string) string {
	space := func(r rune) bool { return unicode.IsSpace(r) && r != '\u00a0' }
	return p.text(strings.Join(strings.FieldsFunc(s, space), " "))
}

func (p *printer) header(f *layout.Figure, page, _ int) {
	if page == 1 { // which has a head of its own
		return
	}
	right, style := "Record "+p.doc.Number, layout.Small
	if p.draft() {
		right, style = draftWords, layout.Style{Face: layout.Bold, Size: 9, Leading: 11, Colour: layout.Copper}
	}
	f.Text(f.W, 11, 0, 0, style.Aligned(layout.Right), right)
	room := f.W - layout.TextWidth(style, right) - 12
	f.Text(0, 11, 0, 0, layout.Small, shorten(layout.Small, p.line(p.doc.Record.Firm.Name), room))
	f.Line(0, 15.5, f.W, 15.5, layout.Pen{Colour: layout.Hair, Width: layout.HairWidth})
}

func (p *printer) footer(f *layout.Figure, page, pages int) {
	f.Line(0, 0, f.W, 0, layout.Pen{Colour: layout.Hair, Width: layout.HairWidth})
	f.Text(f.W, 13, 0, 0, layout.Small.Aligned(layout.Right), fmt.Sprintf("page %d of %d", page, pages))
	switch {
	case p.draft():
		f.Text(0, 13, 0, 0, layout.Small, draftWords)
	case p.proof():
		f.Text(0, 13, 0, 0, layout.Small, "Record "+p.doc.Number+", code "+p.doc.Seal.Code)
	default:
		f.Text(0, 13, 0, 0, layout.Small, "Record "+p.doc.Number+", copy without proof")
	}
}

// shorten cuts text to a width, with an ellipsis.
func shorten(s layout.Style, text string, width float64) string {
	if layout.TextWidth(s, text) <= width {
		return text
	}
	r := []rune(text)
	for len(r) > 0 && layout.TextWidth(s, string(r)+"…") > width {
		r = r[:len(r)-1]
	}
	return strings.TrimRight(string(r), " ,.") + "…"
}
