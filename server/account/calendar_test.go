package account_test

import (
	"bytes"
	"encoding/json"
	"net/http"
	"net/url"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/server/account"
	"gaugebook/server/servertest"
)

type readEvent struct {
	UID, Status, Summary, Location, Description, Stamp, Start, End string
	Sequence                                                       int
	Broken                                                         []string
}

// readCalendar reads the bytes with Debian's python3-icalendar and checks what
// RFC 5545 asks of them (3.1: CRLF, lines of at most 75 octets).
func readCalendar(t *testing.T, raw string) []readEvent {
	t.Helper()
	cmd := exec.Command("/usr/bin/python3", "../../testdata/calendar/read.py")
	cmd.Stdin = strings.NewReader(raw)
	var problems bytes.Buffer
	cmd.Stderr = &problems
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("needs Debian's python3-icalendar: %v %s", err, problems.String())
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	var form struct {
		BareLineFeeds int `json:"bare_line_feeds"`
		Longest       int
		Ends          bool
	}
	var head struct {
		Version, ProdID string
		Broken          []string
	}
	if json.Unmarshal([]byte(lines[0]), &form) != nil || json.Unmarshal([]byte(lines[1]), &head) != nil {
		t.Fatalf("answer %s", out)
	}
	if form.BareLineFeeds != 0 || form.Longest > 75 || !form.Ends || head.Version != "2.0" || head.ProdID == "" ||
		len(head.Broken) > 0 {
		t.Errorf("form %+v %+v", form, head)
	}
	var events []readEvent
	for _, l := range lines[2:] {
		var e readEvent
		if err := json.Unmarshal([]byte(l), &e); err != nil {
			t.Fatal(err)
		}
		if len(e.Broken) > 0 {
			t.Errorf("broken: %v", e.Broken)
		}
		events = append(events, e)
	}
	return events
}

func TestCalendarFeed(t *testing.T) {
	site := servertest.Start(t)
	office, engineer := site.As(records.RoleOffice), site.As(records.RoleEngineer)
	who := site.People[records.RoleEngineer].ID
	d := site.DutyAt(site.Appliance.ID, records.AnnualService, "2026-12-10")
	form := url.Values{"appliance": {site.Appliance.ID}, "duty": {d.ID}, "engineer": {who}, "on": {"2026-12-01"},
		"note": {"Key; with the neighbour, number 5\\b.\nÀ gauche, derrière l’église, très loin, et puis " +
			"encore tout droit jusqu’à la fin."}}
	id := office.Book(form)

	p := engineer.Post("/calendar", url.Values{"of": {"own"}})
	m := regexp.MustCompile(`/calendar/([a-z0-9]{26,})\.ics`).FindStringSubmatch(p.Body)
	if p.Status != 200 || m == nil {
		t.Fatalf("no address: %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	path, guest := m[0], site.Guest()
	p = guest.Get(path)
	if p.Status != 200 || p.Header.Get("Content-Type") != "text/calendar; charset=utf-8" ||
		!strings.Contains(p.Header.Get("X-Robots-Tag"), "noindex") {
		t.Fatalf("feed: %d %v", p.Status, p.Header)
	}
	e := readCalendar(t, p.Body)
	if len(e) != 1 || e[0].UID != id+"@gaugebook" || e[0].Sequence != 0 || e[0].Status != "CONFIRMED" ||
		e[0].Start != "2026-12-01" || e[0].End != "2026-12-02" ||
		!strings.HasPrefix(e[0].Summary, "Annual service, ") || e[0].Location != site.Property.OneLine() ||
		!strings.Contains(e[0].Description, "number 5\\b.\nÀ gauche") {
		t.Errorf("events %+v", e)
	}

	// Unchanged, it is not sent again.
	tag := p.Header.Get("ETag")
	guest.Header.Set("If-None-Match", tag)
	if p := guest.Get(path); p.Status != http.StatusNotModified || p.Body != "" {
		t.Errorf("unchanged: %d", p.Status)
	}
	move := url.Values{"on": {"2026-12-02"}, "engineer": {who}, "from": {"08:30"}, "until": {"10:00"}, "why": {"asked"}}
	if p := office.Post("/bookings/"+id+"/move", move); p.Status != 303 {
		t.Fatalf("moved: %d", p.Status)
	}
	p = guest.Get(path)
	if p.Status != 200 || p.Header.Get("ETag") == tag {
		t.Errorf("changed: %d %s", p.Status, p.Header.Get("ETag"))
	}
	if e = readCalendar(t, p.Body); len(e) != 1 || e[0].UID != id+"@gaugebook" || e[0].Sequence != 1 ||
		e[0].Start != "2026-12-02T08:30:00+00:00" || e[0].End != "2026-12-02T10:00:00+00:00" {
		t.Errorf("moved %+v", e)
	}
	office.Post("/bookings/"+id+"/cancel", url.Values{"why": {"sold"}})
	if e = readCalendar(t, guest.Get(path).Body); e[0].Status != "CANCELLED" || e[0].Sequence != 2 {
		t.Errorf("cancelled %+v", e)
	}

	// The office sees all; nobody else may have that.
	p = office.Post("/calendar", url.Values{"of": {"office"}})
	all := regexp.MustCompile(`/calendar/[a-z0-9]{26,}\.ics`).FindString(p.Body)
	if e = readCalendar(t, site.Guest().Get(all).Body); len(e) != 1 {
		t.Errorf("whole office %+v", e)
	}
	if p := engineer.Post("/calendar", url.Values{"of": {"office"}}); p.Status != 403 {
		t.Errorf("office calendar for an engineer: %d", p.Status)
	}
	feeds, err := site.Store.Bookings.Feeds(t.Context(), who)
	if err != nil || len(feeds) != 1 {
		t.Fatalf("%v %v", feeds, err)
	}
	if p := office.Post("/calendar/"+feeds[0].ID+"/end", nil); p.Status != 404 {
		t.Errorf("ended by the office: %d", p.Status)
	}
	if p := engineer.Post("/calendar/"+feeds[0].ID+"/end", url.Values{}); p.Status != 303 {
		t.Errorf("ended: %d", p.Status)
	}
	for _, bad := range []string{path, "/calendar/none.ics", strings.TrimSuffix(all, ".ics")} {
		if p := site.Guest().Get(bad); p.Status != 404 || strings.Contains(p.Body, strings.TrimSuffix(bad, ".ics")) {
			t.Errorf("%s: %d", bad, p.Status)
		}
	}
}

// Across the change to summer time the window stays what was said.
// Source: the Summer Time Order 2002 (last Sunday of March, 01:00 GMT).
func TestCalendarInSummerTime(t *testing.T) {
	zone, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	list := []records.Booking{
		{ID: "a", Appointment: records.Appointment{On: records.MustDate("2027-03-27"), From: "09:00", Until: "10:00"}},
		{ID: "b", Appointment: records.Appointment{On: records.MustDate("2027-03-29"), From: "09:00", Until: "10:00"}},
	}
	e := readCalendar(t, string(account.Calendar("x", "https://records.example", zone, list)))
	if e[0].Start != "2027-03-27T09:00:00+00:00" || e[1].Start != "2027-03-29T08:00:00+00:00" {
		t.Errorf("starts %s and %s", e[0].Start, e[1].Start)
	}
}
