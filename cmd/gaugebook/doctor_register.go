package main

import (
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"strings"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
)

// insideRegister checks what the register says against what is around it.
func (d *doctor) insideRegister(ctx context.Context, st *store.Store) {
	d.firmKey(ctx, st)
	d.clock(ctx, st)
	d.dropBands(ctx, st)
	firm, err := st.Settings.Firm(ctx)
	if err != nil {
		d.tell("firm", wrong, err.Error(), "")
		return
	}
	if firm.Name == "" || firm.Registration == "" {
		d.tell("firm", attention, "its name or registration is missing, and stands on every paper",
			"An owner enters them under Firm.")
	}
	if d.SMTP == "" {
		d.tell("mail", attention, "no mail server is named: messages are put as files into "+d.mailDir()+
			" and reach nobody", "Name your mail server with --smtp.")
	}
	_, domain, _ := strings.Cut(firm.Email, "@")
	if domain == "" {
		d.tell("mail", wrong, "the firm has no e-mail address, so nothing can be sent",
			"An owner enters it under Firm.")
		return
	}
	d.mailDomain(ctx, domain)
}

// firmKey holds the key against the newest seal.
func (d *doctor) firmKey(ctx context.Context, st *store.Store) {
	const check = "firm's key"
	key, err := d.readKey(d.keyFile())
	switch {
	case errors.Is(err, fs.ErrNotExist):
		d.tell(check, wrong, d.keyFile()+" is missing", "Restore it from where you keep a copy: the server does not "+
			"start without it, and nothing issued can be proved.")
		return
	case err != nil:
		d.tell(check, wrong, err.Error(), "Restore it from where you keep a copy.")
		return
	}
	if err := st.Settings.FitsKey(ctx, key.Public().(ed25519.PublicKey)); err != nil {
		d.tell(check, wrong, err.Error(), "Put the right key back; the server does not start with another.")
		return
	}
	d.tell(check, well, records.KeyName(key.Public().(ed25519.PublicKey))+", that of the newest seal", "")
	d.keyBesideRegister(check)
}

// keyBesideRegister says what it means that both are in one folder.
func (d *doctor) keyBesideRegister(check string) {
	data, err := os.ReadFile(d.keyFile())
	switch {
	case err != nil: // it was read a moment ago
		d.tell(check, wrong, err.Error(), "Run this again.")
	case !protected(data):
		d.tell(check, note, "key and register are in one folder: whoever can read the folder, or has a copy of it, "+
			"can sign in the firm's name",
			"Protect the key with a passphrase that is kept elsewhere: “gaugebook key protect”.")
	case d.Passphrase != "" && within(d.Passphrase, d.Data):
		d.tell(check, attention, "its passphrase is in the same folder, where it protects nothing",
			"Move "+d.Passphrase+" out of "+d.Data+".")
	default:
		d.tell(check, well, "protected by a passphrase: a copy of the folder alone signs nothing", "")
	}
}

// clock holds the machine's clock against the log.
func (d *doctor) clock(ctx context.Context, st *store.Store) {
	latest, err := st.Audit.Latest(ctx)
	if err != nil {
		d.tell("clock", wrong, err.Error(), "“gaugebook audit” tells what is wrong with the log.")
		return
	}
	now := d.now()
	if latest.Sub(now) > store.ClockMayLag {
		d.tell("clock", wrong, fmt.Sprintf("it says %s, but an entry of the log is of %s: nothing is issued",
			now.Format(time.RFC3339), latest.Format(time.RFC3339)), "Put the machine's clock right. If "+
			"it is right and was ahead before: “gaugebook clock-is-right”.")
		return
	}
	d.tell("clock", well, now.Format(time.RFC3339)+", after every entry of the log", "")
}

// dropBands names the tables that only the firm can enter.
func (d *doctor) dropBands(ctx context.Context, st *store.Store) {
	const check = "permissible drops"
	all, err := st.Settings.DropBands(ctx)
	if err != nil {
		d.tell(check, wrong, err.Error(), "")
		return
	}
	entered := map[records.OwnersTable]bool{}
	for _, b := range all {
		entered[records.OwnersTable{Edition: b.Edition, Fuel: b.Fuel}] = true
	}
	for _, table := range records.OwnersTables {
		name := strings.ReplaceAll(table.Edition+", "+table.Fuel, "-", " ")
		if entered[table] {
			d.tell(check, well, name+": entered", "")
			continue
		}
		d.tell(check, attention, name+": not entered, so a drop that needs them is missing and its record stays open",
			"An owner enters them under Firm → Permissible drops, from the firm's own copy of the standard.")
	}
}

// lookupTime is how long one question to the name server may take.
const lookupTime = 3 * time.Second

// mailDomain looks up what receivers judge the firm's mail by. A name server
// that does not answer, or knows no names of the outside, says nothing about the
// domain.
func (d *doctor) mailDomain(ctx context.Context, domain string) {
	check := "mail domain " + domain
	ctx, cancel := context.WithTimeout(ctx, 3*lookupTime)
	defer cancel()
	spf, err1 := d.texts(ctx, domain, "v=spf1")
	dmarc, err2 := d.texts(ctx, "_dmarc."+domain, "v=DMARC1")
	mx, err3 := d.names.LookupMX(ctx, domain)
	offline := errors.Join(silent(err1), silent(err2), silent(err3))
	if offline == nil && len(spf)+len(dmarc)+len(mx) == 0 {
		_, offline = d.names.LookupNS(ctx, ".")
	}
	if offline != nil {
		first, _, _ := strings.Cut(offline.Error(), "\n")
		d.tell(check, note, "not looked up: no names can be looked up from here ("+first+")",
			"Run this again where they can.")
		return
	}
	switch len(spf) {
	case 0:
		d.tell(check, attention, "no SPF record says which servers may send for it",
			"Add a TXT record such as “v=spf1 mx -all”; your mail provider names the right one.")
	case 1:
		d.tell(check, well, "SPF: "+spf[0], "")
	default: // RFC 7208, section 4.5
		d.tell(check, wrong, fmt.Sprintf("%d SPF records: receivers then ignore all of them", len(spf)), "Keep one.")
	}
	switch len(dmarc) {
	case 0:
		d.tell(check, attention, "no DMARC record", "Add the TXT record _dmarc."+domain+", such as “v=DMARC1; p=none”.")
	case 1:
		d.tell(check, well, "DMARC: "+dmarc[0], "")
	default: // RFC 7489, section 6.6.3
		d.tell(check, wrong, fmt.Sprintf("%d DMARC records: receivers then ignore all of them", len(dmarc)),
			"Keep one.")
	}
	if len(mx) == 0 {
		d.tell(check, wrong, "no server takes mail for it, so answers and bounces are lost", "Add an MX record.")
		return
	}
	d.tell(check, well, "mail to it goes to "+strings.TrimSuffix(mx[0].Host, "."), "")
}

// texts returns the TXT records of a name that begin with a version tag.
func (d *doctor) texts(ctx context.Context, name, tag string) (out []string, err error) {
	ctx, cancel := context.WithTimeout(ctx, lookupTime)
	defer cancel()
	all, err := d.names.LookupTXT(ctx, name)
	for _, text := range all {
		first, _, _ := strings.Cut(text, " ")
		if strings.TrimSuffix(strings.TrimSpace(first), ";") == tag {
			out = append(out, text)
		}
	}
	return out, err
}

// silent is an error that says nothing about the name: nil for one that says that
// there is no such name.
func silent(err error) error {
	var dns *net.DNSError
	if errors.As(err, &dns) && dns.IsNotFound {
		return nil
	}
	return err
}
