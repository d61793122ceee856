package records

import (
	"slices"
	"time"
)

// A session ends thirty days after sign-in, or after seven days in which it was
// not used. An engineer signs in at home and must not be signed out in a loft.
const (
	SessionLife = 30 * 24 * time.Hour
	SessionIdle = 7 * 24 * time.Hour
)

// The ways in which somebody signs in, in words; some follow one another.
const (
	ByPassword     = "password"
	ByCode         = "one-time code"
	ByRecoveryCode = "recovery code"
	ByPasskey      = "passkey"
	ByMailedLink   = "mailed link"
)

// SignIn is one time that somebody signed in, and the session that began, or one
// that was refused.
type SignIn struct {
	ID       string
	PersonID string // "" of an attempt with an address that nobody has
	At       time.Time
	Means    string // such as "password, one-time code"
	Device   string // such as "Firefox on Android", as the browser says
	Address  string // in the network; of IPv6 the /64
	UsedAt   time.Time
	EndedAt  time.Time
	EndedWhy string
	Refused  string // why; "" of one that was let in
}

// Open reports whether the session can be used.
func (s SignIn) Open(now time.Time) bool {
	return s.ID != "" && s.Refused == "" && s.EndedAt.IsZero() && now.Sub(s.At) < SessionLife &&
		now.Sub(s.UsedAt) <= SessionIdle
}

// Passkey is a key pair on somebody's device, of which this is the public half.
type Passkey struct {
	ID           string
	PersonID     string
	Name         string // that the person gives it
	CredentialID []byte // that the device gives it
	Host         string // it works for
	PublicKey    []byte // COSE
	Flags        byte   // of WebAuthn's authenticator data
	Count        uint32 // of its signatures, or always 0
	Transports   []string
	AAGUID       []byte // the kind of device
	MadeAt       time.Time
	UsedAt       time.Time // zero: never
}

// SecondStep is what an account asks for besides its password, and what helps
// when that is not at hand.
type SecondStep struct {
	Codes        bool // one-time codes are set up
	CodesMadeAt  time.Time
	CodesUsedAt  time.Time
	Passkeys     []Passkey
	Recovery     int // recovery codes that still work
	RecoveryMade time.Time
}

// Set reports whether the account asks for anything besides the password.
func (s SecondStep) Set() bool { return s.Codes || len(s.Passkeys) > 0 }

// WithHost are the passkeys that work for a host.
func (s SecondStep) WithHost(host string) []Passkey {
	return slices.DeleteFunc(slices.Clone(s.Passkeys), func(p Passkey) bool { return p.Host != host })
}
