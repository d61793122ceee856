package records_test

import (
	"testing"

	"gaugebook/records"
)

// An address that will never be called is refused where it is entered.
func TestWebhookAddresses(t *testing.T) {
	for address, want := range map[string]bool{
		"https://office.example/told": true, "https://8.8.8.8/told": true, "https://[2606:4700::1111]/told": true,
		"https://a2.example": true, "https://10.1.2.3/": false, "https://192.168.1.1/": false,
		"https://169.254.169.254/latest": false, "https://[fd12::1]/": false, "https://[::ffff:10.0.0.1]/": false,
		"https://[fe80::1%25eth0]/": false, "https://0.0.0.0/": false, "https://127.1/": false,
		"https://2130706433/": false, "https://0x7f.1/": false, "https://0177.0.0.1/": false, "https://10.1/": false,
		"https://192.168.1.1./": false, "https://127.0.0.1/": false, "https://localhost/": false,
		"https://198.51.100.7/": false, "http://office.example/": false, "https://office.example:0x50/": false,
	} {
		if _, _, err := records.CheckWebhook(address, records.WebhookEvents, false); (err == nil) != want {
			t.Errorf("%s: %v", address, err)
		}
	}
	for _, address := range []string{"http://127.0.0.1:8080/", "http://localhost/", "https://[::1]/"} {
		if _, _, err := records.CheckWebhook(address, records.WebhookEvents, true); err != nil {
			t.Errorf("%s, with loopback allowed: %v", address, err)
		}
	}
	if _, _, err := records.CheckWebhook("https://10.1.2.3/", records.WebhookEvents, true); err == nil {
		t.Error("allowing loopback allows a private network")
	}
}
