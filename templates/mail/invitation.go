package mail

// Invitation brings a person of the firm a link to set their password.
type Invitation struct {
	Name, Email string // the person's
	By, Firm    string
	Link        string
	Until       string // when the link runs out
	Forgotten   bool   // asked for on the page for a forgotten password
}

var invitationLetter = parse("invitation")

// Message fills the message in.
func (i Invitation) Message() Message { return invitationLetter.fill(i) }
