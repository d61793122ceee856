package main

import (
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"filippo.io/age"

	"gaugebook/server/backup"
	"gaugebook/server/https"
	"gaugebook/server/mail"
)

// defaultZone is where days begin unless --zone says otherwise.
const defaultZone = "Europe/London"

// settings is everything that a server can be told. Secrets are in none of its
// flags: who lists the processes of a machine sees those.
type settings struct {
	home
	Listen   string        `env:"GAUGEBOOK_LISTEN" default:"127.0.0.1:8180" help:"Address to listen on."`
	BaseURL  string        `name:"base-url" env:"GAUGEBOOK_BASE_URL" help:"Address under which customers reach this server; default from --listen."`
	SMTP     string        `env:"GAUGEBOOK_SMTP" help:"Mail server, such as smtp+starttls://user@mail.example:587; default: .eml files in the data folder." placeholder:"URL"`
	SMTPFile string        `name:"smtp-password-file" env:"GAUGEBOOK_SMTP_PASSWORD_FILE" help:"File with the password for the mail server; or set GAUGEBOOK_SMTP_PASSWORD." type:"path" placeholder:"FILE"`
	Zone     string        `env:"GAUGEBOOK_ZONE" default:"Europe/London" help:"Time zone the firm works in."`
	Proxies  []string      `env:"GAUGEBOOK_PROXIES" help:"Address ranges (CIDR) of proxies whose X-Forwarded-For is believed."`
	Loopback bool          `name:"webhook-loopback" env:"GAUGEBOOK_WEBHOOK_LOOPBACK" help:"Allow webhooks to addresses of this machine, over plain http too."`
	HSTS     time.Duration `name:"hsts" env:"GAUGEBOOK_HSTS" default:"8760h" help:"How long browsers are told to come by https only, where --base-url is https; 0 tells them nothing."`
	Metrics  string        `name:"metrics-listen" env:"GAUGEBOOK_METRICS_LISTEN" help:"Address to answer collectors of metrics on, under /metrics; default: none. Let nobody else reach it." placeholder:"ADDRESS"`
	ownTLS
	backups
	Grace time.Duration `env:"GAUGEBOOK_GRACE" default:"10s" help:"How long running requests may take when the server is told to stop."`
}

// ownTLS is for a machine without a proxy in front.
type ownTLS struct {
	Hosts     []string `name:"tls-host" env:"GAUGEBOOK_TLS_HOST" help:"Speak https at --listen, with a certificate for this name, got and renewed by ACME; default: plain http, for a proxy." placeholder:"NAME"`
	Redirect  string   `name:"redirect-listen" env:"GAUGEBOOK_REDIRECT_LISTEN" help:"Address, such as :80, at which plain http is sent on to https." placeholder:"ADDRESS"`
	TLSEmail  string   `name:"tls-email" env:"GAUGEBOOK_TLS_EMAIL" help:"Address that the certificate authority writes to when something is wrong."`
	Directory string   `name:"acme-directory" env:"GAUGEBOOK_ACME_DIRECTORY" help:"ACME address of a certificate authority; default: the usual public one, whose terms you accept." placeholder:"URL"`
	Roots     string   `name:"acme-roots" env:"GAUGEBOOK_ACME_ROOTS" help:"Certificates (PEM) to trust when talking to that authority; default: those of the machine." type:"path" placeholder:"FILE"`
}

// backups is when and where the server makes backups by itself.
type backups struct {
	Dir        string        `name:"backup-dir" env:"GAUGEBOOK_BACKUP_DIR" help:"Folder to write backups to, better on another disk; default: none are made." type:"path" placeholder:"DIR"`
	Every      time.Duration `name:"backup-every" env:"GAUGEBOOK_BACKUP_EVERY" default:"24h" help:"How often."`
	Keep       int           `name:"backup-keep" env:"GAUGEBOOK_BACKUP_KEEP" default:"30" help:"How many copies of the register are kept."`
	Recipients []string      `name:"backup-recipient" env:"GAUGEBOOK_BACKUP_RECIPIENT" help:"Public key to encrypt backups for; “gaugebook key for-backups” makes one." placeholder:"KEY"`
}

// smtpPassword is where the password for the mail server may be.
const smtpPassword = "GAUGEBOOK_SMTP_PASSWORD"

// readSettings is settings as a server needs them.
type readSettings struct {
	zone       *time.Location
	proxies    []*net.IPNet
	sender     mail.Sender
	recipients []age.Recipient
	certs      *https.Certificates // nil without own TLS
}

