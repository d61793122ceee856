package mail

import (
	"context"
	"mime"
	"net/url"
	"regexp"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Message is one letter ready to send. It is plain data: stored as JSON in the
// outbox and read back, it builds the same bytes.
type Message struct {
	// ID is the left part of the Message-ID, taken from the outbox row: the same
	// on every attempt, so that a receiver can tell a second copy.
	ID   string
	Date time.Time // when the letter was written, not when it is sent
	From Address
	// ReplyTo is optional.
	ReplyTo Address
	To      Address
	Subject string
	Text    string // plain text, required
	HTML    string // the same letter as HTML, optional
	// Attachments follow the text in the order given.
	Attachments []Attachment
	// Automatic marks a letter that no person wrote (Auto-Submitted, RFC 3834).
	Automatic bool
	// ListUnsubscribe is an https or mailto URL, optional (RFC 2369).
	ListUnsubscribe string
}

// Attachment is one file sent with a letter.
type Attachment struct {
	Name        string // file name without folders
	ContentType string // media type; empty means application/octet-stream
	Data        []byte
}

// Receipt says what became of a letter that was handed over.
type Receipt struct {
	MessageID    string // with angle brackets, as in the header
	Place        string // host:port of the server, or the path of the file
	Response     string // the server's own words on acceptance; empty for a folder
	AlreadyThere bool   // a folder already held this letter
}

// Sender hands over one letter. A non-nil error is always an *Error, whose class
// says whether to try again.
type Sender interface {
	Send(ctx context.Context, m Message) (Receipt, error)
}

const (
	maxIDLength      = 64
	maxSubjectLength = 255
	maxNameLength    = 120
	maxURLLength     = 900 // RFC 5322 allows 998 characters on a line
)

var idPattern = regexp.MustCompile(`^[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]+)*$`)

// MessageID gives the full Message-ID: the letter's ID at the sender's domain.
func (m Message) MessageID() string {
	_, domain, _ := strings.Cut(m.From.Email, "@")
	return "<" + m.ID + "@" + domain + ">"
}

// Validate reports the first field that cannot be sent, as a *FieldError.
func (m Message) Validate() error {
	if len(m.ID) > maxIDLength || !idPattern.MatchString(m.ID) {
		return &FieldError{"ID", m.ID, "1 to 64 ASCII letters, digits, hyphens, underscores and single dots"}
	}
	if m.Date.IsZero() || m.Date.Year() < 1900 || m.Date.Year() > 9999 {
		return &FieldError{"Date", m.Date.String(), "a date between the years 1900 and 9999"}
	}
	if err := m.From.validate("From"); err != nil {
		return err
	}
	if m.ReplyTo != (Address{}) {
		if err := m.ReplyTo.validate("ReplyTo"); err != nil {
			return err
		}
	}
	if err := m.To.validate("To"); err != nil {
		return err
	}
	if err := checkLine("Subject", m.Subject, 1, maxSubjectLength); err != nil {
		return err
	}
	if strings.TrimSpace(m.Text) == "" || !utf8.ValidString(m.Text) {
		return &FieldError{"Text", m.Text, "a plain text in UTF-8 that is not blank"}
	}
	if !utf8.ValidString(m.HTML) {
		return &FieldError{"HTML", m.HTML, "text in UTF-8"}
	}
	if err := checkUnsubscribe(m.ListUnsubscribe); err != nil {
		return err
	}
	for _, a := range m.Attachments {
		if err := a.validate(); err != nil {
			return err
		}
	}
	return nil
}

func (a Attachment) validate() error {
	if err := checkLine("Attachment.Name", a.Name, 1, maxNameLength); err != nil {
		return err
	}
	if len(a.Name) > 255 || strings.ContainsAny(a.Name, `/\`) || a.Name == "." || a.Name == ".." {
		return &FieldError{"Attachment.Name", a.Name, "a file name of at most 255 bytes without a folder"}
	}
	if a.ContentType == "" {
		return nil
	}
	kind, _, err := mime.ParseMediaType(a.ContentType)
	if err != nil || !strings.Contains(kind, "/") || !isASCII(a.ContentType) || len(a.ContentType) > maxNameLength ||
		strings.HasPrefix(kind, "multipart/") || strings.HasPrefix(kind, "message/") {
		// RFC 2045 section 6.4 forbids base64 on multipart and message types.
		return &FieldError{"Attachment.ContentType", a.ContentType,
			"a media type such as application/pdf, not multipart or message"}
	}
	return nil
}

func checkUnsubscribe(raw string) error {
	if raw == "" {
		return nil
	}
	u, err := url.Parse(raw)
	usable := err == nil && (u.Scheme == "https" || u.Scheme == "http") && u.Host != "" ||
		err == nil && u.Scheme == "mailto" && u.Opaque != ""
	outside := func(r rune) bool { return r <= ' ' || r > '~' || r == '<' || r == '>' || r == ',' }
	if !usable || len(raw) > maxURLLength || strings.ContainsFunc(raw, outside) {
		return &FieldError{"ListUnsubscribe", raw,
			"an http, https or mailto URL of printable ASCII without spaces, commas or angle brackets"}
	}
	return nil
}

// checkLine refuses what cannot stand on one header line. A line break there is
// how a second header is smuggled in, so it is refused, never repaired.
func checkLine(field, value string, minRunes, maxRunes int) error {
	switch n := utf8.RuneCountInString(value); {
	case strings.ContainsAny(value, "\r\n"):
		return &FieldError{field, value, "one line, without carriage return or line feed"}
	case !utf8.ValidString(value) || strings.ContainsFunc(value, unprintable):
		return &FieldError{field, value, "UTF-8 text without control characters"}
	case n < minRunes || n > maxRunes:
		return &FieldError{field, value, lengthRange(minRunes, maxRunes)}
	case strings.TrimSpace(value) != value:
		return &FieldError{field, value, "text without spaces at its ends"}
	}
	return nil
}

// unprintable is true for control characters and for the separators that some
// programs take for a line end.
func unprintable(r rune) bool {
	return unicode.IsControl(r) || r == '\u2028' || r == '\u2029'
}

func isASCII(s string) bool {
	return !strings.ContainsFunc(s, func(r rune) bool { return r > unicode.MaxASCII })
}
