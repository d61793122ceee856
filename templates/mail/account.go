package mail

// Account tells the holder of an account that something about their signing in
// has changed.
type Account struct {
	Name, Firm string
	What       string // a sentence's beginning, such as “Your password was changed”
	When       string
	By         string // "" for the holder themselves
}

var accountLetter = parse("account")

// Message fills the message in.
func (a Account) Message() Message { return accountLetter.fill(a) }
