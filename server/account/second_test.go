package account_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

// setUp sets up one-time codes as a person does.
func setUp(t *testing.T, site *servertest.Site, c *servertest.Client) (*servertest.Phone, []string) {
	t.Helper()
	phone, _ := site.SetUpCodes(c)
	return phone, phone.Recovery
}

func signInForm(p records.Person) url.Values {
	return servertest.Form("email", p.Email, "password", servertest.Password, "next", "/find")
}

func TestSignInInTwoSteps(t *testing.T) {
	site := servertest.Start(t)
	maud := site.People[records.RoleEngineer]
	c := site.As(records.RoleEngineer)
	if p := c.Post("/account/codes/confirm", servertest.Form("code", "123456")); p.Status != http.StatusConflict {
		t.Errorf("confirmed before it was begun: %d", p.Status)
	}
	if p := c.Post("/account/codes", nil); !strings.Contains(p.Body, `<svg class="qr"`) {
		t.Fatalf("%d", p.Status)
	}
	p := c.Post("/account/codes/confirm", servertest.Form("code", "12 34"))
	if p.Status != 422 || !strings.Contains(p.Body, "this code is not right") ||
		!strings.Contains(p.Body, `<svg class="qr"`) {
		t.Errorf("a wrong first code: %d", p.Status)
	}
	phone, recovery := setUp(t, site, c)
	if len(recovery) != 10 {
		t.Fatalf("%d recovery codes", len(recovery))
	}
	c.Expect("/account", 200, []string{"One-time codes", "10 of 10 left"}, append(recovery, "QR code"))

	// The password alone opens nothing.
	c = site.Guest()
	p = c.Post("/sign-in", signInForm(maud))
	if p.Status != 303 || p.Location != "/sign-in/code?next=%2Ffind" {
		t.Fatalf("the first step: %d to %s", p.Status, p.Location)
	}
	at := p.Location
	for _, path := range []string{"/", "/account", "/find", "/account/second-step"} {
		if p := c.Get(path); p.Status != 303 || !strings.HasPrefix(p.Location, "/sign-in") {
			t.Errorf("after the first step %s: %d to %s", path, p.Status, p.Location)
		}
	}
	c.Expect(at, 200, []string{"Second step", "Six digits from your app"}, nil)
	for _, wrong := range []string{"", "000000", "abcdefgh2345wxyz", strings.Repeat("9", 4000)} {
		p := c.Post(at, servertest.Form("code", wrong))
		if p.Status != 422 || !strings.Contains(p.Body, `aria-invalid="true"`) {
			t.Errorf("%.10q: %d", wrong, p.Status)
		}
	}
	code := phone.Code()
	if p := c.Post(at, servertest.Form("code", code)); p.Status != 303 || p.Location != "/find" {
		t.Fatalf("the second step: %d to %s", p.Status, p.Location)
	}
	c.Expect("/find", 200, nil, nil)
	c.Expect("/account", 200, []string{"password, one-time code", "refused: wrong code"}, nil)

	// A code counts once, a recovery code too.
	other := site.Guest()
	other.Post("/sign-in", signInForm(maud))
	if p := other.Post(at, servertest.Form("code", code)); p.Status != 422 ||
		!strings.Contains(p.Body, "used already") {
		t.Errorf("the same code: %d", p.Status)
	}
	if p := other.Post(at, servertest.Form("code", recovery[2])); p.Status != 303 {
		t.Errorf("a recovery code: %d", p.Status)
	}
	other.Expect("/account", 200, []string{"9 of 10 left", "password, recovery code"}, nil)
	if p := other.Post(at, servertest.Form("code", recovery[3])); !strings.HasPrefix(p.Location, "/sign-in?") {
		t.Errorf("a second step without a first: %d to %s", p.Status, p.Location)
	}
}

// The first step is forgotten after a while, and when the password changes.
func TestFirstStepIsForgotten(t *testing.T) {
	site := servertest.Start(t)
	maud := site.People[records.RoleEngineer]
	phone, _ := setUp(t, site, site.As(records.RoleEngineer))
	forgotten := func(why string, meanwhile func()) {
		t.Helper()
		c := site.Guest()
		c.Post("/sign-in", signInForm(maud))
		meanwhile()
		if p := c.Post("/sign-in/code", servertest.Form("code", phone.Code())); !strings.HasPrefix(p.Location,
			"/sign-in?") {
			t.Errorf("%s: %d to %s", why, p.Status, p.Location)
		}
	}
	forgotten("after a while", func() { site.Clock.Set(site.App.Now().Add(11 * time.Minute)) })
	forgotten("after a new password", func() {
		if _, err := site.App.ResetPassword(t.Context(), records.SystemActor, maud.Email,
			"lamp oil and biscuits"); err != nil {
			t.Fatal(err)
		}
	})
}

