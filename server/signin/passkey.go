package signin

import (
	"context"
	"errors"
	"fmt"

	"github.com/go-webauthn/webauthn/protocol"
	"github.com/go-webauthn/webauthn/webauthn"

	"gaugebook/records"
)

// holder is a person as the library asks for them. The handle under which a
// device keeps the passkey is the person's id, which is random.
type holder struct {
	records.Person
	passkeys []records.Passkey
}

func (h holder) WebAuthnID() []byte          { return []byte(h.ID) }
func (h holder) WebAuthnName() string        { return h.Email }
func (h holder) WebAuthnDisplayName() string { return h.Name }

func (h holder) WebAuthnCredentials() (out []webauthn.Credential) {
	for _, p := range h.passkeys {
		c := webauthn.Credential{ID: p.CredentialID, PublicKey: p.PublicKey,
			Flags:         webauthn.NewCredentialFlags(protocol.AuthenticatorFlags(p.Flags)),
			Authenticator: webauthn.Authenticator{AAGUID: p.AAGUID, SignCount: p.Count}}
		for _, t := range p.Transports {
			c.Transport = append(c.Transport, protocol.AuthenticatorTransport(t))
		}
		out = append(out, c)
	}
	return out
}

// descriptors name the passkeys to a browser.
func (h holder) descriptors() (out []protocol.CredentialDescriptor) {
	for _, c := range h.WebAuthnCredentials() {
		out = append(out, c.Descriptor())
	}
	return out
}

func (s *Steps) holder(ctx context.Context, p records.Person) (holder, error) {
	if s.passkeys == nil {
		return holder{}, records.Fail(records.Conflict, "passkeys need a host name, and this server is reached by an "+
			"IP address: see --base-url")
	}
	has, err := s.steps.Of(ctx, p.ID)
	return holder{p, has.WithHost(s.host)}, err
}

// Refused is an answer of a passkey that does not hold. Whoever sent it is told
// the same whatever the reason, which is for the log.
type Refused struct{ Why error }

func (r *Refused) Error() string { return r.Unwrap().Error() }

func (r *Refused) Unwrap() error {
	return &records.Error{Kind: records.Invalid, Field: "credential", Label: "Passkey",
		Msg: "it was not accepted; try again, or use another way"}
}

func refused(why error) error { return &Refused{why} }

// AskToAdd returns what a browser needs to make a passkey for a person: options
// as JSON, for PublicKeyCredential.parseCreationOptionsFromJSON. Kinds: Conflict
// where the server is reached by an IP address.
func (s *Steps) AskToAdd(ctx context.Context, p records.Person) (any, error) {
	h, err := s.holder(ctx, p)
	if err != nil {
		return nil, err
	}
	options, data, err := s.passkeys.BeginRegistration(h, webauthn.WithExclusions(h.descriptors()),
		webauthn.WithConveyancePreference(protocol.PreferNoAttestation),
		webauthn.WithAuthenticatorSelection(protocol.AuthenticatorSelection{
			ResidentKey: protocol.ResidentKeyRequirementRequired, RequireResidentKey: protocol.ResidentKeyRequired(),
			UserVerification: protocol.VerificationRequired}))
	if err != nil {
		return nil, err
	}
	s.asked.put(*data)
	return options.Response, nil
}

// Add adds the passkey that a browser has made. Where the account asked for
// nothing before it returns recovery codes, to be shown once. Kinds: Invalid;
// Conflict.
func (s *Steps) Add(ctx context.Context, p records.Person, name, answer string) (recovery []string, err error) {
	h, err := s.holder(ctx, p)
	if err != nil {
		return nil, err
	}
	parsed, err := protocol.ParseCredentialCreationResponseBytes([]byte(answer))
	if err != nil {
		return nil, refused(err)
	}
	data, ok := s.asked.take(parsed.Response.CollectedClientData.Challenge)
	if !ok {
		return nil, refused(errors.New("this challenge was not asked, or was answered before"))
	}
	made, err := s.passkeys.CreateCredential(h, data, parsed)
	if err != nil {
		return nil, refused(err)
	}
	if recovery, err = s.firstRecovery(ctx, p); err != nil {
		return nil, err
	}
	key := records.Passkey{PersonID: p.ID, Name: name, CredentialID: made.ID, Host: s.host, PublicKey: made.PublicKey,
		Flags: byte(made.Flags.ProtocolValue()), Count: made.Authenticator.SignCount, AAGUID: made.Authenticator.AAGUID}
	for _, t := range made.Transport {
		key.Transports = append(key.Transports, string(t))
	}
	err = s.told(ctx, p, p.Actor(), "A passkey was added", func(letters []records.Message) error {
		return s.steps.AddPasskey(ctx, p.Actor(), key, recovery, letters...)
	})
	if err != nil {
		return nil, err
	}
	return shownCodes(recovery), nil
}

