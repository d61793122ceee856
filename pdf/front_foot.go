package pdf

import (
	"strings"

	"gaugebook/pdf/layout"
	"gaugebook/pdf/seal"
	"gaugebook/records"
)

// signed are the two signatures, drawn or typed.
func (p frontPage) signed() {
	vs := p.values
	engineer := vs.Text(records.EngineerName)
	if engineer == "" {
		engineer = p.doc.Record.Engineer.Name
	}
	how := "not signed"
	if declared, _ := vs.Flag(records.Declared); declared {
		how = "declared true by name"
	}
	if vs.Text(records.EngineerSignature) != "" {
		how = "signed"
	}
	received := vs.Text(records.ReceivedBy)
	if absent, _ := vs.Flag(records.NobodyPresent); absent && received == "" {
		received = "left on site, nobody present"
	}
	role := "Work done and readings taken by"
	if p.doc.Record.Purpose == records.LandlordCheck {
		role = "Signature of the person who made the check"
	}
	p.Columns(18, []float64{1, 1}, func() {
		p.signature(role+", "+how, p.line(engineer), vs.Text(records.EngineerSignature))
	}, func() { p.signature("Received by", p.line(received), vs.Text(records.ReceivedSignature)) })
}

// proofBlock tells how a stranger checks the paper, and what it is for.
func (p frontPage) proofBlock() {
	small := layout.Style{Size: 7.6, Leading: 10.2}
	bold := layout.Style{Face: layout.Bold, Size: 7.6, Leading: 10.2}
	text := func() {
		spans := []layout.Span{}
		if p.proof() {
			spans = append(spans, layout.Span{Text: "Is this paper genuine? ", Style: bold})
			if p.scannable() {
				spans = append(spans, layout.Span{Text: "Scan the code, or type ", Style: small},
					layout.Span{Text: p.line(p.doc.VerifyURL), Style: small, Link: p.doc.VerifyURL},
					layout.Span{Text: " yourself. ", Style: small})
			} else {
				spans = append(spans, layout.Span{Text: "Ask the firm to confirm number and code. ", Style: small})
			}
			spans = append(spans, layout.Span{Text: "Record " + p.doc.Number + ", code ", Style: small},
				layout.Span{Text: p.doc.Seal.Code, Style: bold},
				layout.Span{Text: ", sealed with key ", Style: small},
				layout.Span{Text: fingerprint(p.doc.Seal.PublicKey) + ". ", Style: bold})
		}
		spans = append(spans, layout.Span{Text: "What it is for. ", Style: bold},
			layout.Span{Text: keepFor(p.doc.Record.Purpose) + " ", Style: small},
			layout.Span{Text: "It says which readings were inside which limits on that day, and no more. The " +
				"manufacturer's instructions, local codes and a registered, competent person come first.",
				Style: small})
		p.Rich(spans...)
	}
	if !p.scannable() {
		text()
		return
	}
	p.Columns(12, []float64{1, 6}, func() {
		p.Described("Code to scan; it holds the address beside it", func() {
			p.Figure(p.Width(), func(f *layout.Figure) { f.QR(0, 0, f.W, p.doc.VerifyURL) })
		})
	}, text)
}

// fingerprint is that of a key, in groups that can be read aloud.
func fingerprint(key []byte) string {
	f := seal.Fingerprint(key)
	return strings.Join([]string{f[:4], f[4:8], f[8:12], f[12:]}, "\u00a0")
}
