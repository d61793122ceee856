package records

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/base32"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"time"
	"unicode"
)

// Issued is a record as it was issued: the readings, what was found, and
// what falls due because of it. Its canonical JSON is what is hashed, signed
// and attached to the printed record.
type Issued struct {
	Number   string
	IssuedAt time.Time // UTC, whole seconds
	Record   *Record   // Stage, Revision and Rejected are not part of it
	Findings []Finding
	Standing Standing
	Duties   []Duty
	Earlier  []EarlierVisit // oldest first; what the trend is drawn from
	// IssuedBy declared and issued the record; AmendedBy changed what the
	// engineer of the record had read; TakenOverFrom had the draft before the
	// engineer took it over, in that order. Older records name none of them.
	IssuedBy, AmendedBy *Signatory
	TakenOverFrom       []Signatory

	// Log is the newest entry of the register's audit log when the record was
	// prepared, nil in records of earlier versions. Every paper that is handed
	// out so names an entry of the log, which cannot be written again unseen.
	Log *LogHead

	read *asRead
}

// Signatory is a person who answers for a part of an issued record, as on the
// day.
type Signatory struct {
	ID      string `json:"id"` // of their account
	Name    string `json:"name"`
	Licence string `json:"licence,omitempty"`
	Key     string `json:"key,omitempty"` // what the key is called, if a program did it for them
}

// LogHead names an entry of the audit log, and by its hash all before it.
type LogHead struct {
	Entry int64  `json:"entry"`
	Hash  string `json:"hash"` // SHA-256, hex
}

// issuedDocument is an issued record as JSON. It is written with a sealedRecord
// and read with a document, which takes what earlier versions wrote too.
type issuedDocument[R document | sealedRecord] struct {
	Number   string         `json:"number"`
	IssuedAt time.Time      `json:"issued_at"`
	Standing Standing       `json:"standing"`
	Record   R              `json:"record"`
	Findings []Finding      `json:"findings"`
	Duties   []Duty         `json:"duties"`
	Earlier  []EarlierVisit `json:"earlier,omitempty"`

	IssuedBy      *Signatory  `json:"issued_by,omitempty"`
	AmendedBy     *Signatory  `json:"amended_by,omitempty"`
	TakenOverFrom []Signatory `json:"taken_over_from,omitempty"`
	Log           *LogHead    `json:"audit_log,omitempty"`
}

// sealedRecord is a record's document without telephone and e-mail of the
// customer, since the paper that carries it is passed on: a landlord must give
// it to the tenant. The register keeps them. The firm's are named as those of
// an office, so that no member of a sealed record has a name that a search for
// contact data looks for.
type sealedRecord struct {
	document
	Firm sealedFirm `json:"firm"`
}

type sealedFirm struct {
	Name         string `json:"name"`
	Address      string `json:"address"`
	Phone        string `json:"office_phone"`
	Email        string `json:"office_email"`
	Registration string `json:"registration"`
	Logo         string `json:"logo_sha256,omitempty"`
}

func (r *Record) sealed() sealedRecord {
	d := r.document()
	d.Contact.Phone, d.Contact.Email = "", ""
	return sealedRecord{document: d, Firm: sealedFirm(r.Firm)}
}

// SealedAs reports whether a record on file is what was sealed: the same but for
// telephone and e-mail of the customer, which only the register keeps. What
// stands on either that no field asks for makes it another.
func (r *Record) SealedAs(sealed *Record) bool {
	if c := sealed.Contact; c.Phone != "" || c.Email != "" || !sameOld(r.OldEntries(), sealed.OldEntries()) {
		return false
	}
	a, errA := encode(r.sealed())
	b, errB := encode(sealed.sealed())
	return errA == nil && errB == nil && bytes.Equal(a, b)
}

func sameOld(a, b []OldEntry) bool {
	return slices.EqualFunc(a, b, func(x, y OldEntry) bool {
		return x.Section == y.Section && x.Field.Key == y.Field.Key && x.Value.Equal(y.Value)
	})
}

// Canonical returns the one JSON text of the issued record: keys in fixed
// order, no white space, numbers as entered. One that was read by DecodeIssued
// and is unchanged gives the bytes that were read.
func (i Issued) Canonical() ([]byte, error) {
	fresh, err := i.fresh()
	return i.read.or(fresh), err
}

