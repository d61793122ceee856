package pdf

import (
	"crypto/ed25519"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"gaugebook/pdf/seal"
	"gaugebook/records"
)

// Judgement is what Verify makes of a file.
type Judgement string

// The judgements.
const (
	Genuine  Judgement = "genuine"                // byte for byte as sealed with the key
	Altered  Judgement = "altered"                // changed after it was sealed
	OtherKey Judgement = "not sealed by this key" // sealed by somebody else
	NoSeal   Judgement = "no seal"                // nothing to judge by: a draft, a copy, or another file
)

// Verdict is the judgement with its reason. Number, Code, IssuedAt and Firm
// are filled only for a genuine file: of any other nothing can be believed.
type Verdict struct {
	Judgement Judgement
	Reason    string // one sentence for people
	Number    string
	Code      string
	IssuedAt  time.Time
	Firm      string
}

// MaxFile is the most bytes of a file that Verify looks at.
const MaxFile = 64 << 20

// Verify tells, without any network, whether a file is byte for byte a record
// that was issued and sealed with the firm's key, and whether the data
// attached to it is what the record's own seal was made over. Any bytes are
// safe to give. Errors: records.Invalid for a key of the wrong length or a
// file over MaxFile.
func Verify(file []byte, pub ed25519.PublicKey) (Verdict, error) {
	if len(pub) != ed25519.PublicKeySize {
		return Verdict{}, &records.Error{Kind: records.Invalid, Field: "key", Value: fmt.Sprintf("%d bytes", len(pub)),
			Want: fmt.Sprintf("a public key of %d bytes", ed25519.PublicKeySize)}
	}
	if len(file) > MaxFile {
		return Verdict{}, &records.Error{Kind: records.Invalid, Field: "file",
			Value: fmt.Sprintf("%d bytes", len(file)), Want: fmt.Sprintf("at most %d bytes", MaxFile)}
	}
	switch err := seal.VerifySeal(file, pub); {
	case err == nil:
	case errors.Is(err, seal.ErrNoSeal):
		return Verdict{Judgement: NoSeal,
			Reason: "The file carries no seal: it may be a draft, a copy, or a file from elsewhere."}, nil
	case errors.Is(err, seal.ErrOtherKey):
		return Verdict{Judgement: OtherKey, Reason: "The file was sealed with another key than the one given."}, nil
	default:
		return altered("The file is not as it was sealed: at least one byte was changed, added or taken away. " +
			whatIsLeft(file, pub)), nil
	}
	return verifyAttached(file, pub), nil
}

// whatIsLeft says of an altered file which part was changed, as far as the
// record's own seal, which covers the data alone, can tell.
func whatIsLeft(file []byte, pub ed25519.PublicKey) string {
	if v := verifyAttached(file, pub); v.Judgement == Genuine {
		return "The data attached to it is still that of record " + v.Number + " as it was issued, so it is the " +
			"pages, or what surrounds them, that were changed: believe the data, not the pages."
	}
	return "The data attached to it was changed too, or taken away: nothing in the file can be believed."
}

func altered(reason string) Verdict { return Verdict{Judgement: Altered, Reason: reason} }

// verifyAttached holds the attached data against the record's own seal. The
// data is taken as bytes and only its head is read, so that files of earlier
// versions stay verifiable.
func verifyAttached(file []byte, pub ed25519.PublicKey) Verdict {
	files, err := seal.Attachments(file)
	if err != nil {
		return altered("The attached data cannot be read.")
	}
	data, ok := files[RecordFile]
	if !ok {
		return altered("The file carries no " + RecordFile + ".")
	}
	s, err := records.UnmarshalSeal(files[SealFile])
	if err != nil {
		return altered("The file carries no readable " + SealFile + ".")
	}
	if !s.Holds(data, pub) {
		return altered("The attached data is not what the record's seal was made over.")
	}
	var head struct {
		Number   string    `json:"number"`
		IssuedAt time.Time `json:"issued_at"`
		Record   struct {
			Firm struct {
				Name string `json:"name"`
			} `json:"firm"`
		} `json:"record"`
	}
	if err := json.Unmarshal(data, &head); err != nil || head.Number == "" {
		return altered("The attached data names no record number.")
	}
	return Verdict{
		Judgement: Genuine, Reason: "The file is byte for byte as it was issued and sealed with this key.",
		Number: head.Number, Code: s.Code, IssuedAt: head.IssuedAt, Firm: head.Record.Firm.Name,
	}
}
