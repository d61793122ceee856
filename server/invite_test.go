package server_test

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server"
	"gaugebook/server/servertest"
)

// linkIn returns the path of the link in the newest message to an address.
func linkIn(t *testing.T, site *servertest.Site, email string) string {
	t.Helper()
	messages, _, err := site.Store.Outbox.Find(t.Context(), store.OutboxQuery{State: records.MessageDue})
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range messages {
		if m.ToEmail == email {
			if link := regexp.MustCompile(`/join/[a-z0-9]+`).FindString(m.Text); link != "" &&
				strings.Contains(m.HTML, link) {
				return link
			}
		}
	}
	t.Fatalf("no letter to %s among %d", email, len(messages))
	return ""
}

func TestInvitationFromFormToSignIn(t *testing.T) {
	site := servertest.Start(t)
	owner := site.As(records.RoleOwner)
	const email, password = "wilf@tweddle.example", "four words of tea"
	if p := owner.Post("/people", form("name", "Wilf Marchbank", "email", email, "role", "engineer", "licence",
		"7000009", "competence_until", "2028-01-31")); p.Status != 303 {
		t.Fatalf("status %d", p.Status)
	}
	if site.Woken == 0 {
		t.Error("the outbox was not woken")
	}
	check(t, owner, expect{"/people", 200, []string{"is on its way to " + email, "not set yet",
		"link sent, works until", "Cancel the link"}, []string{"/join/"}})
	link := linkIn(t, site, email)
	if p := site.Guest().Post("/sign-in", form("email", email, "password", "")); p.Status != 422 {
		t.Errorf("signed in without a password: %d", p.Status)
	}
	guest := site.Guest()
	check(t, guest, expect{link, 200, []string{"Wilf Marchbank", email, "noindex", "no-referrer"}, nil})
	for _, bad := range []struct{ password, again, says string }{
		{"short", "short", "12 to 200 characters"}, {"", "", "12 to 200 characters"},
		{password, password + "s", "exactly what stands"},
		{strings.ToUpper(email), strings.ToUpper(email), "other than your e-mail"},
	} {
		p := guest.Post(link, form("password", bad.password, "again", bad.again))
		if p.Status != 422 || !strings.Contains(p.Body, bad.says) || bad.password != "" &&
			strings.Contains(p.Body, `value="`+bad.password) {
			t.Errorf("%q: status %d\n%s", bad.password, p.Status, errorsOf(p.Body))
		}
	}
	if p := guest.Post(link, form("password", password, "again", password)); p.Status != 303 || p.Location != "/" {
		t.Fatalf("status %d to %q", p.Status, p.Location)
	}
	check(t, guest, expect{"/", 200, []string{"Wilf Marchbank", "You are signed in"}, nil})
	for _, again := range []servertest.Page{site.Guest().Get(link), site.Guest().Post(link, form("password",
		"another four words", "again", "another four words"))} {
		if again.Status != http.StatusNotFound || strings.Contains(again.Body, "Wilf") {
			t.Errorf("the link works twice: %d", again.Status)
		}
	}
	if p := site.Guest().Post("/sign-in", form("email", email, "password", password)); p.Status != 303 {
		t.Errorf("sign-in: %d", p.Status)
	}
	check(t, owner, expect{"/people", 200, []string{"Send a link for a new one"},
		[]string{"not set yet", "Cancel the link"}})
}

func TestResetRevokeAndClose(t *testing.T) {
	site := servertest.Start(t)
	owner, engineer := site.As(records.RoleOwner), site.As(records.RoleEngineer)
	maud := site.People[records.RoleEngineer]
	path := "/people/" + maud.ID
	if p := owner.Post(path+"/invite", url.Values{}); p.Status != 303 {
		t.Fatal(p.Status)
	}
	link := linkIn(t, site, maud.Email)
	if got := engineer.Get("/").Status; got != 200 {
		t.Errorf("a link alone signs out: %d", got)
	}
	owner.Post(path+"/invite/revoke", url.Values{})
	if got := site.Guest().Get(link).Status; got != 404 {
		t.Errorf("revoked link: %d", got)
	}
	if p := owner.Post(path+"/invite/revoke", url.Values{}); p.Status != 404 {
		t.Errorf("revoked again: %d", p.Status)
	}
	owner.Post(path+"/invite", url.Values{})
	const fresh = "lamp oil and biscuits"
	if p := site.Guest().Post(linkIn(t, site, maud.Email), form("password", fresh, "again", fresh)); p.Status != 303 {
		t.Fatal(p.Status)
	}
	if got := engineer.Get("/").Status; got != 303 {
		t.Errorf("the session from before the reset holds: %d", got)
	}
	in := site.Guest()
	in.Post("/sign-in", form("email", maud.Email, "password", fresh))
	edit := form("name", maud.Name, "email", maud.Email, "role", "engineer", "active", "closed", "password",
		"is not looked at")
	if p := owner.Post(path, edit); p.Status != 303 {
		t.Fatal(p.Status)
	}
	edit.Set("active", "active")
	if p := owner.Post(path, edit); p.Status != 303 {
		t.Fatal(p.Status)
	}
	if got := in.Get("/").Status; got != 303 {
		t.Errorf("a session outlived the closing of its account: %d", got)
	}
	if p := site.Guest().Post("/sign-in", form("email", maud.Email, "password", fresh)); p.Status != 303 {
		t.Errorf("sign-in after opening the account again: %d", p.Status)
	}
}