// Ask returns what a browser needs to sign in with a passkey, as JSON for
// PublicKeyCredential.parseRequestOptionsFromJSON: with any of the person's, or
// with any at all where nobody is named. Kinds: Conflict.
func (s *Steps) Ask(ctx context.Context, p records.Person) (any, error) {
	h, err := s.holder(ctx, p)
	if err != nil {
		return nil, err
	}
	var options *protocol.CredentialAssertion
	var data *webauthn.SessionData
	verified := webauthn.WithUserVerification(protocol.VerificationRequired)
	switch {
	case p.ID == "":
		options, data, err = s.passkeys.BeginDiscoverableLogin(verified)
	case len(h.passkeys) == 0:
		return nil, records.Fail(records.Conflict, "this account has no passkey for "+s.host)
	default:
		options, data, err = s.passkeys.BeginLogin(h, verified)
	}
	if err != nil {
		return nil, err
	}
	s.asked.put(*data)
	return options.Response, nil
}

// Answered checks what a browser has signed with a passkey and returns whose it
// is: the person's given, or anybody's where nobody is named. On a refusal too it
// returns whose passkey it was meant to be, if that is known. Kinds: Invalid.
func (s *Steps) Answered(ctx context.Context, p records.Person, answer string) (records.Person, error) {
	h, err := s.holder(ctx, p)
	if err != nil {
		return p, err
	}
	parsed, err := protocol.ParseCredentialRequestResponseBytes([]byte(answer))
	if err != nil {
		return p, refused(err)
	}
	data, ok := s.asked.take(parsed.Response.CollectedClientData.Challenge)
	if !ok {
		return p, refused(errors.New("this challenge was not asked, or was answered before"))
	}
	var used *webauthn.Credential
	if p.ID == "" {
		if h, err = s.owner(ctx, parsed.RawID); err != nil {
			return p, err
		}
		_, used, err = s.passkeys.ValidatePasskeyLogin(func(_, _ []byte) (webauthn.User, error) { return h, nil }, data,
			parsed)
	} else {
		used, err = s.passkeys.ValidateLogin(h, data, parsed)
	}
	if err != nil {
		return h.Person, refused(err)
	}
	return h.Person, s.used(ctx, h, used)
}

// owner finds whose passkey it is.
func (s *Steps) owner(ctx context.Context, credentialID []byte) (holder, error) {
	key, err := s.steps.Passkey(ctx, credentialID)
	if records.KindOf(err) == records.NotFound {
		return holder{}, refused(errors.New("the passkey is not on file"))
	}
	if err != nil {
		return holder{}, err
	}
	p, err := s.app.Store.People.ByID(ctx, key.PersonID)
	if err != nil {
		return holder{}, err
	}
	return s.holder(ctx, p)
}

// used keeps how a passkey stands. One whose count went back may have been
// copied: it is refused, and its holder told. The library only says so.
func (s *Steps) used(ctx context.Context, h holder, c *webauthn.Credential) error {
	key, err := s.steps.Passkey(ctx, c.ID)
	if err != nil {
		return err
	}
	if c.Authenticator.CloneWarning {
		err := s.told(ctx, h.Person, records.SystemActor,
			"A passkey, “"+key.Name+"”, was refused because it may have been copied,",
			func(letters []records.Message) error { return s.steps.PasskeyCopied(ctx, key, letters...) })
		return errors.Join(refused(fmt.Errorf("the count of passkey %s went back", key.ID)), err)
	}
	key.Flags, key.Count = byte(c.Flags.ProtocolValue()), c.Authenticator.SignCount
	err = s.steps.UsePasskey(ctx, key)
	if records.KindOf(err) == records.Conflict {
		return refused(err)
	}
	return err
}

// Rename gives a passkey of a person another name. Kinds: Invalid; NotFound.
func (s *Steps) Rename(ctx context.Context, p records.Person, id, name string) error {
	return s.steps.RenamePasskey(ctx, p.Actor(), p.ID, id, name)
}

// Remove takes a passkey away from a person's account. Kinds: NotFound; Conflict.
func (s *Steps) Remove(ctx context.Context, p records.Person, id string) error {
	return s.told(ctx, p, p.Actor(), "A passkey was removed", func(letters []records.Message) error {
		return s.steps.RemovePasskey(ctx, p.Actor(), p.ID, id, letters...)
	})
}
