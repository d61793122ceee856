package signin

import (
	"context"
	"crypto/rand"
	"fmt"
	"strings"

	"rsc.io/qr"

	"gaugebook/records"
)

// Setup is what somebody needs to put their one-time codes into an app.
type Setup struct {
	Text string // the secret, in groups of four
	QR   QR
}

// QR is a QR code to draw: its modules as a path in a square of Size, with the
// quiet zone around it.
type QR struct {
	Size int
	Path string
}

// StartCodes makes a secret for a person. It counts once ConfirmCodes has had a
// first code of it; codes that they have go on working until then.
func (s *Steps) StartCodes(ctx context.Context, p records.Person) (Setup, error) {
	secret := make([]byte, secretSize)
	_, _ = rand.Read(secret) // which never fails
	sealed, err := records.SealSecret(s.app.Key, p.ID, secret)
	if err != nil {
		return Setup{}, err
	}
	if err := s.steps.StartCodes(ctx, p.Actor(), p.ID, sealed); err != nil {
		return Setup{}, err
	}
	return s.setup(ctx, p, secret)
}

// WaitingCodes shows the secret again that waits for its first code. Kinds:
// Conflict when none does.
func (s *Steps) WaitingCodes(ctx context.Context, p records.Person) (Setup, error) {
	secret, err := s.waiting(ctx, p)
	if err != nil {
		return Setup{}, err
	}
	return s.setup(ctx, p, secret)
}

func (s *Steps) waiting(ctx context.Context, p records.Person) ([]byte, error) {
	codes, err := s.steps.Codes(ctx, p.ID)
	if err != nil {
		return nil, err
	}
	if codes.Next == "" {
		return nil, records.Fail(records.Conflict, "no codes wait for a first one: begin again")
	}
	return records.OpenSecret(s.app.Key, p.ID, codes.Next)
}

func (s *Steps) setup(ctx context.Context, p records.Person, secret []byte) (Setup, error) {
	firm, err := s.app.Store.Settings.Firm(ctx)
	if err != nil {
		return Setup{}, err
	}
	issuer := "Gaugebook"
	if firm.Name != "" {
		issuer += " " + firm.Name
	}
	code, err := drawn(addressOf(secret, issuer, p.Email))
	if err != nil {
		return Setup{}, err
	}
	var groups []string
	for text := secretText(secret); text != ""; {
		n := min(4, len(text))
		groups, text = append(groups, text[:n]), text[n:]
	}
	return Setup{Text: strings.Join(groups, " "), QR: code}, nil
}

// quiet is how many modules stay white around a QR code (ISO/IEC 18004).
const quiet = 4

func drawn(text string) (QR, error) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return QR{}, err
	}
	var path strings.Builder
	for y := range code.Size {
		for x := 0; x < code.Size; x++ {
			from := x
			for x < code.Size && code.Black(x, y) {
				x++
			}
			if x > from {
				fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", from+quiet, y+quiet, x-from, x-from)
			}
		}
	}
	return QR{Size: code.Size + 2*quiet, Path: path.String()}, nil
}

// ConfirmCodes has a person's codes count from now on if the code is of the
// secret that waits. Where the account asked for nothing before it returns
// recovery codes, to be shown once. Kinds: Invalid; Conflict when no secret
// waits.
func (s *Steps) ConfirmCodes(ctx context.Context, p records.Person, entered string) (recovery []string, err error) {
	secret, err := s.waiting(ctx, p)
	if err != nil {
		return nil, err
	}
	step, ok := stepOf(secret, tidied(entered), s.app.Now(), 0)
	if !ok {
		return nil, wrongCode("the six digits that the app shows now, on a device whose clock is right")
	}
	if recovery, err = s.firstRecovery(ctx, p); err != nil {
		return nil, err
	}
	err = s.told(ctx, p, p.Actor(), "One-time codes were set up", func(letters []records.Message) error {
		return s.steps.ConfirmCodes(ctx, p.Actor(), p.ID, step, recovery, letters...)
	})
	if err != nil {
		return nil, err
	}
	return shownCodes(recovery), nil
}

func wrongCode(want string) error {
	return &records.Error{Kind: records.Invalid, Field: "code", Label: "Code", Msg: "this code is not right",
		Want: want}
}

const codeWanted = "the six digits that the app shows now, or a recovery code"

// useCode counts a one-time code, once.
func (s *Steps) useCode(ctx context.Context, p records.Person, code string) error {
	codes, err := s.steps.Codes(ctx, p.ID)
	if err != nil {
		return err
	}
	if codes.Secret == "" {
		return wrongCode(codeWanted)
	}
	secret, err := records.OpenSecret(s.app.Key, p.ID, codes.Secret)
	if err != nil {
		return err
	}
	step, ok := stepOf(secret, code, s.app.Now(), 0)
	if !ok {
		return wrongCode(codeWanted)
	}
	return s.steps.UseCode(ctx, p.ID, step)
}

// useRecovery uses a recovery code up and tells the holder.
func (s *Steps) useRecovery(ctx context.Context, p records.Person, code string) error {
	has, err := s.steps.Of(ctx, p.ID)
	if err != nil {
		return err
	}
	err = s.told(ctx, p, p.Actor(), usedWords(has.Recovery-1), func(letters []records.Message) error {
		return s.steps.UseRecovery(ctx, p.Actor(), p.ID, code, letters...)
	})
	if records.KindOf(err) == records.NotFound {
		return &records.Error{Kind: records.Invalid, Field: "code", Label: "Code",
			Msg: "this is none of your recovery codes, or it has been used", Want: "one that has not been used"}
	}
	return err
}
