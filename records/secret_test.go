package records_test

import (
	"bytes"
	"crypto/ed25519"
	"strings"
	"testing"

	"gaugebook/records"
)

func TestSealSecret(t *testing.T) {
	key := ed25519.NewKeyFromSeed(bytes.Repeat([]byte{7}, ed25519.SeedSize))
	other := ed25519.NewKeyFromSeed(bytes.Repeat([]byte{8}, ed25519.SeedSize))
	secret := []byte("12345678901234567890")
	a, err := records.SealSecret(key, "maud", secret)
	if err != nil {
		t.Fatal(err)
	}
	b, err := records.SealSecret(key, "maud", secret)
	if err != nil || a == b || strings.Contains(a, "1234567890") {
		t.Errorf("sealed twice: %q and %q, %v", a, b, err)
	}
	if got, err := records.OpenSecret(key, "maud", a); err != nil || !bytes.Equal(got, secret) {
		t.Errorf("opened: %q, %v", got, err)
	}
	altered := []byte(a)
	altered[len(altered)/2] ^= 1
	for name, try := range map[string]func() ([]byte, error){
		"another key":    func() ([]byte, error) { return records.OpenSecret(other, "maud", a) },
		"another person": func() ([]byte, error) { return records.OpenSecret(key, "piers", a) },
		"altered":        func() ([]byte, error) { return records.OpenSecret(key, "maud", string(altered)) },
		"cut":            func() ([]byte, error) { return records.OpenSecret(key, "maud", a[:9]) },
		"blank":          func() ([]byte, error) { return records.OpenSecret(key, "maud", "") },
		"not marked":     func() ([]byte, error) { return records.OpenSecret(key, "maud", a[2:]) },
	} {
		if got, err := try(); records.KindOf(err) != records.Conflict || got != nil {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
}