func TestOwnPassword(t *testing.T) {
	site := servertest.Start(t)
	here, there := site.As(records.RoleOffice), site.As(records.RoleOffice)
	const fresh = "lamp oil and biscuits"
	check(t, here, expect{"/password", 200, []string{"Present password"}, nil})
	for _, bad := range []url.Values{
		form("present", "wrong wrong wrong", "password", fresh, "again", fresh),
		form("password", fresh, "again", fresh),
		form("present", servertest.Password, "password", "short", "again", "short"),
		form("present", servertest.Password, "password", fresh),
	} {
		if p := here.Post("/password", bad); p.Status != 422 || strings.Contains(p.Body, fresh) {
			t.Errorf("%v: status %d", bad, p.Status)
		}
	}
	if p := here.Post("/password", form("present", servertest.Password, "password", fresh, "again",
		fresh)); p.Status != 303 {
		t.Fatal(p.Status)
	}
	check(t, here, expect{"/", 200, []string{"Your password has been changed"}, nil})
	if got := there.Get("/").Status; got != 303 {
		t.Errorf("the other session holds: %d", got)
	}
	email := site.People[records.RoleOffice].Email
	if p := site.Guest().Post("/sign-in", form("email", email, "password", servertest.Password)); p.Status != 422 {
		t.Errorf("the old password still works: %d", p.Status)
	}
}

func TestNoLinkWithoutAnAddressToSendFrom(t *testing.T) {
	site := servertest.Start(t)
	owner := site.As(records.RoleOwner)
	if p := owner.Post("/firm", form("name", "Tweddle Heating")); p.Status != 303 {
		t.Fatal(p.Status)
	}
	check(t, owner, expect{"/people", 200, []string{"No link can be sent"}, nil})
	if p := owner.Post("/people/"+site.People[records.RoleOffice].ID+"/invite",
		url.Values{}); p.Status != http.StatusConflict {
		t.Errorf("status %d", p.Status)
	}
	owner.Post("/people", form("name", "Wilf Marchbank", "email", "wilf@tweddle.example", "role", "office"))
	check(t, owner, expect{"/people", 200, []string{"Wilf Marchbank", "Added, but no link could be sent"}, nil})
}

// mayBy is who a heading of the page of roles means; the last are guests too.
var mayBy = map[string][]records.Role{
	"Everybody who signs in may":                   records.Roles,
	"Engineers and the owner may also":             {records.RoleEngineer, records.RoleOwner},
	"The office and the owner may also":            {records.RoleOffice, records.RoleOwner},
	"Only the owner may":                           {records.RoleOwner},
	"Customers and others may, without signing in": records.Roles,
}

// saidOfRoles reads the page of roles: the heading that each sentence is under.
func saidOfRoles(t *testing.T, page string) map[string]string {
	t.Helper()
	said := map[string]string{}
	headings := regexp.MustCompile(`(?s)<h2>(.*?)</h2>(.*?)</ul>`).FindAllStringSubmatch(page, -1)
	if len(headings) != len(mayBy) {
		t.Fatalf("%d headings", len(headings))
	}
	for _, h := range headings {
		if mayBy[h[1]] == nil {
			t.Fatalf("who is %q", h[1])
		}
		for _, line := range regexp.MustCompile(`<li>(.*?)</li>`).FindAllStringSubmatch(h[2], -1) {
			said[line[1]] = h[1]
		}
	}
	return said
}

// The page of roles says of every route and role what really happens.
func TestRolesPageIsWhatHappens(t *testing.T) {
	site := servertest.Start(t)
	said := saidOfRoles(t, site.As(records.RoleOffice).Get("/roles").Body)
	token := map[records.Role]string{}
	clients := map[records.Role]*servertest.Client{}
	for _, role := range records.Roles {
		clients[role] = site.As(role)
		k, err := site.Store.People.NewKey(t.Context(), records.Actor{Name: "test"}, site.People[role].ID, "test")
		if err != nil {
			t.Fatal(err)
		}
		token[role] = k.Token
	}
	table := append(server.RouteTable(site.Server), server.APITable(site.Server)...)
	fill := regexp.MustCompile(`:\w+|\*`)
	for _, r := range table {
		words := server.WordsOf(r.Method + " " + r.Path)
		who := said[words]
		if words == "" || strings.HasPrefix(r.Path, "/sign-") {
			continue // no person opens it, or it changes who is signed in
		}
		if who == "" {
			t.Errorf("%s %s: %q is not on the page", r.Method, r.Path, words)
			continue
		}
		api := strings.HasPrefix(r.Path, "/api/")
		path := fill.ReplaceAllString(r.Path, "none")
		for _, role := range records.Roles {
			c := clients[role]
			if api {
				c = site.Guest()
				c.Header.Set("Authorization", "Bearer "+token[role])
			}
			got, may := c.Do(r.Method, path, url.Values{}).Status, slices.Contains(mayBy[who], role)
			if (got == http.StatusForbidden) == may {
				t.Errorf("%s %s as %s: status %d, the page says %v", r.Method, path, role, got, may)
			}
		}
		p := site.Guest().Do(r.Method, path, url.Values{})
		shut := strings.HasPrefix(p.Location, "/sign-in") || p.Status == http.StatusUnauthorized
		if shut == strings.HasPrefix(who, "Customers") {
			t.Errorf("%s %s as a guest: status %d, the page says %q", r.Method, path, p.Status, who)
		}
	}
}
