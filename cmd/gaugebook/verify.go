package main

import (
	"context"
	"crypto/ed25519"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"strings"
	"time"

	"gaugebook/pdf"
	"gaugebook/pdf/seal"
	"gaugebook/records"
	"gaugebook/server/app"
)

type verifyCommand struct {
	home
	File   string `arg:"" help:"PDF to check." type:"existingfile"`
	Key    string `help:"The firm's public key (PEM), from its verification page. Default: the key of the register in --data." type:"existingfile"`
	Server string `help:"Also ask this server whether the record is still in force, such as https://records.yourfirm.example." placeholder:"URL"`
	JSON   bool   `name:"json" help:"Print the answer as JSON."`
}

// answer is what verify prints as JSON.
type answer struct {
	Judgement pdf.Judgement `json:"judgement"`
	Reason    string        `json:"reason"`
	Number    string        `json:"number,omitempty"`
	Code      string        `json:"code,omitempty"`
	IssuedAt  *time.Time    `json:"issued_at,omitempty"`
	Firm      string        `json:"firm,omitempty"`
	Key       string        `json:"key,omitempty"` // fingerprint held against
	// Stage and ReplacedBy are what the server said, when asked.
	Stage      records.Stage `json:"stage,omitempty"`
	ReplacedBy string        `json:"replaced_by,omitempty"`
}

// unproven is verify's own judgement when nobody says whose key it should be.
const unproven pdf.Judgement = "unaltered, key not known"

func (c *verifyCommand) Run(e *env) error {
	file, err := os.ReadFile(c.File)
	if err != nil {
		return err
	}
	pub, err := c.publicKey(c.Key)
	if err != nil {
		return err
	}
	known := pub != nil
	if !known {
		pub = keyInside(file)
	}
	a := answer{Judgement: pdf.NoSeal, Reason: "The file carries no seal: it may be a draft, a copy, or a file from " +
		"elsewhere."}
	if pub != nil {
		v, err := pdf.Verify(file, pub)
		if err != nil {
			return err
		}
		a = answer{Judgement: v.Judgement, Reason: v.Reason, Number: v.Number, Code: v.Code, Firm: v.Firm,
			Key: seal.Fingerprint(pub)}
		if v.Judgement == pdf.Genuine {
			a.IssuedAt = &v.IssuedAt
		}
	}
	switch {
	case a.Judgement == pdf.Genuine && known:
		e.code = exitClear
	case a.Judgement == pdf.Genuine:
		e.code = exitOpen
		a.Judgement = unproven
		a.Reason = "The file is as it was sealed, but the key is the one it names itself. Compare the fingerprint " +
			"with the firm's, or give the firm's key with --key."
	default:
		e.code = exitAdverse
	}
	if c.Server != "" && a.Number != "" {
		if err := c.ask(e, &a); err != nil {
			return err
		}
	}
	if c.JSON {
		return writeJSON(e.stdout, a)
	}
	return c.print(e, a)
}

// ask finds out from the server whether the record is still in force. A
// record that was amended or withdrawn since exits as an altered one does:
// neither should be relied on.
func (c *verifyCommand) ask(e *env, a *answer) error {
	ctx, cancel := context.WithTimeout(e.ctx, 20*time.Second)
	defer cancel()
	address := strings.TrimSuffix(c.Server, "/") + "/api/v1/verify/" + url.PathEscape(a.Number) + "/" +
		url.PathEscape(a.Code)
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return fmt.Errorf("--server %s: %w", c.Server, err)
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return fmt.Errorf("--server %s: %w", c.Server, err)
	}
	defer resp.Body.Close()
	var v app.Verdict
	switch resp.StatusCode {
	case http.StatusOK:
		if err := json.NewDecoder(io.LimitReader(resp.Body, 1<<16)).Decode(&v); err != nil {
			return fmt.Errorf("--server %s: the answer cannot be read: %w", c.Server, err)
		}
	case http.StatusNotFound:
		e.code = exitAdverse
		a.Reason += " The server does not know this number and code: is it the one that issued the record?"
		return nil
	default:
		return fmt.Errorf("--server %s: answered %s", c.Server, resp.Status)
	}
	a.Stage, a.ReplacedBy = v.Stage, v.ReplacedBy
	if v.Stage != records.StageIssued {
		e.code = exitAdverse
	}
	return nil
}

func (c *verifyCommand) print(e *env, a answer) error {
	fmt.Fprintf(e.stdout, "%s: %s\n%s\n", c.File, a.Judgement, a.Reason)
	if a.Number != "" {
		fmt.Fprintf(e.stdout, "Record %s, code %s, issued %s by %s.\n", a.Number, a.Code,
			a.IssuedAt.Format("2 January 2006 15:04 MST"), a.Firm)
		switch {
		case a.Stage == records.StageIssued:
			fmt.Fprintln(e.stdout, "It is in force.")
		case a.ReplacedBy != "":
			fmt.Fprintf(e.stdout, "It is superseded: record %s was issued in its place.\n", a.ReplacedBy)
		case a.Stage != "":
			fmt.Fprintf(e.stdout, "It is no longer in force: %s.\n", a.Stage)
		default:
			fmt.Fprintln(e.stdout, "Whether it is still in force, its verification page tells; so does --server.")
		}
	}
	if a.Key != "" {
		fmt.Fprintf(e.stdout, "Key fingerprint: %s\n", a.Key)
	}
	return nil
}

// keyInside returns the key that the file itself names, or nil.
func keyInside(file []byte) ed25519.PublicKey {
	files, err := seal.Attachments(file)
	if err != nil {
		return nil
	}
	s, err := records.UnmarshalSeal(files[pdf.SealFile])
	if err != nil || len(s.PublicKey) != ed25519.PublicKeySize {
		return nil
	}
	return s.PublicKey
}
