package mail

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/textproto"
	"slices"
	"strconv"
	"strings"

	"github.com/wneessen/go-mail/smtp"
)

// The protocol commands are the mail library's; the order of them is written
// out here, because its one-call Send cannot say what this package must know:
//   - it reports a connection lost at any step as not temporary, like a refusal
//     for good (its IsTemp looks for a leading 4 in the text);
//   - it reports a letter as failed when only the RSET or QUIT after its
//     acceptance failed;
//   - when building fails half-way it still says QUIT, which ends the half
//     letter properly and so has it delivered.

// Send hands one letter to the server. Errors are *Error:
// Permanent if the letter cannot be built or the server refuses it for good,
// Unsure if it went out whole and the answer never came, Temporary otherwise.
func (s SMTP) Send(ctx context.Context, m Message) (Receipt, error) {
	data, err := Build(m)
	if err != nil {
		return Receipt{}, &Error{Class: Permanent, Stage: StageMessage, Err: err}
	}
	if err := s.Validate(); err != nil {
		return Receipt{}, failure(StageSettings, err)
	}
	t, err := s.connect(ctx)
	if err != nil {
		return Receipt{}, withContext(ctx, err)
	}
	defer t.close()
	response, err := t.transfer(m, data)
	if err != nil {
		return Receipt{}, withContext(ctx, err)
	}
	return Receipt{MessageID: m.MessageID(), Place: s.address(), Response: response}, nil
}

// Check signs in to the server and leaves again without sending anything: for
// the settings page. Errors are *Error and Temporary.
func (s SMTP) Check(ctx context.Context) error {
	if err := s.Validate(); err != nil {
		return failure(StageSettings, err)
	}
	t, err := s.connect(ctx)
	if err != nil {
		return withContext(ctx, err)
	}
	defer t.close()
	if err := t.client.Noop(); err != nil {
		return withContext(ctx, failure(StageGreeting, err))
	}
	return nil
}

// withContext names the cancelled context as the cause of what it broke.
func withContext(ctx context.Context, err error) error {
	var e *Error
	if cause := ctx.Err(); cause != nil && errors.As(err, &e) && e.Code == 0 {
		e.Err = fmt.Errorf("%w: %w", cause, e.Err)
	}
	return err
}

// talk is one conversation with a server.
type talk struct {
	settings SMTP
	conn     *stepConn
	client   *smtp.Client
	stop     func() bool // releases the context
	inLetter bool        // between the server's go-ahead and its answer
}

// connect opens the conversation up to and including sign-in.
func (s SMTP) connect(ctx context.Context) (*talk, error) {
	step := orDefault(s.Timeout, defaultTimeout)
	dialer := net.Dialer{Timeout: step}
	raw, err := dialer.DialContext(ctx, "tcp", s.address())
	if err != nil {
		return nil, failure(StageConnect, err)
	}
	conn := newStepConn(raw, step)
	t := &talk{settings: s, conn: conn, stop: context.AfterFunc(ctx, conn.cancel)}
	if err := t.open(ctx); err != nil {
		t.hangUp()
		return nil, err
	}
	return t, nil
}

func (t *talk) open(ctx context.Context) error {
	s := t.settings
	var line net.Conn = t.conn
	if s.Encryption == EncryptTLS {
		secure := tls.Client(t.conn, s.tlsConfig())
		if err := secure.HandshakeContext(ctx); err != nil {
			return failure(StageEncryption, err)
		}
		line = secure
	}
	client, err := smtp.NewClient(line, s.Host)
	if err != nil {
		return failure(StageGreeting, err)
	}
	t.client = client
	// Asking for SMTPUTF8 on an ASCII letter makes a later server without it bounce the letter.
	client.SkipSMTPUTF8(true)
	if err := client.Hello(s.helo()); err != nil {
		return failure(StageGreeting, err)
	}
	if s.Encryption == EncryptStartTLS {
		if err := t.startTLS(); err != nil {
			return failure(StageEncryption, err)
		}
	}
	if err := t.signIn(); err != nil {
		return failure(StageSignIn, err)
	}
	return nil
}

