package records_test

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
)

// testKey is a key for tests only, made from a fixed seed.
func testKey(n byte) ed25519.PrivateKey {
	seed := sha256.Sum256([]byte{n})
	return ed25519.NewKeyFromSeed(seed[:])
}

func issuedSample(tb testing.TB, name string) records.Issued {
	low, high := 0.0, 0.004
	r := sample(tb, name)
	return records.Issued{
		Number: records.NumberOf(2026, 42), IssuedAt: time.Date(2026, 11, 25, 15, 4, 5, 999, time.FixedZone("", 3600)),
		Record: r, Standing: records.Clear,
		Findings: []records.Finding{{Rule: "combustion.max_ratio", Section: "combustion", Title: "Ratio",
			Outcome: records.Inside, Reading: "0.0008",
			Limit: &records.Limit{Text: "at most 0.004 <&>", Low: &low, High: &high, Rank: records.ByManufacturer,
				Source: records.Source{Document: "Instructions", From: records.MustDate("2026-03-01")}},
			Working: []string{"72 ÷ 91000 = 0.0008"}, Fields: []string{"combustion.max_co_ppm"}}},
		Duties: []records.Duty{{Kind: records.AnnualService, Due: records.MustDate("2027-11-25"),
			Why: "12 months after"}},
		Earlier: []records.EarlierVisit{{Number: "2025-00007", WorkDate: records.MustDate("2025-11-20"),
			Purpose: records.Service, Readings: map[string]string{records.COMaxPPM.Key: "88"}}},
	}
}

// Who declared, who amended and who began are sealed with the readings, and a
// record of before they were keeps its bytes.
func TestIssuedNamesItsSignatories(t *testing.T) {
	i := issuedSample(t, "clear-combination-england")
	before := canonical(t, i)
	if bytes.Contains(before, []byte("issued_by")) {
		t.Errorf("a record without an issuer names one: %s", before)
	}
	i.IssuedBy = &records.Signatory{ID: "p-2", Name: "Maud Tweddle", Licence: "7000001", Key: "Van tablet"}
	i.AmendedBy = &records.Signatory{ID: "p-2", Name: "Maud Tweddle", Licence: "7000001"}
	i.TakenOverFrom = []records.Signatory{{ID: "p-3", Name: "Rhona Tweddle"}}
	text := canonical(t, i)
	if !bytes.Contains(text, []byte(`"issued_by":{"id":"p-2","name":"Maud Tweddle","licence":"7000001",`+
		`"key":"Van tablet"},"amended_by":{"id":"p-2",`)) {
		t.Errorf("not sealed: %s", text)
	}
	back, err := records.DecodeIssued(text)
	if err != nil {
		t.Fatal(err)
	}
	if *back.IssuedBy != *i.IssuedBy || *back.AmendedBy != *i.AmendedBy ||
		!slices.Equal(back.TakenOverFrom, i.TakenOverFrom) {
		t.Errorf("read back as %+v", back)
	}
	if len(back.Record.OldEntries()) > 0 {
		t.Errorf("left over: %+v", back.Record.OldEntries())
	}
	old, err := records.DecodeIssued(before)
	if err != nil || old.IssuedBy != nil || !bytes.Equal(canonical(t, old), before) {
		t.Errorf("a record of before: %+v %v", old.IssuedBy, err)
	}
}

func canonical(tb testing.TB, i records.Issued) []byte {
	tb.Helper()
	out, err := i.Canonical()
	if err != nil {
		tb.Fatal(err)
	}
	return out
}

func TestIssuedRoundTrip(t *testing.T) {
	for name := range sampleFiles(t) {
		i := issuedSample(t, name)
		text := canonical(t, i)
		back, err := records.DecodeIssued(text)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if again := canonical(t, back); !bytes.Equal(text, again) {
			t.Errorf("%s: read back gives\n%s\nnot\n%s", name, again, text)
		}
		if back.Number != "2026-00042" || !back.IssuedAt.Equal(time.Date(2026, 11, 25, 14, 4, 5, 0, time.UTC)) ||
			back.Record.Stage != records.StageIssued || len(back.Findings) != 1 || len(back.Duties) != 1 ||
			len(back.Earlier) != 1 {
			t.Errorf("%s: %+v", name, back)
		}
	}
}

