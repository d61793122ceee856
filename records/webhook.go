package records

import (
	"errors"
	"fmt"
	"net/netip"
	"net/url"
	"slices"
	"strings"
	"time"
)

// WebhookEvent is something that a webhook is told of.
type WebhookEvent string

// The events.
const (
	EventRecordIssued    WebhookEvent = "record.issued"
	EventRecordAmended   WebhookEvent = "record.amended" // by a later issue, which has an event of its own
	EventRecordWithdrawn WebhookEvent = "record.withdrawn"
	EventDutyLate        WebhookEvent = "duty.late" // once for each duty
)

// WebhookEvents lists them.
var WebhookEvents = []WebhookEvent{EventRecordIssued, EventRecordAmended, EventRecordWithdrawn, EventDutyLate}

// MostWebhooks is how many webhooks may be in use at once.
const MostWebhooks = 20

// Webhook is an address that is told what happens.
type Webhook struct {
	ID        string
	URL       string
	Secret    string // what is sent is signed with it; set only where it is made or used
	Events    []WebhookEvent
	MadeBy    string // name
	CreatedAt time.Time
	EndedAt   time.Time
}

// CheckWebhook returns the address in one spelling and the events in their
// usual order, or every error: an address must be https, or http to this
// machine where loopback is allowed, and one event at least must be chosen.
// Where a name leads is only known when it is called.
func CheckWebhook(rawURL string, events []WebhookEvent, loopback bool) (string, []WebhookEvent, error) {
	var c check
	address, err := webhookURL(rawURL, loopback)
	if err != nil {
		c.add("url", "Address", rawURL, err.Error())
	}
	known := slices.DeleteFunc(slices.Clone(WebhookEvents), func(e WebhookEvent) bool {
		return !slices.Contains(events, e)
	})
	if len(known) == 0 {
		c.add("events", "Events", "", fmt.Sprintf("at least one of %v", WebhookEvents))
	}
	return address, known, c.err()
}

func webhookURL(raw string, loopback bool) (string, error) {
	u, err := url.Parse(strings.TrimSpace(raw))
	const want = "an https address such as https://office.example/gaugebook"
	if err != nil || u.Hostname() == "" || len(raw) > 500 || u.User != nil || u.Fragment != "" || u.Opaque != "" {
		return "", errors.New(want + ", without user or fragment")
	}
	ip, notIP := netip.ParseAddr(u.Hostname())
	here := strings.EqualFold(u.Hostname(), "localhost") || notIP == nil && ip.Unmap().IsLoopback()
	switch {
	case notIP == nil && !here && !PublicAddress(ip):
		return "", errors.New(want + ": private and reserved addresses are not called")
	case notIP != nil && numericHost(u.Hostname()):
		return "", errors.New(want + ": write an address of four numbers in full, or a name")
	case here && !loopback:
		return "", errors.New(want + ": this machine itself is not allowed")
	case u.Scheme == "https", u.Scheme == "http" && here:
		return u.String(), nil
	}
	return "", errors.New(want)
}

// numericHost reports whether a host is no name but a number that some systems
// read as an address: its last part begins with a digit.
func numericHost(host string) bool {
	host = strings.TrimSuffix(host, ".")
	last := host[strings.LastIndexByte(host, '.')+1:]
	return last == "" || last[0] >= '0' && last[0] <= '9'
}

// WebhookDeliveryState is how far the delivery of one event has come.
type WebhookDeliveryState string

// The states. A delivery that was broken off is tried again: the receiver
// knows by the event's id what it has had.
const (
	WebhookDue       WebhookDeliveryState = "due"
	WebhookSending   WebhookDeliveryState = "sending"
	WebhookDelivered WebhookDeliveryState = "delivered"
	WebhookFailed    WebhookDeliveryState = "failed"
)

// WebhookDelivery is one event on its way to one webhook.
type WebhookDelivery struct {
	ID        string
	WebhookID string
	URL       string
	Secret    string // only where it is claimed to be sent
	EventID   string
	Event     WebhookEvent
	Body      []byte
	State     WebhookDeliveryState
	Attempts  int // begun
	NextAt    time.Time
	Status    int // of the last answer; 0 for none
	Problem   string
	CreatedAt time.Time
	UpdatedAt time.Time
}
