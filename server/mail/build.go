package mail

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/textproto"
	"strings"
)

// Build gives the letter as RFC 5322 bytes, all of them 7-bit ASCII with CRLF
// line ends. The same letter always gives the same bytes. The error is a
// *FieldError from Validate.
//
// The standard library composes it: the mail client that carries the letter
// gives every nested multipart either a random boundary or the same one.
func Build(m Message) ([]byte, error) {
	if err := m.Validate(); err != nil {
		return nil, err
	}
	var out bytes.Buffer
	writeField(&out, "Date", m.Date.Format("Mon, 02 Jan 2006 15:04:05 -0700"))
	writeField(&out, "From", m.From.header())
	if m.ReplyTo != (Address{}) {
		writeField(&out, "Reply-To", m.ReplyTo.header())
	}
	writeField(&out, "To", m.To.header())
	writeField(&out, "Subject", unstructured(m.Subject))
	writeField(&out, "Message-ID", m.MessageID())
	writeField(&out, "MIME-Version", "1.0")
	if m.Automatic {
		writeField(&out, "Auto-Submitted", "auto-generated")
	}
	if m.ListUnsubscribe != "" {
		writeField(&out, "List-Unsubscribe", "<"+m.ListUnsubscribe+">")
	}
	root := m.entity()
	for _, f := range root.fields {
		writeField(&out, f[0], f[1])
	}
	out.WriteString("\r\n")
	if err := root.body(&out); err != nil {
		return nil, fmt.Errorf("compose letter %s: %w", m.ID, err)
	}
	return out.Bytes(), nil
}

// entity is a MIME entity: header fields and what writes the body below them.
type entity struct {
	fields [][2]string
	body   func(io.Writer) error
}

// entity nests as far as the letter needs: mixed(alternative(text, html), files…).
func (m Message) entity() entity {
	root := textEntity("text/plain", m.Text)
	if m.HTML != "" {
		root = m.multipart("alternative", root, textEntity("text/html", m.HTML))
	}
	if len(m.Attachments) == 0 {
		return root
	}
	parts := []entity{root}
	for _, a := range m.Attachments {
		parts = append(parts, a.entity())
	}
	return m.multipart("mixed", parts...)
}

func textEntity(kind, text string) entity {
	return entity{
		fields: [][2]string{
			{"Content-Type", kind + "; charset=utf-8"},
			{"Content-Transfer-Encoding", "quoted-printable"},
		},
		body: func(w io.Writer) error {
			qp := quotedprintable.NewWriter(w)
			if _, err := io.WriteString(qp, text); err != nil {
				return err
			}
			if err := qp.Close(); err != nil || strings.HasSuffix(text, "\n") {
				return err
			}
			_, err := io.WriteString(w, "\r\n")
			return err
		},
	}
}

func (a Attachment) entity() entity {
	kind := a.ContentType
	if kind == "" {
		kind = "application/octet-stream"
	}
	return entity{
		fields: [][2]string{
			{"Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": a.Name})},
			{"Content-Type", kind},
			{"Content-Transfer-Encoding", "base64"},
		},
		body: func(w io.Writer) error { return writeBase64(w, a.Data) },
	}
}

// multipart wraps parts with a boundary made from the letter's ID. It starts
// with "=_", which neither quoted-printable nor base64 can hold (RFC 2045
// section 6.7), so no content can ever be taken for it.
func (m Message) multipart(kind string, parts ...entity) entity {
	sum := sha256.Sum256([]byte(kind + " " + m.MessageID()))
	boundary := "=_" + kind + "_" + hex.EncodeToString(sum[:12])
	return entity{
		fields: [][2]string{{"Content-Type", mime.FormatMediaType("multipart/"+kind,
			map[string]string{"boundary": boundary})}},
		body: func(w io.Writer) error {
			mw := multipart.NewWriter(w)
			if err := mw.SetBoundary(boundary); err != nil {
				return err
			}
			for _, p := range parts {
				header := textproto.MIMEHeader{}
				for _, f := range p.fields {
					header.Set(f[0], fold(f[0], f[1]))
				}
				pw, err := mw.CreatePart(header)
				if err != nil {
					return err
				}
				if err := p.body(pw); err != nil {
					return err
				}
			}
			return mw.Close()
		},
	}
}

// base64Line is how many bytes make a line of 76 characters, the most that
// RFC 2045 section 6.8 allows.
const base64Line = 57

func writeBase64(w io.Writer, data []byte) error {
	line := make([]byte, 0, 78)
	for len(data) > 0 {
		n := min(base64Line, len(data))
		line = append(base64.StdEncoding.AppendEncode(line[:0], data[:n]), '\r', '\n')
		if _, err := w.Write(line); err != nil {
			return err
		}
		data = data[n:]
	}
	return nil
}
