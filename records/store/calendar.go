package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"gaugebook/records"
)

// MostFeeds is how many calendar addresses one person may have in use.
const MostFeeds = 10

// Feed is an address under which a calendar program reads the bookings.
type Feed struct {
	ID        string
	PersonID  string // whose bookings; "" for those of the whole office
	Person    string // their name
	OwnerID   string // who made the address
	Owner     string
	Token     string // set only where it is made; the store keeps its hash
	CreatedAt time.Time
	RevokedAt time.Time // zero while it holds
}

type feedRow struct {
	N                                           int64 `gorm:"primaryKey"`
	ID, PersonID, OwnerID, TokenHash, CreatedAt string
	RevokedAt                                   string
}

func (feedRow) TableName() string { return "feeds" }

type feedView struct {
	Feed   feedRow `gorm:"embedded"`
	Person string
	Owner  string
}

func (v feedView) feed() Feed {
	r := v.Feed
	return Feed{ID: r.ID, PersonID: r.PersonID, Person: v.Person, OwnerID: r.OwnerID, Owner: v.Owner,
		CreatedAt: instant(r.CreatedAt), RevokedAt: instant(r.RevokedAt)}
}

var feedColumns = "SELECT " + feedTable.list("f") + `, coalesce(p.name, '') AS person, o.name AS owner
	FROM feeds f
	LEFT JOIN people p ON p.id = f.person_id
	JOIN people o ON o.id = f.owner_id
	WHERE `

// hashFeed needs no salt: a token has more random bits than can be guessed.
func hashFeed(token string) string {
	sum := sha256.Sum256([]byte("gaugebook calendar\n" + token))
	return hex.EncodeToString(sum[:])
}

// AddFeed makes an address for the bookings of a person, or of the whole
// office for "", and returns it with its token, which is shown only once.
// Errors: NotFound; Conflict when the actor has MostFeeds in use.
func (s Bookings) AddFeed(ctx context.Context, actor records.Actor, personID string) (Feed, error) {
	token := NewToken()
	var row feedRow
	err := s.write(ctx, actor, func(t *tx) error {
		for _, id := range []string{actor.ID, personID} {
			if id == "" {
				continue // the whole office
			}
			if err := one(t.Where("id = ?", id), &personRow{}, "person", id); err != nil {
				return err
			}
		}
		var used int64
		inUse := t.Model(&feedRow{}).Where("owner_id = ? AND revoked_at = ''", actor.ID)
		if err := inUse.Count(&used).Error; err != nil {
			return err
		}
		if used >= MostFeeds {
			return records.Fail(records.Conflict,
				fmt.Sprintf("there are %d calendar addresses in use: end one first", used))
		}
		row = feedRow{ID: t.newID(), PersonID: personID, OwnerID: actor.ID, TokenHash: hashFeed(token),
			CreatedAt: stamp(t.at)}
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		return t.log("calendar address made", row.ID, detail{"of": personID})
	})
	if err != nil {
		return Feed{}, err
	}
	f := feedView{Feed: row}.feed()
	f.Token = token
	return f, nil
}

// FeedByToken returns the feed of an address. It is NotFound when there is
// none, it was ended, or whoever made it or is shown in it has a closed
// account or, for the whole office, may not see that any more.
func (s Bookings) FeedByToken(ctx context.Context, token string) (Feed, error) {
	var rows []feedView
	err := s.read(ctx).Raw(feedColumns+`f.token_hash = ? AND f.revoked_at = '' AND o.active = 1
		AND ((f.person_id = '' AND o.role <> 'engineer')
			OR (p.active = 1 AND (o.id = p.id OR o.role <> 'engineer')))`, hashFeed(token)).Scan(&rows).Error
	if err == nil && len(rows) == 0 {
		err = records.Fail(records.NotFound, "there is no such calendar") // the token must not be echoed
	}
	if err != nil {
		return Feed{}, explain(err)
	}
	return rows[0].feed(), nil
}

// Feeds returns the addresses in use without their tokens: those that a
// person made, or everybody's for "".
func (s Bookings) Feeds(ctx context.Context, ownerID string) ([]Feed, error) {
	where, args := "f.revoked_at = ''", []any{}
	if ownerID != "" {
		where, args = where+" AND f.owner_id = ?", append(args, ownerID)
	}
	var rows []feedView
	err := s.read(ctx).Raw(feedColumns+where+" ORDER BY f.n", args...).Scan(&rows).Error
	return mapped(rows, feedView.feed), explain(err)
}

// EndFeed ends an address for good; one that was ended stays so. With an
// ownerID it must be one that this person made. Errors: NotFound.
func (s Bookings) EndFeed(ctx context.Context, actor records.Actor, ownerID, id string) error {
	return s.write(ctx, actor, func(t *tx) error {
		q := t.Where("id = ?", id)
		if ownerID != "" {
			q = q.Where("owner_id = ?", ownerID)
		}
		var row feedRow
		if err := one(q, &row, "calendar address", id); err != nil {
			return err
		}
		if row.RevokedAt != "" {
			return nil
		}
		if err := t.Model(&row).Update("revoked_at", stamp(t.at)).Error; err != nil {
			return err
		}
		return t.log("calendar address ended", id, nil)
	})
}
