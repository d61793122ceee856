package server

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"gaugebook/templates"
)

// route is one line of the table: who may use it is said on the line.
type route struct {
	method, path string
	who          access
	handle       echo.HandlerFunc
}

const (
	get  = http.MethodGet
	post = http.MethodPost
)

// routes is every page of the server. The API has a table of its own.
func (s *Server) routes() []route {
	return []route{
		{get, "/healthz", open, s.health},
		{get, "/static/*", open, s.static},
		{get, "/favicon.ico", open, s.favicon},

		{get, "/sign-in", visitor, s.signInForm},
		{post, "/sign-in", visitor, s.signIn},
		{post, "/sign-out", visitor, s.signOut},
		{get, "/join/:token", visitor, s.join},
		{post, "/join/:token", visitor, s.acceptInvite},
		{get, "/password", member, s.password},
		{post, "/password", member, s.savePassword},
		{get, "/roles", member, s.roles},

		{get, "/", member, s.home},
		{get, "/find", member, s.find},
		{get, "/properties/new", member, s.newProperty},
		{post, "/properties", member, s.addProperty},
		{get, "/properties/:id", member, s.property},
		{get, "/properties/:id/edit", member, s.editProperty},
		{post, "/properties/:id", member, s.saveProperty},
		{get, "/properties/:id/appliances/new", member, s.newAppliance},
		{post, "/properties/:id/appliances", member, s.addAppliance},

		{get, "/appliances/:id", member, s.appliance},
		{get, "/appliances/:id/edit", member, s.editAppliance},
		{post, "/appliances/:id", member, s.saveAppliance},
		{post, "/appliances/:id/retire", desk, s.retire},
		{post, "/appliances/:id/contacts", member, s.addContact},
		{post, "/appliances/:id/records", engineers, s.start},
		{post, "/appliances/:id/duties/:duty/lift", desk, s.liftDuty},
		{post, "/appliances/:id/duties/:duty/done", desk, s.finishDuty},

		{get, "/records/:id", member, s.record},
		{post, "/records/:id/date", engineers, s.saveDate},
		{post, "/records/:id/discard", engineers, s.discard},
		{get, "/records/:id/sections/:section", engineers, s.section},
		{post, "/records/:id/sections/:section", engineers, s.saveSection},
		{post, "/records/:id/sections/:section/choose", engineers, s.choose},
		{post, "/records/:id/sections/:section/photos", engineers, s.addPhoto},
		{post, "/records/:id/sections/:section/photos/:sum", engineers, s.changePhoto},
		{get, "/records/:id/photos/:sum", member, s.photo},
		{get, "/records/:id/review", engineers, s.review},
		{post, "/records/:id/condition", engineers, s.saveCondition},
		{post, "/records/:id/issue", engineers, s.issue},
		{get, "/records/:id/pdf", member, s.recordPDF},
		{get, "/records/:id/notice.pdf", member, s.notice},
		{post, "/records/:id/amend", engineers, s.amend},
		{post, "/records/:id/withdraw", desk, s.withdraw},
		{post, "/records/:id/resend", member, s.resend},
		{post, "/records/:id/links", member, s.addLink},
		{post, "/records/:id/links/:link/end", member, s.endLink},

		{get, "/overview", desk, s.overview},
		{get, "/register", desk, s.register},
		{get, "/register/print.pdf", desk, s.registerPDF},
		{get, "/register/export", desk, s.exportRegister},
		{get, "/import", desk, s.importPage},
		{post, "/import", desk, s.uploadList},
		{post, "/import/columns", desk, s.checkList},
		{post, "/import/revise", desk, s.reviseList},
		{post, "/import/write", desk, s.writeList},
		{post, "/import/discard", desk, s.discardList},
		{get, "/import/progress", desk, s.listProgress},
		{get, "/import/errors.csv", desk, s.listErrors},
		{get, "/week", desk, s.week},
		{get, "/duties", desk, s.duties},
		{post, "/duties/:duty/sent", desk, s.sentDuty},
		{get, "/customers/:id", desk, s.customerView},
		{post, "/customers/:id/contacts", desk, s.addCustomerContact},
		{post, "/customers/:id/stop", desk, s.stopCustomer},
		{post, "/customers/:id/resume", desk, s.resumeCustomer},
		{get, "/chase", desk, s.chase},
		{post, "/chase/preview", desk, s.preview},
		{post, "/chase/send", desk, s.sendReminders},
		{post, "/chase/letters", desk, s.printLetters},
		{get, "/letters/:id", desk, s.letters},
		{get, "/letters/:id/print.pdf", desk, s.lettersPDF},
		{get, "/reminders", owners, s.wording},
		{post, "/reminders", owners, s.saveWording},
		{get, "/bookings/new", desk, s.newBooking},
		{post, "/bookings", desk, s.addBooking},
		{get, "/bookings/:id", member, s.booking},
		{post, "/bookings/:id/move", desk, s.moveBooking},
		{post, "/bookings/:id/cancel", desk, s.cancelBooking},
		{get, "/day", member, s.dayList},
		{get, "/calendar", member, s.calendar},
		{post, "/calendar", member, s.addFeed},
		{post, "/calendar/:id/end", member, s.endFeed},
		{get, "/messages", desk, s.messages},
		{get, "/messages/:id", member, s.message},
		{post, "/messages/:id/bounced", member, s.bounced},
		{post, "/bounces", desk, s.addBounce},
		{post, "/messages/:id/requeue", desk, s.requeue},
		{post, "/messages/:id/arrived", desk, s.arrived},
		{post, "/visits/:id/handled", desk, s.handleVisit},
		{post, "/contact-requests/:id/confirm", desk, s.confirmContact},
		{post, "/contact-requests/:id/refuse", desk, s.refuseContact},

		{get, "/instruments", member, s.instruments},
		{post, "/instruments", desk, s.addInstrument},
		{get, "/instruments/:id", desk, s.editInstrument},
		{post, "/instruments/:id", desk, s.saveInstrument},
		{get, "/firm", owners, s.firm},
		{post, "/firm", owners, s.saveFirm},
		{post, "/firm/logo", owners, s.addLogo},
		{post, "/firm/logo/remove", owners, s.removeLogo},
		{get, "/firm/logo/:sum", owners, s.logo},
		{get, "/people", owners, s.people},
		{post, "/people", owners, s.addPerson},
		{get, "/people/:id", owners, s.editPerson},
		{post, "/people/:id", owners, s.savePerson},
		{post, "/people/:id/invite", owners, s.invite},
		{post, "/people/:id/invite/revoke", owners, s.revokeInvite},
		{post, "/people/:id/keys", owners, s.addKey},
		{post, "/people/:id/keys/:key/end", owners, s.revokeKey},
		{get, "/webhooks", owners, s.webhooks},
		{post, "/webhooks", owners, s.addWebhook},
		{get, "/webhooks/:id", owners, s.webhook},
		{post, "/webhooks/:id/end", owners, s.endWebhook},
		{post, "/webhooks/:id/deliveries/:delivery/resend", owners, s.resendEvent},
		{get, "/drop-bands", owners, s.dropBands},
		{post, "/drop-bands", owners, s.saveDropBands},

		{get, "/rules", visitor, s.rules},
		{get, "/rules/:rule", visitor, s.rule},
		{get, "/verify", visitor, s.verifyForm},
		{get, "/verify/key", open, s.publicKey},
		{get, "/v/:number/:code", open, s.verify},
		{get, "/calendar/:token", open, s.feed},
		{get, "/stop/:token", open, s.stop},
		{post, "/stop/:token", open, s.confirmStop},
		{get, "/r/:token", open, s.customer},
		{get, "/r/:token/record.pdf", open, s.customerPDF},
		{get, "/r/:token/records/:number", open, s.customerOther},
		{post, "/r/:token/visit", open, s.askVisit},
		{post, "/r/:token/contact", open, s.askContact},
	}
}

// addRoutes puts every route behind its guard.
func (s *Server) addRoutes() {
	for _, r := range s.routes() {
		s.echo.Add(r.method, r.path, s.guard(r.who, r.handle))
	}
	s.addAPI()
}

// health says that the server answers and can read its database.
func (s *Server) health(c echo.Context) error {
	if _, err := s.store.Firm(c.Request().Context()); err != nil {
		s.log.ErrorContext(c.Request().Context(), "health", "error", err)
		return c.JSON(http.StatusServiceUnavailable, map[string]string{"status": "database not readable"})
	}
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.JSON(http.StatusOK, map[string]string{"status": "ok", "version": s.version})
}

// static serves the embedded files. Under their hash they never change;
// without it they are asked for anew each time.
func (s *Server) static(c echo.Context) error {
	name := c.Param("*")
	cache := "no-cache"
	if rest, ok := cutVersion(name); ok {
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
