package server

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/server/api"
	"gaugebook/server/web"
	"gaugebook/templates"
)

const (
	get  = http.MethodGet
	post = http.MethodPost
)

// routes is every page of the server. The API has a table of its own.
func (s *Server) routes() []web.Route {
	return []web.Route{
		{Method: get, Path: "/healthz", Access: web.Open, Handle: s.health},
		{Method: get, Path: "/readyz", Access: web.Open, Handle: s.ready},
		{Method: get, Path: "/static/*", Access: web.Open, Handle: s.static},
		{Method: get, Path: "/favicon.ico", Access: web.Open, Handle: s.favicon},

		{Method: get, Path: "/sign-in", Access: web.Everyone, Handle: s.signInForm},
		{Method: post, Path: "/sign-in", Access: web.Everyone, Handle: s.signIn},
		{Method: post, Path: "/sign-out", Access: web.Everyone, Handle: s.signOut},
		{Method: get, Path: "/join/:token", Access: web.Everyone, Handle: s.join},
		{Method: post, Path: "/join/:token", Access: web.Everyone, Handle: s.acceptInvite},
		{Method: get, Path: "/password", Access: web.SignedIn, Handle: s.password},
		{Method: post, Path: "/password", Access: web.SignedIn, Handle: s.savePassword},
		{Method: get, Path: "/roles", Access: web.SignedIn, Handle: s.roles},

		{Method: get, Path: "/", Access: web.SignedIn, Handle: s.home},
		{Method: get, Path: "/find", Access: web.SignedIn, Handle: s.find},
		{Method: get, Path: "/properties/new", Access: web.SignedIn, Handle: s.newProperty},
		{Method: post, Path: "/properties", Access: web.SignedIn, Handle: s.addProperty},
		{Method: get, Path: "/properties/:id", Access: web.SignedIn, Handle: s.property},
		{Method: get, Path: "/properties/:id/edit", Access: web.SignedIn, Handle: s.editProperty},
		{Method: post, Path: "/properties/:id", Access: web.SignedIn, Handle: s.saveProperty},
		{Method: get, Path: "/properties/:id/appliances/new", Access: web.SignedIn, Handle: s.newAppliance},
		{Method: post, Path: "/properties/:id/appliances", Access: web.SignedIn, Handle: s.addAppliance},

		{Method: get, Path: "/appliances/:id", Access: web.SignedIn, Handle: s.appliance},
		{Method: get, Path: "/appliances/:id/edit", Access: web.SignedIn, Handle: s.editAppliance},
		{Method: post, Path: "/appliances/:id", Access: web.SignedIn, Handle: s.saveAppliance},
		{Method: post, Path: "/appliances/:id/retire", Access: web.Office, Handle: s.retire},
		{Method: post, Path: "/appliances/:id/contacts", Access: web.SignedIn, Handle: s.addContact},
		{Method: post, Path: "/appliances/:id/records", Access: web.Engineers, Handle: s.start},
		{Method: post, Path: "/appliances/:id/duties/:duty/lift", Access: web.Office, Handle: s.liftDuty},
		{Method: post, Path: "/appliances/:id/duties/:duty/done", Access: web.Office, Handle: s.finishDuty},

		{Method: get, Path: "/records/:id", Access: web.SignedIn, Handle: s.record},
		{Method: post, Path: "/records/:id/date", Access: web.Engineers, Handle: s.saveDate},
		{Method: post, Path: "/records/:id/discard", Access: web.Engineers, Handle: s.discard},
		{Method: get, Path: "/records/:id/sections/:section", Access: web.Engineers, Handle: s.section},
		{Method: post, Path: "/records/:id/sections/:section", Access: web.Engineers, Handle: s.saveSection},
		{Method: post, Path: "/records/:id/sections/:section/choose", Access: web.Engineers, Handle: s.choose},
		{Method: post, Path: "/records/:id/sections/:section/photos", Access: web.Engineers, Handle: s.addPhoto},
		{Method: post, Path: "/records/:id/sections/:section/photos/:sum", Access: web.Engineers,
			Handle: s.changePhoto},
		{Method: get, Path: "/records/:id/photos/:sum", Access: web.SignedIn, Handle: s.photo},
		{Method: get, Path: "/records/:id/review", Access: web.Engineers, Handle: s.review},
		{Method: post, Path: "/records/:id/condition", Access: web.Engineers, Handle: s.saveCondition},
		{Method: post, Path: "/records/:id/issue", Access: web.Engineers, Handle: s.issue},
		{Method: get, Path: "/records/:id/pdf", Access: web.SignedIn, Handle: s.recordPDF},
		{Method: get, Path: "/records/:id/notice.pdf", Access: web.SignedIn, Handle: s.notice},
		{Method: post, Path: "/records/:id/amend", Access: web.Engineers, Handle: s.amend},
		{Method: post, Path: "/records/:id/withdraw", Access: web.Office, Handle: s.withdraw},
		{Method: post, Path: "/records/:id/resend", Access: web.SignedIn, Handle: s.resend},
		{Method: post, Path: "/records/:id/links", Access: web.SignedIn, Handle: s.addLink},
		{Method: post, Path: "/records/:id/links/:link/end", Access: web.SignedIn, Handle: s.endLink},

		{Method: get, Path: "/overview", Access: web.Office, Handle: s.overview},
		{Method: get, Path: "/register", Access: web.Office, Handle: s.register},
		{Method: get, Path: "/register/print.pdf", Access: web.Office, Handle: s.registerPDF},
		{Method: get, Path: "/register/export", Access: web.Office, Handle: s.exportRegister},
		{Method: get, Path: "/import", Access: web.Office, Handle: s.importPage},
		{Method: post, Path: "/import", Access: web.Office, Handle: s.uploadList},
		{Method: post, Path: "/import/columns", Access: web.Office, Handle: s.checkList},
		{Method: post, Path: "/import/revise", Access: web.Office, Handle: s.reviseList},
		{Method: post, Path: "/import/write", Access: web.Office, Handle: s.writeList},
		{Method: post, Path: "/import/discard", Access: web.Office, Handle: s.discardList},
		{Method: get, Path: "/import/progress", Access: web.Office, Handle: s.listProgress},
		{Method: get, Path: "/import/errors.csv", Access: web.Office, Handle: s.listErrors},
		{Method: get, Path: "/week", Access: web.Office, Handle: s.week},
		{Method: get, Path: "/duties", Access: web.Office, Handle: s.duties},
		{Method: post, Path: "/duties/:duty/sent", Access: web.Office, Handle: s.sentDuty},
		{Method: get, Path: "/customers/:id", Access: web.Office, Handle: s.customerView},
		{Method: post, Path: "/customers/:id/contacts", Access: web.Office, Handle: s.addCustomerContact},
		{Method: post, Path: "/customers/:id/stop", Access: web.Office, Handle: s.stopCustomer},
		{Method: post, Path: "/customers/:id/resume", Access: web.Office, Handle: s.resumeCustomer},
		{Method: get, Path: "/chase", Access: web.Office, Handle: s.chase},
		{Method: post, Path: "/chase/preview", Access: web.Office, Handle: s.preview},
		{Method: post, Path: "/chase/send", Access: web.Office, Handle: s.sendReminders},
		{Method: post, Path: "/chase/letters", Access: web.Office, Handle: s.printLetters},
		{Method: get, Path: "/letters/:id", Access: web.Office, Handle: s.letters},
		{Method: get, Path: "/letters/:id/print.pdf", Access: web.Office, Handle: s.lettersPDF},
		{Method: get, Path: "/reminders", Access: web.Owners, Handle: s.wording},
		{Method: post, Path: "/reminders", Access: web.Owners, Handle: s.saveWording},
		{Method: get, Path: "/bookings/new", Access: web.Office, Handle: s.newBooking},
		{Method: post, Path: "/bookings", Access: web.Office, Handle: s.addBooking},
		{Method: get, Path: "/bookings/:id", Access: web.SignedIn, Handle: s.booking},
		{Method: post, Path: "/bookings/:id/move", Access: web.Office, Handle: s.moveBooking},
		{Method: post, Path: "/bookings/:id/cancel", Access: web.Office, Handle: s.cancelBooking},
		{Method: get, Path: "/day", Access: web.SignedIn, Handle: s.dayList},
		{Method: get, Path: "/calendar", Access: web.SignedIn, Handle: s.calendar},
		{Method: post, Path: "/calendar", Access: web.SignedIn, Handle: s.addFeed},
		{Method: post, Path: "/calendar/:id/end", Access: web.SignedIn, Handle: s.endFeed},
		{Method: get, Path: "/messages", Access: web.Office, Handle: s.messages},
		{Method: get, Path: "/messages/:id", Access: web.SignedIn, Handle: s.message},
		{Method: post, Path: "/messages/:id/bounced", Access: web.SignedIn, Handle: s.bounced},
		{Method: post, Path: "/bounces", Access: web.Office, Handle: s.addBounce},
		{Method: post, Path: "/messages/:id/requeue", Access: web.Office, Handle: s.requeue},
		{Method: post, Path: "/messages/:id/arrived", Access: web.Office, Handle: s.arrived},
		{Method: post, Path: "/visits/:id/handled", Access: web.Office, Handle: s.handleVisit},
		{Method: post, Path: "/contact-requests/:id/confirm", Access: web.Office, Handle: s.confirmContact},
		{Method: post, Path: "/contact-requests/:id/refuse", Access: web.Office, Handle: s.refuseContact},

		{Method: get, Path: "/instruments", Access: web.SignedIn, Handle: s.instruments},
		{Method: post, Path: "/instruments", Access: web.Office, Handle: s.addInstrument},
		{Method: get, Path: "/instruments/:id", Access: web.Office, Handle: s.editInstrument},
		{Method: post, Path: "/instruments/:id", Access: web.Office, Handle: s.saveInstrument},
		{Method: get, Path: "/firm", Access: web.Owners, Handle: s.firm},
		{Method: post, Path: "/firm", Access: web.Owners, Handle: s.saveFirm},
		{Method: post, Path: "/firm/logo", Access: web.Owners, Handle: s.addLogo},
		{Method: post, Path: "/firm/logo/remove", Access: web.Owners, Handle: s.removeLogo},
		{Method: get, Path: "/firm/logo/:sum", Access: web.Owners, Handle: s.logo},
		{Method: get, Path: "/people", Access: web.Owners, Handle: s.people},
		{Method: post, Path: "/people", Access: web.Owners, Handle: s.addPerson},
		{Method: get, Path: "/people/:id", Access: web.Owners, Handle: s.editPerson},
		{Method: post, Path: "/people/:id", Access: web.Owners, Handle: s.savePerson},
		{Method: post, Path: "/people/:id/invite", Access: web.Owners, Handle: s.invite},
		{Method: post, Path: "/people/:id/invite/revoke", Access: web.Owners, Handle: s.revokeInvite},
		{Method: post, Path: "/people/:id/keys", Access: web.Owners, Handle: s.addKey},
		{Method: post, Path: "/people/:id/keys/:key/end", Access: web.Owners, Handle: s.revokeKey},
		{Method: get, Path: "/webhooks", Access: web.Owners, Handle: s.webhooks},
		{Method: post, Path: "/webhooks", Access: web.Owners, Handle: s.addWebhook},
		{Method: get, Path: "/webhooks/:id", Access: web.Owners, Handle: s.webhook},
		{Method: post, Path: "/webhooks/:id/end", Access: web.Owners, Handle: s.endWebhook},
		{Method: post, Path: "/webhooks/:id/deliveries/:delivery/resend", Access: web.Owners, Handle: s.resendEvent},
		{Method: get, Path: "/drop-bands", Access: web.Owners, Handle: s.dropBands},
		{Method: post, Path: "/drop-bands", Access: web.Owners, Handle: s.saveDropBands},

		{Method: get, Path: "/rules", Access: web.Everyone, Handle: s.rules},
		{Method: get, Path: "/rules/:rule", Access: web.Everyone, Handle: s.rule},
		{Method: get, Path: "/verify", Access: web.Everyone, Handle: s.verifyForm},
		{Method: get, Path: "/verify/key", Access: web.Open, Handle: s.publicKey},
		{Method: get, Path: "/v/:number/:code", Access: web.Open, Handle: s.verify},
		{Method: get, Path: "/calendar/:token", Access: web.Open, Handle: s.feed},
		{Method: get, Path: "/stop/:token", Access: web.Open, Handle: s.stop},
		{Method: post, Path: "/stop/:token", Access: web.Open, Handle: s.confirmStop},
		{Method: get, Path: "/r/:token", Access: web.Open, Handle: s.customer},
		{Method: get, Path: "/r/:token/record.pdf", Access: web.Open, Handle: s.customerPDF},
		{Method: get, Path: "/r/:token/records/:number", Access: web.Open, Handle: s.customerOther},
		{Method: post, Path: "/r/:token/visit", Access: web.Open, Handle: s.askVisit},
		{Method: post, Path: "/r/:token/contact", Access: web.Open, Handle: s.askContact},
	}
}

// addRoutes puts every route behind its guard.
func (s *Server) addRoutes() {
	for _, r := range s.routes() {
		s.echo.Add(r.Method, r.Path, s.Guard(r.Access, r.Handle))
	}
	programs := api.API{Kit: s.Kit, Checks: s.checks}
	for _, r := range programs.Routes() {
		s.echo.Add(r.Method, r.Path, programs.ByKey(r.Access, r.Handle))
	}
}

// static serves the embedded files. Under their hash they never change;
// without it they are asked for anew each time.
func (s *Server) static(c echo.Context) error {
	name := c.Param("*")
	cache := "no-cache"
	if rest, ok := strings.CutPrefix(name, templates.StaticVersion+"/"); ok {
		name, cache = rest, "public, max-age=31536000, immutable"
	}
	return s.file(c, name, cache)
}

func (s *Server) favicon(c echo.Context) error {
	return s.file(c, "favicon.svg", "public, max-age=86400")
}

func (s *Server) file(c echo.Context, name, cache string) error {
	data, kind, err := templates.File(name)
	if err != nil {
		return echo.ErrNotFound
	}
	c.Response().Header().Set("Cache-Control", cache)
	return c.Blob(http.StatusOK, kind, data)
}
