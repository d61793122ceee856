package servertest

import (
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"gaugebook/records"
)

// Client is a browser without script. It does not follow redirects.
type Client struct {
	tb     testing.TB
	base   string
	client *http.Client
	Header http.Header // sent with every request
}

// Page is an answer.
type Page struct {
	Status   int
	Body     string
	Header   http.Header
	Location string
}

// Guest returns a client that is not signed in.
func (s *Site) Guest() *Client {
	s.tb.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		s.tb.Fatal(err)
	}
	return &Client{tb: s.tb, base: s.HTTP.URL, Header: http.Header{"Sec-Fetch-Site": {"same-origin"}},
		client: &http.Client{
			Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

// As returns a client signed in as the person of a role.
func (s *Site) As(role records.Role) *Client {
	s.tb.Helper()
	c := s.Guest()
	p := c.Post("/sign-in", url.Values{"email": {s.People[role].Email}, "password": {Password}})
	if p.Status != http.StatusSeeOther {
		s.tb.Fatalf("sign-in as %s: status %d", role, p.Status)
	}
	return c
}

// Get asks for a page.
func (c *Client) Get(path string) Page { return c.Do(http.MethodGet, path, nil) }

// Post sends a form.
func (c *Client) Post(path string, form url.Values) Page { return c.Do(http.MethodPost, path, form) }

// Do sends a request with a form as its body.
func (c *Client) Do(method, path string, form url.Values) Page {
	c.tb.Helper()
	if form == nil {
		return c.Send(method, path, "", nil)
	}
	return c.Send(method, path, "application/x-www-form-urlencoded", strings.NewReader(form.Encode()))
}

// Send sends a request with any body.
func (c *Client) Send(method, path, contentType string, body io.Reader) Page {
	c.tb.Helper()
	req, err := http.NewRequest(method, c.base+path, body)
	if err != nil {
		c.tb.Fatal(err)
	}
	for name, values := range c.Header {
		req.Header[name] = values
	}
	if contentType != "" {
		req.Header.Set("Content-Type", contentType)
	}
	res, err := c.client.Do(req)
	if err != nil {
		c.tb.Fatal(err)
	}
	defer res.Body.Close()
	data, err := io.ReadAll(res.Body)
	if err != nil {
		c.tb.Fatal(err)
	}
	return Page{Status: res.StatusCode, Body: string(data), Header: res.Header, Location: res.Header.Get("Location")}
}

// Cookies returns the client's cookies, for a browser to take over.
func (c *Client) Cookies() []*http.Cookie {
	u, err := url.Parse(c.base)
	if err != nil {
		c.tb.Fatal(err)
	}
	return c.client.Jar.Cookies(u)
}

// betweenTags is the white space of a page that means nothing.
var betweenTags = regexp.MustCompile(`>\s+<`)

// Expect asks for a page and reports an answer of another status, one that lacks
// any of has or holds any of hasNot.
func (c *Client) Expect(path string, status int, has, hasNot []string) {
	c.tb.Helper()
	p := c.Get(path)
	if p.Status != status {
		c.tb.Errorf("GET %s: status %d, want %d\n%s", path, p.Status, status, Clip(p.Body))
		return
	}
	body := betweenTags.ReplaceAllString(p.Body, "><")
	for _, s := range has {
		if !strings.Contains(body, s) {
			c.tb.Errorf("GET %s: no %q in\n%s", path, s, Clip(p.Body))
		}
	}
	for _, s := range hasNot {
		if strings.Contains(body, s) {
			c.tb.Errorf("GET %s: there is a %q in\n%s", path, s, Clip(p.Body))
		}
	}
}

// Form is a form of names and values in turn.
func Form(pairs ...string) url.Values {
	v := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		v.Add(pairs[i], pairs[i+1])
	}
	return v
}

// FormWith is a form with some values set differently.
func FormWith(base []string, more ...string) url.Values {
	v := Form(base...)
	for i := 0; i+1 < len(more); i += 2 {
		v.Set(more[i], more[i+1])
	}
	return v
}

// Clip keeps what a failing test shows of a page readable.
func Clip(body string) string { return body[:min(len(body), 6000)] }

// ErrorsOf shows the lines of a page that speak of an error.
func ErrorsOf(body string) string {
	var out []string
	for _, l := range strings.Split(body, "\n") {
		if strings.Contains(l, "error") || strings.Contains(l, "notice") {
			out = append(out, l)
		}
	}
	return strings.Join(out, "\n")
}

// Values returns what the hidden fields and boxes of a name hold on a page.
func Values(body, name string) []string {
	var out []string
	for _, m := range regexp.MustCompile(`name="`+name+`" value="([^"]*)"`).FindAllStringSubmatch(body, -1) {
		out = append(out, m[1])
	}
	return out
}

var revisionField = regexp.MustCompile(`name="revision" value="(\d+)"`)

// RevisionIn returns the revision that a form on a page was made from.
func RevisionIn(tb testing.TB, body string) string {
	tb.Helper()
	m := revisionField.FindStringSubmatch(body)
	if m == nil {
		tb.Fatalf("no revision in\n%s", Clip(body))
	}
	return m[1]
}
