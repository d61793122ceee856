package signin

import (
	"context"
	"crypto/rand"
	"fmt"
	"strings"

	"gaugebook/records"
)

const (
	// recoveryCodes is how many somebody gets.
	recoveryCodes = 10
	// recoverySigns is how long each is: 80 bits in base 32.
	recoverySigns = 16
)

// recoveryAlphabet is what rand.Text writes with, in lower case.
const recoveryAlphabet = "abcdefghijklmnopqrstuvwxyz234567"

func isRecoveryCode(code string) bool {
	return len(code) == recoverySigns && strings.Trim(code, recoveryAlphabet) == ""
}

func newRecovery() (codes []string) {
	for range recoveryCodes {
		codes = append(codes, strings.ToLower(rand.Text()[:recoverySigns]))
	}
	return codes
}

// shownCodes writes recovery codes in groups of four.
func shownCodes(codes []string) (shown []string) {
	for _, c := range codes {
		shown = append(shown, c[:4]+"-"+c[4:8]+"-"+c[8:12]+"-"+c[12:])
	}
	return shown
}

// firstRecovery makes recovery codes for an account that asked for nothing so
// far, and has none.
func (s *Steps) firstRecovery(ctx context.Context, p records.Person) ([]string, error) {
	has, err := s.steps.Of(ctx, p.ID)
	if err != nil || has.Set() {
		return nil, err
	}
	return newRecovery(), nil
}

// NewRecovery makes new recovery codes in the place of a person's old ones and
// returns them, to be shown once. Kinds: Conflict where there is nothing that
// they could stand in for.
func (s *Steps) NewRecovery(ctx context.Context, p records.Person) ([]string, error) {
	codes := newRecovery()
	err := s.told(ctx, p, p.Actor(), "New recovery codes were made, and the old ones ended,",
		func(letters []records.Message) error {
			return s.steps.NewRecovery(ctx, p.Actor(), p.ID, codes, letters...)
		})
	if err != nil {
		return nil, err
	}
	return shownCodes(codes), nil
}

func usedWords(left int) string {
	switch left {
	case 0:
		return "Your last recovery code was used to sign in or to confirm a change"
	case 1:
		return "A recovery code was used to sign in or to confirm a change, and one is left,"
	}
	return fmt.Sprintf("A recovery code was used to sign in or to confirm a change, and %d are left,", left)
}