// A link to set a password does not go round the second step.
func TestMailedLinkAsksForTheSecondStep(t *testing.T) {
	site := servertest.Start(t)
	maud := site.People[records.RoleEngineer]
	phone, _ := setUp(t, site, site.As(records.RoleEngineer))
	if _, err := site.App.Invite(t.Context(), records.SystemActor, maud.ID); err != nil {
		t.Fatal(err)
	}
	c := site.Guest()
	const fresh = "lamp oil and biscuits"
	p := c.Post(site.JoinLink(maud.Email), servertest.Form("password", fresh, "again", fresh))
	if p.Status != 303 || !strings.HasPrefix(p.Location, "/sign-in/code") {
		t.Fatalf("with the link: %d to %s", p.Status, p.Location)
	}
	if p := c.Get("/account"); p.Status != 303 {
		t.Errorf("signed in by it: %d", p.Status)
	}
	if p := c.Post(p.Location, servertest.Form("code", phone.Code())); p.Status != 303 || p.Location != "/" {
		t.Errorf("the code: %d to %s", p.Status, p.Location)
	}
	c.Expect("/account", 200, []string{"mailed link, one-time code"}, nil)
}

// Once an account has codes, the password alone confirms nothing.
func TestCodeConfirmsInPlaceOfThePassword(t *testing.T) {
	site := servertest.Start(t)
	owner := site.As(records.RoleOwner)
	phone, recovery := setUp(t, site, owner)
	site.Clock.Set(site.App.Now().Add(time.Hour))
	const at = "/confirm?next=%2Fpeople"
	owner.Expect(at, 200, []string{`name="code"`, "Give a code"}, []string{`name="password"`})
	for _, wrong := range []url.Values{servertest.Form("password", servertest.Password),
		servertest.Form("code", servertest.Password), servertest.Form("code", "000000")} {
		if p := owner.Post(at, wrong); p.Status != 422 {
			t.Errorf("%v: %d", wrong, p.Status)
		}
	}
	if p := owner.Get("/people"); !strings.HasPrefix(p.Location, "/confirm") {
		t.Errorf("let on to %s", p.Location)
	}
	if p := owner.Post(at, servertest.Form("code", phone.Code())); p.Status != 303 || p.Location != "/people" {
		t.Errorf("the code: %d to %s", p.Status, p.Location)
	}
	owner.Expect("/people", 200, nil, nil)
	site.Clock.Set(site.App.Now().Add(time.Hour))
	if p := owner.Post(at, servertest.Form("code", recovery[0])); p.Status != 303 {
		t.Errorf("a recovery code: %d", p.Status)
	}
	// Taking them away asks for them too.
	site.Clock.Set(site.App.Now().Add(time.Hour))
	for _, path := range []string{"/account/codes/remove", "/account/recovery", "/account/codes", "/account/passkeys"} {
		if p := owner.Post(path, nil); !strings.HasPrefix(p.Location, "/confirm") {
			t.Errorf("%s: %d to %s", path, p.Status, p.Location)
		}
	}
	owner.Post(at, servertest.Form("code", phone.Code()))
	p := owner.Post("/account/recovery", nil)
	if got := servertest.RecoveryCodes(p.Body); len(got) != 10 || strings.Contains(p.Body, recovery[1]) {
		t.Errorf("new recovery codes: %d, %d", p.Status, len(got))
	}
	if p := owner.Post("/account/codes/remove", nil); p.Status != 303 {
		t.Errorf("removed: %d", p.Status)
	}
	owner.Expect("/account", 200, []string{"Your password is all that you sign in with"}, nil)
	site.Clock.Set(site.App.Now().Add(time.Hour))
	owner.Expect(at, 200, []string{`name="password"`}, []string{`name="code"`})
}

// Wrong codes are few, the holder is told, and a device that they use has its own.
func TestGuessesAtCodesAreFew(t *testing.T) {
	site := servertest.Start(t)
	maud := site.People[records.RoleEngineer]
	known := site.As(records.RoleEngineer)
	phone, _ := setUp(t, site, known)
	known.Post("/sign-out", nil)
	guesser := site.Guest()
	guesser.Post("/sign-in", signInForm(maud))
	refused := 0
	for range 12 {
		if p := guesser.Post("/sign-in/code", servertest.Form("code", "000000")); p.Status == 429 {
			refused++
		}
	}
	if refused < 6 {
		t.Errorf("%d of 12 guesses were refused", refused)
	}
	told := 0
	for _, m := range site.Outbox() {
		if m.Kind == records.AccountKind && strings.Contains(m.Text, "Several wrong codes") {
			told++
		}
	}
	if told != 1 {
		t.Errorf("told %d times", told)
	}
	known.Post("/sign-in", signInForm(maud))
	if p := known.Post("/sign-in/code", servertest.Form("code", phone.Code())); p.Status != 303 {
		t.Errorf("on the known device: %d", p.Status)
	}
}

