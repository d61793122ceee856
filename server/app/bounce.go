package app

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	netmail "net/mail"
	"net/textproto"
	"strings"

	"gaugebook/records"
)

// Bounce is what a mail server reports about a message of ours.
type Bounce struct {
	MessageID string // of our message, without angle brackets
	To        string // who it was for, as far as the report says
	Action    string // failed, delayed, delivered, relayed or expanded
	Why       string // status and the other server's words
}

// mostBounceParts bounds what is looked at of a report; a real one has three.
const mostBounceParts = 12

func NotAReport(msg string) error {
	return &records.Error{Kind: records.Invalid, Field: "file", Label: "Report", Msg: msg,
		Want: "the report of a mail server as an .eml file"}
}

// ReadBounce reads a report of non-delivery: a message of the type
// multipart/report with one part of message/delivery-status and, after it, the
// message that came back or its headers. Of several recipients it takes the
// first that failed, else the first. Anything else is an Invalid error.
//
// Source: RFC 3464 sections 2.1 to 2.3, RFC 6522 section 3.
func ReadBounce(r io.Reader) (Bounce, error) {
	m, err := netmail.ReadMessage(r)
	if err != nil {
		return Bounce{}, NotAReport("this is not an e-mail message")
	}
	kind, params, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/report" || !strings.EqualFold(params["report-type"], "delivery-status") ||
		params["boundary"] == "" {
		return Bounce{}, NotAReport("this message is not a mail server's report about a delivery")
	}
	var out Bounce
	parts := multipart.NewReader(m.Body, params["boundary"])
	for range mostBounceParts {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return Bounce{}, NotAReport("the report is cut off or damaged")
		}
		kind, _, err := mime.ParseMediaType(part.Header.Get("Content-Type"))
		if err != nil {
			continue
		}
		switch kind {
		case "message/delivery-status", "message/global-delivery-status":
			out.Action, out.Why, out.To = readStatus(part)
		case "message/rfc822", "text/rfc822-headers", "message/global", "message/global-headers":
			if h := readHeader(bufio.NewReader(part)); h != nil {
				out.MessageID = strings.Trim(strings.TrimSpace(h.Get("Message-Id")), "<>")
			}
		}
	}
	switch {
	case out.Action == "":
		return Bounce{}, NotAReport("the report does not say what became of the message")
	case out.MessageID == "":
		return Bounce{}, NotAReport("the report does not say which message it is about")
	}
	return out, nil
}

// readHeader reads one block of header fields; nil when there is none. What
// stands before a line that makes no sense counts.
func readHeader(r *bufio.Reader) textproto.MIMEHeader {
	h, err := textproto.NewReader(r).ReadMIMEHeader()
	if len(h) == 0 || err != nil && !errors.Is(err, io.EOF) && h == nil {
		return nil
	}
	return h
}

// readStatus reads the blocks of a delivery status: one about the message,
// then one for each recipient.
func readStatus(r io.Reader) (action, why, to string) {
	data, err := io.ReadAll(io.LimitReader(r, 64<<10))
	if err != nil {
		return "", "", ""
	}
	for _, block := range bytes.Split(bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n")), []byte("\n\n")) {
		h := readHeader(bufio.NewReader(io.MultiReader(bytes.NewReader(bytes.TrimLeft(block, "\n")),
			strings.NewReader("\n\n"))))
		a := strings.ToLower(strings.TrimSpace(h.Get("Action")))
		if a == "" || action == "failed" || action != "" && a != "failed" {
			continue
		}
		action = a
		to = typed(cmp.Or(h.Get("Original-Recipient"), h.Get("Final-Recipient")))
		why = strings.TrimSpace(strings.TrimSpace(h.Get("Status")) + " " + typed(h.Get("Diagnostic-Code")))
		if why == "" {
			why = "the report gives no reason"
		}
	}
	return action, plainLine(why), plainLine(to)
}

// typed takes the type off a field such as “rfc822; a@b.example”.
func typed(field string) string {
	if _, rest, ok := strings.Cut(field, ";"); ok {
		field = rest
	}
	return strings.TrimSpace(field)
}

// plainLine makes one printable line, of at most 300 characters, of what
// another server wrote.
func plainLine(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7f && r < 0xa0 {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > 300 {
		s = string(r[:300])
	}
	return s
}

// TakeBounce reads a mail server's report and marks the message that it is
// about as failed, with the reason. Reports that are not about a failure
// change nothing. It returns what the report said and the message. Kinds:
// Invalid for what is no report; NotFound when it is about no message of ours;
// Conflict when the message was settled already.
func (a *App) TakeBounce(ctx context.Context, who records.Actor, report io.Reader) (Bounce, records.Message, error) {
	b, err := ReadBounce(report)
	if err != nil {
		return b, records.Message{}, err
	}
	id, _, _ := strings.Cut(b.MessageID, "@")
	m, err := a.Store.Outbox.Message(ctx, id)
	if records.KindOf(err) == records.NotFound && err != nil {
		return b, m, records.Fail(records.NotFound, "the report is about a message that was not sent from here: "+
			plainLine(b.MessageID))
	}
	if err != nil || b.Action != "failed" {
		return b, m, err
	}
	return b, m, a.Store.Outbox.Bounce(ctx, who, id, b.Why)
}
