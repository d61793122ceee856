package mail_test

import (
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"strings"
	"testing"
	"time"

	smtpd "github.com/emersion/go-smtp"

	"gaugebook/server/mail"
)

func refusal(code int, enhanced smtpd.EnhancedCode, text string) *smtpd.SMTPError {
	return &smtpd.SMTPError{Code: code, EnhancedCode: enhanced, Message: text}
}

// failed asserts class and stage and gives the error.
func failed(t *testing.T, err error, class mail.Class, stage mail.Stage) *mail.Error {
	t.Helper()
	var e *mail.Error
	if !errors.As(err, &e) {
		t.Fatalf("got %T %v, want *mail.Error", err, err)
	}
	if e.Class != class || e.Stage != stage || mail.ClassOf(err) != class {
		t.Fatalf("got %q while %q (%v), want %q while %q", e.Class, e.Stage, err, class, stage)
	}
	return e
}

func TestSMTPAccepted(t *testing.T) {
	// SMTPUTF8 on offer must not be asked for: a relay without it would bounce the letter.
	s := &mailServer{server: &smtpd.Server{EnableSMTPUTF8: true}}
	settings := s.start(t, nil)
	m := letter()
	m.Text = ".\n..\n.leading dots\nlast line without an end"
	receipt, err := settings.Send(t.Context(), m)
	if err != nil {
		t.Fatal(err)
	}
	if receipt.MessageID != "<outbox-17@firm.example.test>" || !strings.Contains(receipt.Response, "OK") ||
		receipt.Place == "" {
		t.Errorf("receipt %+v", receipt)
	}
	got := s.got()
	if len(got) != 1 || got[0].from != m.From.Email || got[0].to != m.To.Email || got[0].options.UTF8 {
		t.Fatalf("server got %+v", got)
	}
	want, err := mail.Build(m)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got[0].content, want) {
		t.Errorf("the server got other bytes than Build gives:\n%q\n%q", got[0].content, want)
	}
}

func TestSMTPRefusals(t *testing.T) {
	busy := refusal(451, smtpd.EnhancedCode{4, 3, 0}, "Try again later")
	no := refusal(550, smtpd.EnhancedCode{5, 1, 1}, "No such mailbox here")
	tests := map[string]struct {
		server *mailServer
		class  mail.Class
		stage  mail.Stage
		answer *smtpd.SMTPError
	}{
		"sender for now":     {&mailServer{sender: busy}, mail.Temporary, mail.StageSender, busy},
		"sender for good":    {&mailServer{sender: no}, mail.Permanent, mail.StageSender, no},
		"recipient for now":  {&mailServer{rcpt: []error{busy}}, mail.Temporary, mail.StageRecipient, busy},
		"recipient for good": {&mailServer{rcpt: []error{no}}, mail.Permanent, mail.StageRecipient, no},
		"content for now":    {&mailServer{data: []error{busy}}, mail.Temporary, mail.StageAcceptance, busy},
		"content for good":   {&mailServer{data: []error{no}}, mail.Permanent, mail.StageAcceptance, no},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			s := tt.server
			settings := s.start(t, nil)
			_, err := settings.Send(t.Context(), letter())
			e := failed(t, err, tt.class, tt.stage)
			code := fmt.Sprintf("%d.%d.%d", tt.answer.EnhancedCode[0], tt.answer.EnhancedCode[1],
				tt.answer.EnhancedCode[2])
			if e.Code != tt.answer.Code || e.Enhanced != code || !strings.Contains(e.Response, tt.answer.Message) ||
				!strings.Contains(err.Error(), tt.answer.Message) || e.AboutServer() {
				t.Errorf("error %+v does not carry the answer %+v", e, tt.answer)
			}
			if len(s.got()) != 0 {
				t.Error("a refused letter arrived")
			}
			if s.sender == nil { // the refusal was for once: the second attempt arrives
				if _, err := settings.Send(t.Context(), letter()); err != nil || len(s.got()) != 1 {
					t.Errorf("second attempt: %v, %d letters", err, len(s.got()))
				}
			}
		})
	}
}

func TestSMTPSizeLimit(t *testing.T) {
	s := &mailServer{server: &smtpd.Server{MaxMessageBytes: 1000}}
	settings := s.start(t, nil)
	_, err := settings.Send(t.Context(), letter())
	failed(t, err, mail.Permanent, mail.StageMessage)
	var field *mail.FieldError
	if !errors.As(err, &field) || field.Field != "Attachments" || !strings.Contains(field.Accepted, "1000 bytes") {
		t.Errorf("error %v names no limit", err)
	}
}