// A record names the newest entry of the audit log as it was prepared; one of
// an earlier version names none, and its bytes stay as they were.
func TestIssuedNamesTheLog(t *testing.T) {
	i := issuedSample(t, "clear-combination-england")
	before := canonical(t, i)
	if bytes.Contains(before, []byte("audit_log")) {
		t.Errorf("a record without an entry says %s", before)
	}
	old, err := records.DecodeIssued(before)
	if err != nil || old.Log != nil || !bytes.Equal(canonical(t, old), before) {
		t.Errorf("%v, %v", old.Log, err)
	}
	i.Log = &records.LogHead{Entry: 17, Hash: strings.Repeat("ab", 32)}
	text := canonical(t, i)
	want := append(bytes.TrimSuffix(bytes.Clone(before), []byte("}")),
		`,"audit_log":{"entry":17,"hash":"`+strings.Repeat("ab", 32)+`"}}`...)
	if !bytes.Equal(text, want) {
		t.Errorf("got %s", text)
	}
	back, err := records.DecodeIssued(text)
	if err != nil || back.Log == nil || *back.Log != *i.Log || !bytes.Equal(canonical(t, back), text) {
		t.Errorf("read back: %+v, %v", back.Log, err)
	}
}

// What the server keeps with a draft is no part of what is sealed.
func TestCanonicalLeavesOutTheDraft(t *testing.T) {
	i := issuedSample(t, "clear-combination-england")
	before := canonical(t, i)
	i.Record.ID, i.Record.Revision, i.Record.Stage, i.Record.UpdatedAt = "x", 7, records.Amended, time.Now()
	i.Record.Rejected = map[string]records.Rejection{"heat.seconds": {Entry: "x", Message: "y"}}
	if !bytes.Equal(before, canonical(t, i)) {
		t.Error("the state of the draft changes the canonical JSON")
	}
	i.Findings, i.Duties = nil, nil
	none := canonical(t, i)
	i.Findings, i.Duties = []records.Finding{}, []records.Duty{}
	if !bytes.Equal(none, canonical(t, i)) {
		t.Error("no list and the empty list differ")
	}
}

// Any changed byte breaks the seal, as does another key or a changed seal.
func TestSealHolds(t *testing.T) {
	key, other := testKey(1), testKey(2)
	pub := key.Public().(ed25519.PublicKey)
	text := canonical(t, issuedSample(t, "clear-combination-england"))
	s := records.SealOf(text, key)
	if !s.Holds(text, pub) {
		t.Fatal("the seal does not hold over its own text")
	}
	if again := records.SealOf(text, key); !bytes.Equal(again.Signature, s.Signature) || again.Code != s.Code {
		t.Error("two seals over one text differ")
	}
	if sum := sha256.Sum256(text); s.SHA256 != hex.EncodeToString(sum[:]) {
		t.Error("the hash is not that of the text")
	}
	for i := range text {
		for _, bit := range []byte{1, 0x20, 0x80} {
			text[i] ^= bit
			if s.Holds(text, pub) {
				t.Fatalf("holds with byte %d changed", i)
			}
			text[i] ^= bit
		}
	}
	for name, tamper := range map[string]func(*records.Seal){
		"hash": func(s *records.Seal) { s.SHA256 = strings.Repeat("0", 64) },
		"code": func(s *records.Seal) { s.Code = "0000-0000-0000" },
		"signature": func(s *records.Seal) {
			s.Signature = append([]byte{s.Signature[0] ^ 1}, s.Signature[1:]...)
		},
		"no signature":   func(s *records.Seal) { s.Signature = nil },
		"by another key": func(s *records.Seal) { *s = records.SealOf(text, other) },
		"signature of the bare text": func(s *records.Seal) {
			s.Signature = ed25519.Sign(key, text)
		},
		"signature of the bare hash": func(s *records.Seal) {
			sum := sha256.Sum256(text)
			s.Signature = ed25519.Sign(key, sum[:])
		},
	} {
		bad := s
		tamper(&bad)
		if bad.Holds(text, pub) {
			t.Errorf("holds with %s", name)
		}
	}
	if s.Holds(text, nil) || s.Holds(text, other.Public().(ed25519.PublicKey)) || s.Holds(nil, pub) {
		t.Error("holds with another public key or text")
	}
	raw, err := records.MarshalSeal(s)
	if err != nil {
		t.Fatal(err)
	}
	if back, err := records.UnmarshalSeal(raw); err != nil || !back.Holds(text, pub) {
		t.Errorf("read back: %v", err)
	}
}