// read returns what the settings say, and every error in them.
func (s settings) read() (out readSettings, err error) {
	var errs [6]error
	if out.zone, errs[0] = time.LoadLocation(s.Zone); errs[0] != nil {
		errs[0] = fmt.Errorf("--zone %q: not a known time zone, give one such as Europe/London", s.Zone)
	}
	if s.HSTS < 0 {
		errs[1] = fmt.Errorf("--hsts %s: give a time such as 8760h, or 0", s.HSTS)
	}
	out.proxies, errs[2] = networks(s.Proxies)
	out.sender, errs[3] = s.mailSender()
	if out.recipients, errs[4] = backup.Recipients(s.Recipients); errs[4] != nil {
		errs[4] = fmt.Errorf("--backup-recipient %w", errs[4])
	}
	out.certs, errs[5] = s.certificates(s.BaseURL)
	return out, errors.Join(errs[:]...)
}

// certificates returns nil where the server does not speak https itself. Whoever
// comes by another name than the base URL's would be shown no certificate.
func (s settings) certificates(base string) (*https.Certificates, error) {
	if len(s.Hosts) == 0 {
		if s.Redirect != "" {
			return nil, errors.New("--redirect-listen is for a server that speaks https itself: give --tls-host too")
		}
		return nil, nil
	}
	if u, err := url.Parse(base); base != "" && (err != nil || u.Scheme != "https" ||
		!slices.Contains(s.Hosts, u.Hostname())) {
		return nil, fmt.Errorf("--base-url %q: with --tls-host it begins with https://%s", base, s.Hosts[0])
	}
	o := https.Options{Hosts: s.Hosts, Dir: s.home.certificates(), Email: s.TLSEmail, Directory: s.Directory}
	if s.Roots != "" {
		text, err := os.ReadFile(s.Roots)
		if err != nil {
			return nil, fmt.Errorf("--acme-roots: %w", err)
		}
		if o.Roots = x509.NewCertPool(); !o.Roots.AppendCertsFromPEM(text) {
			return nil, fmt.Errorf("--acme-roots: there is no certificate in %s", s.Roots)
		}
	}
	certs, err := https.New(o)
	if err != nil {
		return nil, fmt.Errorf("--tls-host: %w", err)
	}
	return certs, nil
}

func networks(list []string) ([]*net.IPNet, error) {
	var out []*net.IPNet
	for _, s := range list {
		_, n, err := net.ParseCIDR(s)
		if err != nil {
			return nil, fmt.Errorf("--proxies %q: give an address range such as 10.0.0.0/8", s)
		}
		out = append(out, n)
	}
	return out, nil
}

// mailSender reads the mail server's address; none means a folder of .eml files.
func (s settings) mailSender() (mail.Sender, error) {
	if s.SMTP == "" {
		return mail.Folder{Dir: s.mailDir()}, nil
	}
	const want = "smtp://host:port (in the clear), smtp+starttls://… or smtps://…, with user@ where needed"
	u, err := url.Parse(s.SMTP)
	if err != nil || u.Hostname() == "" {
		return nil, fmt.Errorf("--smtp: give %s", want) // the address may hold a password: do not echo it
	}
	to := mail.SMTP{Host: u.Hostname(), Username: u.User.Username()}
	if to.Password, err = secretFrom("--smtp-password-file", s.SMTPFile, smtpPassword); err != nil {
		return nil, err
	}
	if inside, ok := u.User.Password(); ok && to.Password == "" {
		to.Password = inside
	}
	switch u.Scheme {
	case "smtp":
		to.Encryption = mail.EncryptNone
	case "smtp+starttls":
		to.Encryption = mail.EncryptStartTLS
	case "smtps":
		to.Encryption = mail.EncryptTLS
	default:
		return nil, fmt.Errorf("--smtp: scheme %q is not known, give %s", u.Scheme, want)
	}
	if p := u.Port(); p != "" {
		if to.Port, err = strconv.Atoi(p); err != nil {
			return nil, fmt.Errorf("--smtp: port %q is not a number", p)
		}
	}
	return to, to.Validate()
}

// secretFrom reads a secret from the file that the flag names or, if none is
// named, from the environment; "" where it is in neither.
func secretFrom(flag, file, variable string) (string, error) {
	if file == "" {
		return os.Getenv(variable), nil
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return "", fmt.Errorf("%s: %w", flag, err)
	}
	secret := strings.TrimRight(string(text), "\r\n")
	if secret == "" {
		return "", fmt.Errorf("%s: %s is empty", flag, file)
	}
	return secret, nil
}

// holdsPassword reports whether an address has a password in it.
func holdsPassword(address string) bool {
	u, err := url.Parse(address)
	if err != nil {
		return false
	}
	_, has := u.User.Password()
	return has
}
