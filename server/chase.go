package server

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

// chasePage lists the customers of whom a reminder is due today.
type chasePage struct {
	base
	Reach         store.Reach
	Reaches       []optionForm
	Customers     []chaseCustomer
	Batches       []letterLine
	First, Next   string
	Automatic     bool
	Ladder, Error string
}

type letterLine struct {
	ID, When, By string
	N            int
}

// previewPage shows each message as it would go out.
type previewPage struct {
	base
	Reach  store.Reach
	Drafts []ReminderDraft
	Left   []string
}

// mostChosen is how many customers are written to at once.
const mostChosen = 200

func (s *Server) chase(c echo.Context) error { return s.chasePage(c, http.StatusOK, "") }

func (s *Server) chasePage(c echo.Context, status int, refused string) error {
	ctx, v := c.Request().Context(), c.QueryParams()
	settings, err := s.store.Settings.Reminders(ctx)
	if err != nil {
		return err
	}
	data := chasePage{base: s.deskBase(c, "Reminders"), Reach: store.ByEmail, Automatic: settings.Automatic,
		Error: refused}
	var steps []string
	for _, st := range settings.Steps {
		steps = append(steps, st.String())
	}
	data.Ladder = strings.Join(steps, ", ")
	if store.Reach(c.FormValue("reach")) == store.ByLetter {
		data.Reach = store.ByLetter
	}
	for _, r := range []store.Reach{store.ByEmail, store.ByLetter} {
		data.Reaches = append(data.Reaches, optionForm{Code: string(r), Label: "By " + string(r),
			Chosen: r == data.Reach})
	}
	rows, next, err := s.store.Chase.Find(ctx, store.ChaseQuery{Booked: "no", Reach: data.Reach, Ladder: settings.Steps,
		Today: data.Today, After: v.Get("after"), Limit: mostChosen})
	if err != nil {
		return err
	}
	data.Customers = s.chaseCustomers(rows, data.Today)
	kept := url.Values{"reach": {string(data.Reach)}}
	if v.Get("after") != "" {
		data.First = "/chase?" + kept.Encode()
	}
	if next != "" {
		kept.Set("after", next)
		data.Next = "/chase?" + kept.Encode()
	}
	batches, err := s.store.Chase.LetterBatches(ctx)
	if err != nil {
		return err
	}
	for _, b := range batches {
		data.Batches = append(data.Batches, letterLine{ID: b.ID, When: s.clock(b.At), By: b.By, N: len(b.Letters)})
	}
	return s.page(c, status, "chase", data)
}

// chosen writes the drafts of the customers that a form names.
func (s *Server) chosen(c echo.Context) ([]ReminderDraft, error) {
	form, err := c.FormParams()
	if err != nil {
		return nil, err
	}
	var ids []string
	for _, key := range form["c"] {
		ids = append(ids, strings.Fields(key)...)
	}
	if len(form["c"]) == 0 {
		return nil, &records.Error{Kind: records.Invalid, Field: "c", Label: "Customers",
			Want: "at least one, by the box before the name"}
	}
	if len(form["c"]) > mostChosen || len(ids) > 2*mostChosen {
		return nil, &records.Error{Kind: records.Invalid, Field: "c", Label: "Customers",
			Value: counted(len(form["c"]), "customer"), Want: "at most 200 at a time"}
	}
	rows, err := s.store.Chase.OfDuties(c.Request().Context(), ids)
	if err != nil {
		return nil, err
	}
	return s.book.draftReminders(c.Request().Context(), rows)
}

// preview shows what would go out, in the words that would go out.
func (s *Server) preview(c echo.Context) error {
	drafts, err := s.chosen(c)
	if err != nil && records.KindOf(err) == records.Invalid {
		return s.chasePage(c, http.StatusUnprocessableEntity, err.Error())
	}
	if err != nil {
		return err
	}
	data := previewPage{base: s.deskBase(c, "Preview of reminders"), Reach: store.ByEmail}
	if store.Reach(c.FormValue("reach")) == store.ByLetter {
		data.Reach = store.ByLetter
	}
	var left Outgone
	for _, d := range drafts {
		if d.Reach != data.Reach {
			left.leave(d, "is not reached by "+string(data.Reach))
			continue
		}
		data.Drafts = append(data.Drafts, d)
	}
	data.Left = left.Left
	return s.page(c, http.StatusOK, "chase-preview", data)
}

// previewed returns the drafts that are still what the preview showed.
func (s *Server) previewed(c echo.Context) (same []ReminderDraft, left Outgone, err error) {
	drafts, err := s.chosen(c)
	if err != nil {
		return nil, left, err
	}
	form, err := c.FormParams()
	if err != nil {
		return nil, left, err
	}
	for _, d := range drafts {
		if slices.Contains(form["seen"], d.Seen) {
			same = append(same, d)
		} else {
			left.leave(d, "has changed since the preview")
		}
	}
	if asked := len(form["c"]); len(drafts) < asked {
		left.Left = append(left.Left, counted(asked-len(drafts), "customer")+
			": reminded, booked or seen to since the preview")
	}
	return same, left, nil
}

func (s *Server) sendReminders(c echo.Context) error {
	drafts, left, err := s.previewed(c)
	if err != nil {
		return err
	}
	out, err := s.book.send(c.Request().Context(), actorOf(c), drafts)
	if err != nil {
		return err
	}
	if out.Sent > 0 {
		s.wake()
	}
	out.Left = append(left.Left, out.Left...)
	s.say(c, outgoneWords(out, "reminder", "queued to send"))
	return see(c, "/chase")
}

func outgoneWords(o Outgone, noun, done string) string {
	text := counted(o.Sent, noun) + " " + done + "."
	if n := len(o.Left); n > 0 {
		shown := o.Left[:min(n, 10)]
		text += " Left out: " + strings.Join(shown, "; ")
		if n > len(shown) {
			text += "; and " + records.FormatNumber(float64(n-len(shown)), 0) + " more"
		}
		text += "."
	}
	return text
}
