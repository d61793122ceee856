package signin

import (
	"time"

	"github.com/go-webauthn/webauthn/webauthn"
)

// CodeAt is the code of a secret, as secretText wrote it, at an instant.
func CodeAt(secret []byte, at time.Time) string { return codeOf(secret, stepAt(at), codeDigits) }

func sessionData(challenge string) webauthn.SessionData {
	return webauthn.SessionData{Challenge: challenge}
}
