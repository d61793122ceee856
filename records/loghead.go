package records

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"
)

// SignedHead is an entry of the audit log that was the newest at a time, signed
// with the firm's key. By its hash it stands for every entry before it.
type SignedHead struct {
	LogHead
	At        time.Time `json:"at"` // UTC, whole milliseconds
	PublicKey []byte    `json:"public_key"`
	Signature []byte    `json:"signature"` // Ed25519
}

// SignHead signs the newest entry of the log as it stands at a time.
func SignHead(h LogHead, at time.Time, key ed25519.PrivateKey) SignedHead {
	s := SignedHead{LogHead: h, At: at.UTC().Truncate(time.Millisecond),
		PublicKey: key.Public().(ed25519.PublicKey)}
	s.Signature = ed25519.Sign(key, s.signed())
	return s
}

// signed is what is signed; the first line keeps it from being taken for
// anything else that was signed with the key.
func (s SignedHead) signed() []byte {
	return fmt.Appendf(nil, "gaugebook audit log v1\n%d %s %s", s.Entry, s.Hash, s.At.UTC().Format(time.RFC3339Nano))
}

// Holds reports whether the head was signed with the private key that belongs
// to pub.
func (s SignedHead) Holds(pub ed25519.PublicKey) bool {
	return len(pub) == ed25519.PublicKeySize && ed25519.Verify(pub, s.signed(), s.Signature)
}

// KeyChange hands over from one key of the firm to the next. Both sign it: the
// old key names its successor, the new one vouches for what the old one sealed
// until then. Whoever trusts the newest key so trusts the earlier ones.
type KeyChange struct {
	Old, New     []byte // public keys
	At           time.Time
	ByOld, ByNew []byte // signatures
}

// ChangeKey signs the handing over with both keys.
func ChangeKey(old, next ed25519.PrivateKey, at time.Time) KeyChange {
	c := KeyChange{Old: old.Public().(ed25519.PublicKey), New: next.Public().(ed25519.PublicKey),
		At: at.UTC().Truncate(time.Millisecond)}
	c.ByOld, c.ByNew = ed25519.Sign(old, c.signed()), ed25519.Sign(next, c.signed())
	return c
}

func (c KeyChange) signed() []byte {
	return fmt.Appendf(nil, "gaugebook firm key v1\n%x %x %s", c.Old, c.New, c.At.UTC().Format(time.RFC3339Nano))
}

// Holds reports whether both keys signed the handing over.
func (c KeyChange) Holds() bool {
	return len(c.Old) == ed25519.PublicKeySize && len(c.New) == ed25519.PublicKeySize &&
		ed25519.Verify(c.Old, c.signed(), c.ByOld) && ed25519.Verify(c.New, c.signed(), c.ByNew)
}

// FirmKeys returns the key and all that led to it by changes that hold, the
// newest first.
func FirmKeys(newest ed25519.PublicKey, changes []KeyChange) []ed25519.PublicKey {
	out := []ed25519.PublicKey{newest}
	for again := true; again; {
		again = false
		for _, c := range changes {
			if c.Holds() && out[len(out)-1].Equal(ed25519.PublicKey(c.New)) && !isAmong(c.Old, out) {
				out, again = append(out, c.Old), true
			}
		}
	}
	return out
}

func isAmong(key ed25519.PublicKey, keys []ed25519.PublicKey) bool {
	for _, k := range keys {
		if k.Equal(key) {
			return true
		}
	}
	return false
}

// HoldsFor reports whether the seal was made over this canonical JSON with one
// of the keys.
func (s Seal) HoldsFor(canonical []byte, keys []ed25519.PublicKey) bool {
	return isAmong(s.PublicKey, keys) && s.Holds(canonical, s.PublicKey)
}

// KeyName is a public key as people compare it, the fingerprint that is printed
// on a record.
func KeyName(pub ed25519.PublicKey) string {
	sum := sha256.Sum256(pub)
	return hex.EncodeToString(sum[:8])
}
