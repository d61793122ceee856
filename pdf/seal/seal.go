package seal

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
)

// What [VerifySeal] and [Unseal] may find.
var (
	ErrNoSeal   = errors.New("seal: the document carries no seal")
	ErrAltered  = errors.New("seal: the document was altered after it was sealed")
	ErrOtherKey = errors.New("seal: the document was sealed with another key")
)

const marker = "%gaugebook-seal ed25519 "

// The base64 must be the one way of writing those bytes, or a letter of it
// could be changed unnoticed.
var base64Strict = base64.StdEncoding.Strict()

// The whole line: marker, fingerprint, space, signature, newline.
var sealLength = len(marker) + 16 + 1 + base64Strict.EncodedLen(ed25519.SignatureSize) + 1

// Fingerprint names a public key: the first 16 hex digits of its SHA-256.
func Fingerprint(pub ed25519.PublicKey) string {
	sum := sha256.Sum256(pub)
	return hex.EncodeToString(sum[:8])
}

// Seal signs a document and appends the seal. The key must be one made by
// crypto/ed25519, as [ed25519.PrivateKey.Sign] wants.
func Seal(pdf []byte, key ed25519.PrivateKey) []byte {
	body := bytes.Clone(pdf)
	if !bytes.HasSuffix(body, []byte("\n")) {
		body = append(body, '\n')
	}
	digest := sha256.Sum256(body)
	return fmt.Appendf(body, "%s%s %s\n", marker, Fingerprint(key.Public().(ed25519.PublicKey)),
		base64Strict.EncodeToString(ed25519.Sign(key, digest[:])))
}

// Unseal takes a sealed document apart without checking the signature. The
// error is [ErrNoSeal], or [ErrAltered] if the seal is damaged or something
// follows it.
func Unseal(pdf []byte) (body []byte, fingerprint string, signature []byte, err error) {
	at := bytes.LastIndex(pdf, []byte("\n"+marker)) + 1
	if at == 0 {
		return nil, "", nil, ErrNoSeal
	}
	line := pdf[at:]
	if len(line) != sealLength || line[sealLength-1] != '\n' {
		return nil, "", nil, ErrAltered
	}
	line = line[len(marker) : sealLength-1]
	fingerprint = string(line[:16])
	if b, err := hex.DecodeString(fingerprint); err != nil || hex.EncodeToString(b) != fingerprint || line[16] != ' ' {
		return nil, "", nil, ErrAltered
	}
	signature, err = base64Strict.DecodeString(string(line[17:]))
	if err != nil || len(signature) != ed25519.SignatureSize {
		return nil, "", nil, ErrAltered
	}
	return pdf[:at:at], fingerprint, signature, nil
}

// VerifySeal checks that a document is byte for byte the one sealed with the
// key. The error is [ErrNoSeal], [ErrOtherKey] or [ErrAltered].
func VerifySeal(pdf []byte, pub ed25519.PublicKey) error {
	body, fingerprint, signature, err := Unseal(pdf)
	if err != nil {
		return err
	}
	if len(pub) != ed25519.PublicKeySize || fingerprint != Fingerprint(pub) {
		return ErrOtherKey
	}
	digest := sha256.Sum256(body)
	if !ed25519.Verify(pub, digest[:], signature) {
		return ErrAltered
	}
	return nil
}
