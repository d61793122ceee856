package pdf

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// Photos stand two abreast, no higher than photoHeight points.
const (
	photoGap    = 16
	photoHeight = 190
)

// photoPages prints the pictures taken on the visit, each with its caption. A
// picture that is not there, or is not the one that the record names, leaves a
// note with its hash in its place.
type photoPages struct{ *printer }

func (p photoPages) print() {
	photos := p.doc.Record.Photos
	if len(photos) == 0 {
		return
	}
	p.Heading(1, "Photos")
	for i := 0; i < len(photos); i += 2 {
		right := func() {}
		height := p.height(photos[i])
		if i+1 < len(photos) {
			height = max(height, p.height(photos[i+1]))
			right = func() { p.photo(i+1, height) }
		}
		p.Columns(photoGap, []float64{1, 1}, func() { p.photo(i, height) }, right)
		p.Space(8)
	}
}

// height is the height at which a photo fills its column.
func (p photoPages) height(ph records.Photo) float64 {
	width := (p.Width() - photoGap) / 2
	m, err := p.picture(ph.SHA256)
	if err != nil {
		return 60
	}
	return min(photoHeight, width*float64(m.Height)/float64(m.Width))
}

func (p *printer) picture(sum string) (layout.Image, error) {
	data, ok := p.doc.Pictures[sum]
	if !ok {
		return layout.Image{}, fmt.Errorf("the picture is not in this file")
	}
	if got := sha256.Sum256(data); hex.EncodeToString(got[:]) != sum {
		return layout.Image{}, fmt.Errorf("the picture found is not the one of this record")
	}
	m, err := layout.LoadImage(data)
	if err != nil {
		return layout.Image{}, fmt.Errorf("the picture cannot be printed")
	}
	return m, nil
}

func (p photoPages) photo(i int, height float64) {
	ph := p.doc.Record.Photos[i]
	m, err := p.picture(ph.SHA256)
	if err != nil {
		p.Box(layout.Frame, func() {
			p.Paragraph(layout.Strong, sentence(stop(err.Error())))
			p.Paragraph(layout.Small, "SHA-256 "+ph.SHA256)
		})
	} else {
		p.Described("Photo: "+p.line(ph.Caption), func() {
			p.Figure(height, func(f *layout.Figure) { f.Image(m, 0, 0, f.W, f.H) })
		})
	}
	p.Space(3)
	name := fmt.Sprintf("Photo %d", i+1)
	if s := records.SectionByID(ph.Section); s != nil {
		name += ", " + lower(s.Title)
	}
	p.Rich(layout.Span{Text: name + ". ", Style: layout.Head}, layout.Span{Text: p.line(stop(ph.Caption)),
		Style: layout.Small})
}
