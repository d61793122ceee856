package signin_test

import (
	"encoding/base32"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/signin"
)

func secretOf(t *testing.T, setup signin.Setup) []byte {
	t.Helper()
	secret, err := base32.StdEncoding.DecodeString(strings.ReplaceAll(setup.Text, " ", ""))
	if err != nil || len(secret) != 20 {
		t.Fatalf("secret %q: %v", setup.Text, err)
	}
	return secret
}

// codes sets up one-time codes and returns their secret and the recovery codes.
func (s site) codes(t *testing.T) (secret []byte, recovery []string) {
	t.Helper()
	setup, err := s.steps.StartCodes(t.Context(), s.maud)
	if err != nil {
		t.Fatal(err)
	}
	secret = secretOf(t, setup)
	recovery, err = s.steps.ConfirmCodes(t.Context(), s.maud, signin.CodeAt(secret, s.App.Now()))
	if err != nil {
		t.Fatal(err)
	}
	return secret, recovery
}

func TestCodesFromSettingUpToRemoval(t *testing.T) {
	s := start(t)
	ctx := t.Context()
	check := func(code string) error { _, err := s.steps.Check(ctx, s.maud, code); return err }
	if err := check("123456"); records.KindOf(err) != records.Invalid {
		t.Errorf("without codes: %v", err)
	}
	if _, err := s.steps.ConfirmCodes(ctx, s.maud, "123456"); records.KindOf(err) != records.Conflict {
		t.Errorf("confirmed before it was begun: %v", err)
	}
	setup, err := s.steps.StartCodes(ctx, s.maud)
	if err != nil {
		t.Fatal(err)
	}
	first := secretOf(t, setup)
	again, err := s.steps.WaitingCodes(ctx, s.maud)
	if err != nil || again.Text != setup.Text {
		t.Errorf("shown again: %v", err)
	}
	if _, err := s.steps.ConfirmCodes(ctx, s.maud, "000000"); records.KindOf(err) != records.Invalid {
		t.Errorf("a wrong first code: %v", err)
	}
	if has, _ := s.steps.Of(ctx, s.maud.ID); has.Set() {
		t.Error("codes count before a first one was right")
	}
	secret, recovery := s.codes(t)
	if string(secret) == string(first) || len(recovery) != 10 {
		t.Errorf("begun anew: the same secret, or %d recovery codes", len(recovery))
	}
	if err := check(signin.CodeAt(secret, s.App.Now())); err == nil || !strings.Contains(err.Error(), "used already") {
		t.Errorf("the first code again: %v", err)
	}
	s.later(30 * time.Second)
	code := signin.CodeAt(secret, s.App.Now())
	if by, err := s.steps.Check(ctx, s.maud, code[:3]+" "+code[3:]); err != nil || by != records.ByCode {
		t.Errorf("the next code: %s, %v", by, err)
	}
	for what, at := range map[string]time.Duration{"the same again": 0, "the one before": -30 * time.Second,
		"of a minute ago": -time.Minute, "of a minute on": time.Minute} {
		if err := check(signin.CodeAt(secret, s.App.Now().Add(at))); records.KindOf(err) != records.Invalid {
			t.Errorf("%s: %v", what, err)
		}
	}
	if err := check(signin.CodeAt(secret, s.App.Now().Add(30*time.Second))); err != nil {
		t.Errorf("a phone half a minute fast: %v", err)
	}
	s.later(time.Hour)
	// A new phone: the old one works until the new one is proved.
	anew, err := s.steps.StartCodes(ctx, s.maud)
	if err != nil {
		t.Fatal(err)
	}
	if err := check(signin.CodeAt(secret, s.App.Now())); err != nil {
		t.Errorf("while a new secret waits: %v", err)
	}
	if recovery, err := s.steps.ConfirmCodes(ctx, s.maud, signin.CodeAt(secretOf(t, anew), s.App.Now())); err != nil ||
		len(recovery) != 0 {
		t.Errorf("the new phone: %d recovery codes, %v", len(recovery), err)
	}
	s.later(time.Hour)
	if err := check(signin.CodeAt(secret, s.App.Now())); err == nil {
		t.Error("the old phone still works")
	}
	if err := s.steps.RemoveCodes(ctx, s.maud); err != nil {
		t.Error(err)
	}
	if has, _ := s.steps.Of(ctx, s.maud.ID); has.Set() || has.Recovery != 0 {
		t.Errorf("after removal: %+v", has)
	}
	said := strings.Join(s.letters(t), "\n")
	if strings.Count(said, "One-time codes were set up") != 2 || !strings.Contains(said, "switched off") {
		t.Errorf("told %s", said)
	}
	s.Prove()
}

func TestRecoveryCodes(t *testing.T) {
	s := start(t)
	ctx := t.Context()
	_, codes := s.codes(t)
	by, err := s.steps.Check(ctx, s.maud, strings.ToUpper(codes[3]))
	if err != nil || by != records.ByRecoveryCode {
		t.Fatalf("used: %s, %v", by, err)
	}
	if _, err := s.steps.Check(ctx, s.maud, codes[3]); records.KindOf(err) != records.Invalid {
		t.Errorf("used twice: %v", err)
	}
	if _, err := s.steps.Check(ctx, s.People[records.RoleOwner], codes[4]); records.KindOf(err) != records.Invalid {
		t.Errorf("of somebody else: %v", err)
	}
	if said := s.letters(t)[0]; !strings.Contains(said, "9 are left") {
		t.Errorf("told %s", said)
	}
	s.later(time.Second)
	anew, err := s.steps.NewRecovery(ctx, s.maud)
	if err != nil || len(anew) != 10 {
		t.Fatal(len(anew), err)
	}
	if _, err := s.steps.Check(ctx, s.maud, codes[5]); records.KindOf(err) != records.Invalid {
		t.Errorf("an old one: %v", err)
	}
	for i, code := range anew {
		s.later(time.Second)
		if _, err := s.steps.Check(ctx, s.maud, code); err != nil {
			t.Errorf("new code %d: %v", i, err)
		}
	}
	if said := s.letters(t)[0]; !strings.Contains(said, "Your last recovery code") {
		t.Errorf("told %s", said)
	}
}

// Neither the secret nor a recovery code stands in the file of the register, nor
// in any message.
func TestNothingInTheClear(t *testing.T) {
	s := start(t)
	secret, recovery := s.codes(t)
	file := s.file(t)
	for what, text := range map[string]string{"secret": string(secret),
		"secret as text": strings.TrimRight(base32.StdEncoding.EncodeToString(secret), "="),
		"recovery code":  strings.ReplaceAll(recovery[0], "-", ""), "recovery code, parted": recovery[0]} {
		if strings.Contains(file, text) || strings.Contains(strings.Join(s.letters(t), ""), text) {
			t.Errorf("the %s is in the clear", what)
		}
	}
}

// file is a backup of the register, as its bytes.
func (s site) file(t *testing.T) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "copy.db")
	if err := store.BackupFile(t.Context(), filepath.Join(s.Store.Dir(), "site.db"), name); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}
