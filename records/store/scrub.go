package store

import (
	"context"
	"database/sql"
	"regexp"

	"github.com/pressly/goose/v3"

	"gaugebook/records"
)

// Schema 21 takes the tokens out of the messages that earlier programs kept in
// the clear; rewriteFile then takes away what is left of them in unused parts of
// the file. The links that customers have go on working: only hashes are needed
// for that.
func scrubbing() goose.ProviderOption {
	return goose.WithGoMigrations(goose.NewGoMigration(21, &goose.GoFunc{RunTx: scrubMessages}, nil))
}

// oldToken is a link with its token, as it stood in a message.
var oldToken = regexp.MustCompile(`/(join|r|stop)/([a-z2-7]{26,100})`)

func scrubMessages(ctx context.Context, tx *sql.Tx) error {
	type message struct {
		n                    int64
		ref, text, html, url string
	}
	rows, err := tx.QueryContext(ctx, `SELECT n, ref, text, html, stop_url FROM outbox
		WHERE text LIKE '%/join/%' OR text LIKE '%/r/%' OR text LIKE '%/stop/%'`)
	if err != nil {
		return err
	}
	defer rows.Close()
	var all []message
	for rows.Next() {
		var m message
		if err := rows.Scan(&m.n, &m.ref, &m.text, &m.html, &m.url); err != nil {
			return err
		}
		all = append(all, m)
	}
	if err := rows.Err(); err != nil {
		return err
	}
	for _, m := range all {
		found := oldToken.FindStringSubmatch(m.text)
		if found == nil {
			continue
		}
		of := StopToken
		switch found[1] {
		case "join":
			of = inviteToken + m.ref
		case "r":
			if of, err = linkOf(ctx, tx, found[2]); err != nil {
				return err
			}
		}
		clean := func(s string) string { return oldToken.ReplaceAllString(s, "/$1/"+records.TokenMark) }
		if _, err := tx.ExecContext(ctx, "UPDATE outbox SET text = ?, html = ?, stop_url = ?, token = ? WHERE n = ?",
			clean(m.text), clean(m.html), clean(m.url), of, m.n); err != nil {
			return err
		}
	}
	return nil
}

// linkOf names the customer's link that has a token, "" for one that there is
// no more.
func linkOf(ctx context.Context, tx *sql.Tx, token string) (string, error) {
	var id string
	err := tx.QueryRowContext(ctx, "SELECT id FROM links WHERE token_hash = ?", hashToken(token)).Scan(&id)
	if err == sql.ErrNoRows {
		return "", nil
	}
	return LinkToken(id), err
}