// An owner whose firm asks for a second step sets it up before anything else; who
// asks for it needs one first.
func TestOwnersWhoMustSetUp(t *testing.T) {
	site := servertest.Start(t)
	asks := site.As(records.RoleOwner)
	if p := asks.Post("/firm/sign-in", servertest.Form("owners", "second step")); p.Status != 409 ||
		!strings.Contains(p.Body, "yourself first") {
		t.Errorf("without one: %d", p.Status)
	}
	if p := asks.Post("/firm/sign-in", servertest.Form("owners", "nonsense")); p.Status != 422 {
		t.Errorf("nonsense: %d", p.Status)
	}
	phone, _ := setUp(t, site, asks)
	site.Clock.Set(site.App.Now().Add(time.Hour))
	const rule = "/firm/sign-in"
	if p := asks.Post(rule, servertest.Form("owners", "second step")); !strings.HasPrefix(p.Location, "/confirm") {
		t.Errorf("without a proof: %d to %s", p.Status, p.Location)
	}
	asks.Post("/confirm", servertest.Form("code", phone.Code()))
	if p := asks.Post("/firm/sign-in", servertest.Form("owners", "second step")); p.Status != 303 {
		t.Fatalf("asked: %d\n%s", p.Status, servertest.ErrorsOf(p.Body))
	}
	if p := asks.Post("/account/codes/remove", nil); p.Status != 409 || !strings.Contains(p.Body,
		"set up something else first") {
		t.Errorf("taking the last away: %d", p.Status)
	}
	asks.Expect("/", 200, nil, nil)

	hash, err := site.App.PasswordOf(t.Context(), records.Person{}, servertest.Password)
	if err != nil {
		t.Fatal(err)
	}
	bare, err := site.Store.People.Create(t.Context(), records.SystemActor, records.Person{Name: "Wilf Marchbank",
		Email: "wilf@tweddle.example", Role: records.RoleOwner, PasswordHash: hash, Active: true})
	if err != nil {
		t.Fatal(err)
	}
	c := site.Guest()
	c.Post("/sign-in", signInForm(bare))
	for _, path := range []string{"/", "/people", "/account"} { // all of them: TestSetUpBeforeAnythingElse
		if p := c.Get(path); p.Location != "/account/second-step" {
			t.Errorf("%s: %d to %q", path, p.Status, p.Location)
		}
	}
	c.Expect("/account/second-step", 200, []string{"Your firm asks its owners for more"}, nil)
	setUp(t, site, c)
	c.Expect("/", 200, nil, nil)
	c.Expect("/log", 200, []string{"sign-in of owners changed"}, nil)
	site.As(records.RoleEngineer).Expect("/", 200, nil, nil)
}

// The owner takes a lost phone's codes away, but not those of another owner.
func TestOwnerTakesLostCodesAway(t *testing.T) {
	site := servertest.Start(t)
	maud := site.People[records.RoleEngineer]
	engineer, owner := site.As(records.RoleEngineer), site.As(records.RoleOwner)
	setUp(t, site, engineer)
	owner.Expect("/people/"+maud.ID, 200, []string{"one-time codes besides the password",
		"Take codes and passkeys away"}, nil)
	if p := owner.Post("/people/"+maud.ID+"/second-step/remove", nil); p.Status != 303 {
		t.Errorf("taken away: %d", p.Status)
	}
	if p := engineer.Get("/"); !strings.HasPrefix(p.Location, "/sign-in") {
		t.Errorf("still signed in: %d", p.Status)
	}
	if p := site.Guest().Post("/sign-in", signInForm(maud)); p.Location != "/find" {
		t.Errorf("with the password alone: %d to %s", p.Status, p.Location)
	}
	setUp(t, site, owner)
	own := "/people/" + site.People[records.RoleOwner].ID
	owner.Expect(own, 200, nil, []string{"Take codes and passkeys away"})
	if p := owner.Post(own+"/second-step/remove", nil); p.Status != 409 {
		t.Errorf("an owner's: %d", p.Status)
	}
}