func TestCodes(t *testing.T) {
	s := records.SealOf([]byte("x"), testKey(1))
	if len(s.Code) != 14 || strings.ContainsAny(s.Code, "ILOU") {
		t.Errorf("code %q", s.Code)
	}
	for typed, want := range map[string]string{
		"0123-4567-89AB":    "0123-4567-89AB",
		"0l2i 45 67 8 9a b": "0121-4567-89AB",
		"oooo-1111-llii":    "0000-1111-1111",
		"short":             "SH0RT",
		"":                  "",
	} {
		got := records.NormalCode(typed)
		if got != want {
			t.Errorf("%q: %q, want %q", typed, got, want)
		}
	}
	if got := records.NormalCode(strings.ToLower(strings.ReplaceAll(s.Code, "-", " "))); got != s.Code {
		t.Errorf("%q for %q", got, s.Code)
	}
	if got := records.NumberOf(2026, 123456); got != "2026-123456" {
		t.Errorf("number %q", got)
	}
}

// TestSealedRecordHoldsNoContactData: telephone and e-mail of the customer are
// not sealed, those of the firm are and come back; what an earlier version
// sealed keeps its bytes.
func TestSealedRecordHoldsNoContactData(t *testing.T) {
	i := issuedSample(t, "clear-combination-england")
	i.Record.Contact.Email, i.Record.Contact.Phone = "tenant@home.example", "01632 960999"
	i.Record.Firm.Phone, i.Record.Firm.Email = "01632 960111", "office@firm.example"
	text := canonical(t, i)
	for _, w := range []string{"tenant@home.example", "01632 960999", `"phone":`, `"email":`} {
		if bytes.Contains(text, []byte(w)) {
			t.Errorf("the sealed record holds %s", w)
		}
	}
	read, err := records.DecodeIssued(text)
	if err != nil {
		t.Fatal(err)
	}
	if got := read.Record.Firm; got != i.Record.Firm {
		t.Errorf("the firm comes back as %+v", got)
	}
	if len(read.Record.OldEntries()) > 0 || !bytes.Equal(canonical(t, read), text) {
		t.Error("what was read is not what was written")
	}
	stored, err := records.EncodeRecord(read.Record)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := records.DecodeStored(stored); err != nil || again.Firm != i.Record.Firm {
		t.Errorf("stored and read again the firm is %+v, %v", again.Firm, err)
	}
	old := bytes.Replace(text, []byte(`"customer":{`), []byte(`"customer":{"email":"kept@home.example",`), 1)
	old = bytes.ReplaceAll(old, []byte(`"office_`), []byte(`"`))
	was, err := records.DecodeIssued(old)
	if err != nil || was.Record.Contact.Email != "kept@home.example" || was.Record.Firm != i.Record.Firm {
		t.Fatalf("an earlier record reads as %+v, %v", was.Record, err)
	}
	if !bytes.Equal(canonical(t, was), old) {
		t.Error("an earlier record loses its bytes")
	}
}
