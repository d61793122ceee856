package signin

import (
	"container/list"
	"sync"
	"time"

	"github.com/go-webauthn/webauthn/webauthn"
)

const (
	// challengeLife is how long somebody may take to answer.
	challengeLife = 5 * time.Minute
	// mostChallenges bounds the memory that strangers can take: some 5 MB. Beyond
	// it the oldest is forgotten.
	mostChallenges = 10_000
)

// challenges are what browsers were asked to sign and have not answered. Each is
// taken out before its answer is looked at, so that none is answered twice.
// They are lost when the program ends; people then try again.
type challenges struct {
	now    func() time.Time
	mu     sync.Mutex
	byText map[string]*list.Element
	oldest *list.List // of challenge, in the order in which they were asked
}

type challenge struct {
	data  webauthn.SessionData
	until time.Time
}

func newChallenges(now func() time.Time) *challenges {
	return &challenges{now: now, byText: map[string]*list.Element{}, oldest: list.New()}
}

func (c *challenges) put(data webauthn.SessionData) {
	c.mu.Lock()
	defer c.mu.Unlock()
	now := c.now()
	for at := c.oldest.Front(); at != nil; at = c.oldest.Front() {
		first := at.Value.(challenge)
		if now.Before(first.until) && c.oldest.Len() < mostChallenges {
			break
		}
		c.forget(at)
	}
	c.byText[data.Challenge] = c.oldest.PushBack(challenge{data, now.Add(challengeLife)})
}

// take returns what was asked with a challenge, once.
func (c *challenges) take(text string) (data webauthn.SessionData, ok bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	at, ok := c.byText[text]
	if !ok {
		return data, false
	}
	found := at.Value.(challenge)
	c.forget(at)
	return found.data, c.now().Before(found.until)
}

func (c *challenges) forget(at *list.Element) {
	delete(c.byText, at.Value.(challenge).data.Challenge)
	c.oldest.Remove(at)
}