func (i Issued) fresh() ([]byte, error) {
	return encode(issuedDocument[sealedRecord]{Number: i.Number, IssuedAt: i.IssuedAt.UTC().Truncate(time.Second),
		Standing: i.Standing, Record: i.Record.sealed(),
		Findings: orEmpty(i.Findings), Duties: orEmpty(i.Duties), Earlier: i.Earlier,
		IssuedBy: i.IssuedBy, AmendedBy: i.AmendedBy, TakenOverFrom: i.TakenOverFrom, Log: i.Log})
}

// orEmpty makes no list the empty list, so that both give the same bytes.
func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

// Seal is what proves that a canonical JSON is the one that was issued.
type Seal struct {
	SHA256    string `json:"sha256"`     // hex, of the canonical JSON
	Code      string `json:"code"`       // short form for people, derived from the hash
	Signature []byte `json:"signature"`  // Ed25519
	PublicKey []byte `json:"public_key"` // of the firm
}

// Document is everything that is printed: the issued record, its seal and
// where its number and code can be checked.
type Document struct {
	Issued
	Seal      Seal
	VerifyURL string
	// Pictures are the photos' JPEG bytes by SHA-256.
	Pictures map[string][]byte
}

// sealContext keeps a signature of ours from being taken for one of anything
// else made with the same key.
const sealContext = "gaugebook issued record v1\n"

// SealOf signs the canonical JSON with the firm's key. The same JSON and key
// always give the same seal.
func SealOf(canonical []byte, key ed25519.PrivateKey) Seal {
	sum := sha256.Sum256(canonical)
	return Seal{
		SHA256:    hex.EncodeToString(sum[:]),
		Code:      codeOf(sum),
		Signature: ed25519.Sign(key, append([]byte(sealContext), sum[:]...)),
		PublicKey: key.Public().(ed25519.PublicKey),
	}
}

// Holds reports whether the seal was made over this canonical JSON with the
// private key that belongs to pub.
func (s Seal) Holds(canonical []byte, pub ed25519.PublicKey) bool {
	sum := sha256.Sum256(canonical)
	return len(pub) == ed25519.PublicKeySize && s.SHA256 == hex.EncodeToString(sum[:]) && s.Code == codeOf(sum) &&
		ed25519.Verify(pub, append([]byte(sealContext), sum[:]...), s.Signature)
}

// codeAlphabet leaves out the letters that are taken for digits, and U.
var codeAlphabet = base32.NewEncoding("0123456789ABCDEFGHJKMNPQRSTVWXYZ").WithPadding(base32.NoPadding)

// codeOf returns the first 60 bits of the hash as twelve characters in three
// groups.
func codeOf(sum [sha256.Size]byte) string {
	s := codeAlphabet.EncodeToString(sum[:8])
	return s[:4] + "-" + s[4:8] + "-" + s[8:12]
}

// NormalCode tidies a verification code as a person types it: case, spaces
// and dashes do not matter, O counts as 0 and I or L as 1.
func NormalCode(s string) string {
	s = strings.NewReplacer(" ", "", "-", "", "O", "0", "I", "1", "L", "1").Replace(strings.ToUpper(clip(s)))
	if len(s) != 12 || strings.ContainsFunc(s, func(r rune) bool { return r > unicode.MaxASCII }) {
		return s
	}
	return s[:4] + "-" + s[4:8] + "-" + s[8:]
}

// NumberOf formats the nth record issued in a year: 2026-00042.
func NumberOf(year, n int) string { return fmt.Sprintf("%04d-%05d", year, n) }

// ParseNumber reads what NumberOf writes. Errors: Invalid.
func ParseNumber(s string) (year, n int, err error) {
	_, err = fmt.Sscanf(s, "%d-%d", &year, &n)
	if err != nil || n < 1 || NumberOf(year, n) != s {
		return 0, 0, &Error{Kind: Invalid, Field: "number", Label: "Number of a record", Value: clip(s),
			Want: "a number such as 2026-00042"}
	}
	return year, n, nil
}

// MarshalSeal and UnmarshalSeal are the JSON of a seal, for the attachment.
func MarshalSeal(s Seal) ([]byte, error) { return json.Marshal(s) }

// UnmarshalSeal reads what MarshalSeal of any version wrote.
func UnmarshalSeal(data []byte) (Seal, error) {
	var s Seal
	err := mustBeObject(data)
	if err == nil {
		(&storedReader{table: tableNow}).take("", trimSpace(data), reflect.ValueOf(&s).Elem())
	}
	return s, err
}