func TestSMTPEncryptionAndSignIn(t *testing.T) {
	config, roots := certificate(t)
	for _, encryption := range []mail.Encryption{mail.EncryptNone, mail.EncryptStartTLS, mail.EncryptTLS} {
		for _, mech := range []string{"PLAIN", "LOGIN"} {
			t.Run(string(encryption)+" "+mech, func(t *testing.T) {
				s := &mailServer{user: "office", password: "correct horse", mechs: []string{mech},
					server: &smtpd.Server{AllowInsecureAuth: encryption == mail.EncryptNone}}
				var implicit *tls.Config
				switch encryption {
				case mail.EncryptStartTLS:
					s.server.TLSConfig = config
				case mail.EncryptTLS:
					implicit = config
				}
				settings := s.start(t, implicit)
				settings.Encryption, settings.Roots = encryption, roots

				settings.Username, settings.Password = "office", "wrong battery"
				e := failed(t, settings.Check(t.Context()), mail.Temporary, mail.StageSignIn)
				if e.Code != 535 || !e.AboutServer() || strings.Contains(e.Error(), "battery") {
					t.Errorf("wrong password: %+v", e)
				}
				settings.Password = "correct horse"
				if err := settings.Check(t.Context()); err != nil {
					t.Fatal(err)
				}
				if _, err := settings.Send(t.Context(), letter()); err != nil {
					t.Fatal(err)
				}
				got := s.got()
				if len(got) != 1 || got[0].signedIn != mech+" office" ||
					got[0].secure != (encryption != mail.EncryptNone) {
					t.Errorf("server got %+v", got)
				}
			})
		}
	}
}

func TestSMTPSettingsAtFault(t *testing.T) {
	config, roots := certificate(t)
	t.Run("sign-in wanted and not set", func(t *testing.T) {
		s := &mailServer{user: "office", password: "x", mechs: []string{"PLAIN"}}
		settings := s.start(t, nil)
		_, err := settings.Send(t.Context(), letter())
		if e := failed(t, err, mail.Temporary, mail.StageSender); e.Code != 530 || !e.AboutServer() {
			t.Errorf("%+v", e)
		}
	})
	t.Run("no STARTTLS offered", func(t *testing.T) {
		s := &mailServer{}
		settings := s.start(t, nil)
		settings.Encryption = mail.EncryptStartTLS
		_, err := settings.Send(t.Context(), letter())
		failed(t, err, mail.Temporary, mail.StageEncryption)
		if len(s.got()) != 0 {
			t.Error("the letter went out in the clear")
		}
	})
	t.Run("unknown authority", func(t *testing.T) {
		s := &mailServer{server: &smtpd.Server{TLSConfig: config}}
		settings := s.start(t, nil)
		settings.Encryption = mail.EncryptStartTLS
		_, err := settings.Send(t.Context(), letter())
		failed(t, err, mail.Temporary, mail.StageEncryption)
	})
	t.Run("certificate of another host", func(t *testing.T) {
		s := &mailServer{server: &smtpd.Server{TLSConfig: config}}
		settings := s.start(t, nil)
		settings.Host, settings.Encryption, settings.Roots = "localhost", mail.EncryptStartTLS, roots
		_, err := settings.Send(t.Context(), letter())
		failed(t, err, mail.Temporary, mail.StageEncryption)
	})
	t.Run("no known sign-in method", func(t *testing.T) {
		s := &mailServer{user: "office", password: "x", mechs: []string{"OTHER"},
			server: &smtpd.Server{AllowInsecureAuth: true}}
		settings := s.start(t, nil)
		settings.Username, settings.Password = "office", "x"
		_, err := settings.Send(t.Context(), letter())
		failed(t, err, mail.Temporary, mail.StageSignIn)
	})
	t.Run("nobody listens", func(t *testing.T) {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		settings := settingsFor(t, l)
		_ = l.Close()
		_, err = settings.Send(t.Context(), letter())
		failed(t, err, mail.Temporary, mail.StageConnect)
	})
}

func TestSMTPSettingsValidate(t *testing.T) {
	good := mail.SMTP{Host: "mx.example.test", Encryption: mail.EncryptStartTLS, Username: "u", Password: "hidden"}
	if err := good.Validate(); err != nil {
		t.Fatal(err)
	}
	for _, shown := range []string{fmt.Sprint(good), fmt.Sprintf("%+v", good), fmt.Sprintf("%#v", good)} {
		if strings.Contains(shown, "hidden") {
			t.Errorf("%q shows the password", shown)
		}
	}
	tests := map[string]func(*mail.SMTP){
		"Host":       func(s *mail.SMTP) { s.Host = "mx.example.test\r\nQUIT" },
		"Port":       func(s *mail.SMTP) { s.Port = 65536 },
		"Encryption": func(s *mail.SMTP) { s.Encryption = mail.EncryptNone }, // would show the password
		"HELO":       func(s *mail.SMTP) { s.HELO = "two words" },
		"Username":   func(s *mail.SMTP) { s.Username = "" },
		"Timeout":    func(s *mail.SMTP) { s.Timeout = -time.Second },
	}
	for field, spoil := range tests {
		s := good
		spoil(&s)
		var e *mail.FieldError
		if err := s.Validate(); !errors.As(err, &e) || e.Field != field || e.Accepted == "" {
			t.Errorf("%s: got %v", field, err)
		}
		_, err := s.Send(context.Background(), letter())
		failed(t, err, mail.Temporary, mail.StageSettings)
	}
}
