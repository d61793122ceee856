package main

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/base32"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gaugebook/pdf/pdftest"
)

// sealed is the JSON of a seal.
type sealed struct {
	SHA256    string `json:"sha256"`
	Code      string `json:"code"`
	Signature []byte `json:"signature"`
	PublicKey []byte `json:"public_key"`
}

// Every record that was ever issued is read, proved and printed by today's
// program. How a seal is made is written out here once more, so that the
// program cannot change it without being noticed. That the records show on
// every page, TestKeptRegisters proves for the register that issued them.
func TestIssuedSets(t *testing.T) {
	t.Parallel()
	for _, dir := range keptSets(t, issuedDir) {
		var set issuedSet
		readJSON(t, filepath.Join(dir, "set.json"), &set)
		register := filepath.Join(registersDir, set.Register)
		var want expectation
		readJSON(t, filepath.Join(register, "expected.json"), &want)
		t.Run(filepath.Base(dir), func(t *testing.T) {
			t.Parallel()
			unchanged(t, dir)
			if len(set.Records) < 12 {
				t.Errorf("only %d records", len(set.Records))
			}
			for _, r := range set.Records {
				t.Run(r.Number, func(t *testing.T) {
					t.Parallel()
					r.isSealed(t, dir, filepath.Join(register, r.Paper), want)
					r.printsAgain(t, filepath.Join(dir, r.Record))
				})
			}
			alteredPaper(t, filepath.Join(register, set.Records[0].Paper), register)
		})
	}
}

// isSealed proves a record's seal, that its paper carries both, and that the
// register that issued it has it.
func (f issuedFile) isSealed(t *testing.T, dir, paper string, want expectation) {
	canonical := read(t, filepath.Join(dir, f.Record))
	var seal sealed
	readJSON(t, filepath.Join(dir, f.Seal), &seal)
	if !seal.holds(canonical) {
		t.Error("the seal does not hold")
	}
	if altered := bytes.Replace(canonical, []byte("1"), []byte("2"), 1); seal.holds(altered) {
		t.Error("the seal holds for another record too")
	}
	i := slices.IndexFunc(want.Records, func(k keptRecord) bool { return k.Number == f.Number })
	if i < 0 || want.Records[i].SHA256 != seal.SHA256 || want.Records[i].Code != seal.Code {
		t.Error("the register that issued it has another, or none")
	}
	inside, sealFile := detach(t, paper), read(t, filepath.Join(dir, f.Seal))
	if !bytes.Equal(inside["record.json"], canonical) || !bytes.Equal(inside["seal.json"], sealFile) {
		t.Error("the paper has something else attached")
	}
}

// holds proves a seal: the sum of the JSON, twelve characters of it as a code,
// and the firm's signature over the sum.
func (s sealed) holds(canonical []byte) bool {
	sum := sha256.Sum256(canonical)
	letters := base32.NewEncoding("0123456789ABCDEFGHJKMNPQRSTVWXYZ")
	code := letters.EncodeToString(sum[:8])
	signed := append([]byte("gaugebook issued record v1\n"), sum[:]...)
	return s.SHA256 == hex.EncodeToString(sum[:]) && s.Code == code[:4]+"-"+code[4:8]+"-"+code[8:12] &&
		len(s.PublicKey) == ed25519.PublicKeySize && ed25519.Verify(s.PublicKey, signed, s.Signature)
}

// printsAgain has the record printed again from its JSON, as a copy without
// proof, and read by a program that knows nothing of ours.
func (f issuedFile) printsAgain(t *testing.T, record string) {
	out := filepath.Join(t.TempDir(), "copy.pdf")
	must(t, "", "render", record, "-o", out)
	text := fold(pdftest.Text(t, out))
	var doc struct {
		Record struct {
			Engineer struct{ Name string }
			Property struct{ Postcode string }
			Sections map[string]map[string]any
		}
	}
	if err := json.Unmarshal(read(t, record), &doc); err != nil {
		t.Fatal(err)
	}
	serial := fmt.Sprint(doc.Record.Sections["appliance"]["serial"])
	for _, word := range []string{f.Number, doc.Record.Engineer.Name, doc.Record.Property.Postcode, serial} {
		if !strings.Contains(text, word) {
			t.Errorf("the copy does not say %q", word)
		}
	}
}

// alteredPaper changes one byte in the middle of a paper, which must show.
func alteredPaper(t *testing.T, paper, register string) {
	data := read(t, paper)
	data[len(data)/2] ^= 1
	file := write(t, t.TempDir(), "altered.pdf", data)
	dir := t.TempDir()
	write(t, dir, "firm.key", read(t, filepath.Join(register, "firm.key")))
	if got := gaugebook(t, "", "verify", "--data", dir, file); got.code != exitAdverse {
		t.Errorf("an altered paper passes: exit %d\n%s%s", got.code, got.out, got.err)
	}
}
