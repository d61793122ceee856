package records

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/ed25519"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"strings"
)

// secretMark begins what SealSecret writes; another way of sealing gets another.
const secretMark = "1."

// secretCipher is AES-256-GCM with a key that HKDF (RFC 5869) makes from the
// firm's.
func secretCipher(firm ed25519.PrivateKey) (cipher.AEAD, error) {
	key, err := hkdf.Key(sha256.New, firm.Seed(), nil, "gaugebook secrets of one-time codes", 32)
	if err != nil {
		return nil, err
	}
	block, err := aes.NewCipher(key)
	if err != nil {
		return nil, err
	}
	return cipher.NewGCM(block)
}

// SealSecret encrypts a secret of a person with a key made from the firm's, so
// that a copy of the register without firm.key does not give it away. It is
// bound to the person: put into another's row it does not open.
func SealSecret(firm ed25519.PrivateKey, personID string, secret []byte) (string, error) {
	c, err := secretCipher(firm)
	if err != nil {
		return "", err
	}
	nonce := make([]byte, c.NonceSize())
	_, _ = rand.Read(nonce) // which never fails
	return secretMark + base64.RawStdEncoding.EncodeToString(c.Seal(nonce, nonce, secret, []byte(personID))), nil
}

// OpenSecret gives back what SealSecret encrypted. Errors: Conflict when it was
// sealed with another key, for another person, or altered.
func OpenSecret(firm ed25519.PrivateKey, personID, sealed string) ([]byte, error) {
	c, err := secretCipher(firm)
	if err != nil {
		return nil, err
	}
	text, known := strings.CutPrefix(sealed, secretMark)
	data, err := base64.RawStdEncoding.DecodeString(text)
	if err == nil && known && len(data) >= c.NonceSize() {
		n := c.NonceSize()
		if secret, err := c.Open(nil, data[:n], data[n:], []byte(personID)); err == nil {
			return secret, nil
		}
	}
	return nil, Fail(Conflict, "the secret of the one-time codes does not open with the firm's key: use a recovery "+
		"code or a passkey, and set the codes up again")
}