func (t *talk) startTLS() error {
	if offered, _ := t.client.Extension("STARTTLS"); !offered {
		return errors.New("the server does not offer STARTTLS")
	}
	return t.client.StartTLS(t.settings.tlsConfig())
}

func (t *talk) signIn() error {
	s := t.settings
	if s.Username == "" {
		return nil
	}
	// Validate has made sure that the password does not leave this machine in the clear.
	_, offer := t.client.Extension("AUTH")
	switch offered := strings.Fields(strings.ToUpper(offer)); {
	case slices.Contains(offered, "PLAIN"):
		return t.client.Auth(smtp.PlainAuth("", s.Username, s.Password, s.Host, s.Encryption == EncryptNone))
	case slices.Contains(offered, "LOGIN"):
		return t.client.Auth(smtp.LoginAuth(s.Username, s.Password, s.Host, s.Encryption == EncryptNone))
	}
	return fmt.Errorf("the server offers the sign-in methods %q: accepted is PLAIN or LOGIN", offer)
}

// transfer carries one letter and gives the server's words of acceptance.
func (t *talk) transfer(m Message, data []byte) (string, error) {
	if err := t.checkSize(data); err != nil {
		return "", &Error{Class: Permanent, Stage: StageMessage, Err: err}
	}
	if err := t.client.Mail("<" + m.From.Email + ">"); err != nil {
		return "", failure(StageSender, err)
	}
	if err := t.client.Rcpt("<" + m.To.Email + ">"); err != nil {
		return "", failure(StageRecipient, err)
	}
	w, err := t.client.Data()
	if err != nil {
		return "", failure(StageContent, err)
	}
	t.inLetter = true
	body, ok := w.(*smtp.DataCloser)
	if !ok {
		return "", failure(StageContent, fmt.Errorf("the mail library gave a %T for the content", w))
	}
	if _, err := body.Write(data); err != nil {
		return "", t.broken(err)
	}
	if !t.conn.commit(orDefault(t.settings.AcceptTimeout, defaultAcceptTimeout)) {
		return "", failure(StageContent, errors.New("cancelled before the last line"))
	}
	defer t.conn.settled()
	// The last line is written apart from reading the answer (the library's
	// Close does both and drops the first error): while it could not be written
	// whole, the server cannot have accepted the letter.
	if err := body.WriteCloser.Close(); err != nil {
		return "", t.broken(err)
	}
	_, response, err := t.client.Text.ReadResponse(2)
	if err != nil {
		return "", failure(StageAcceptance, err)
	}
	t.inLetter = false
	return shorten(strings.ToValidUTF8(response, "\uFFFD"), maxResponse), nil
}

// broken explains why the content could not be written: a server that refuses
// half-way says so before it stops reading.
func (t *talk) broken(err error) error {
	t.conn.settled()
	var reply *textproto.Error
	if _, _, answer := t.client.Text.ReadResponse(2); errors.As(answer, &reply) {
		return failure(StageContent, errors.Join(reply, err))
	}
	return failure(StageContent, err)
}

// checkSize keeps a letter back that the server announced it would not take (RFC 1870).
func (t *talk) checkSize(data []byte) error {
	_, param := t.client.Extension("SIZE")
	limit, err := strconv.ParseInt(param, 10, 64)
	if err != nil || limit <= 0 || int64(len(data)) <= limit {
		return nil
	}
	return &FieldError{"Attachments", fmt.Sprintf("%d bytes with text and headers", len(data)),
		fmt.Sprintf("at most %d bytes by this server", limit)}
}

// close says goodbye, unless a letter is half-way: the library would end it
// properly first, and so have half a letter delivered. The answer to the goodbye
// changes nothing: the letter's fate is known by now.
func (t *talk) close() {
	if !t.inLetter && t.client.HasConnection() {
		_ = t.client.Quit()
	}
	t.hangUp()
}

func (t *talk) hangUp() {
	t.stop()
	_ = t.conn.Close()
}
