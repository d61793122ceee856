package office

import (
	"net/url"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
	"gaugebook/server/web"
)

// Reminders is choosing, previewing and sending reminders.
type Reminders struct{ *web.Kit }

// chasePage lists the customers who are due a reminder today.
type chasePage struct {
	web.Base
	Reach         store.Reach
	Sent          *web.Input
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
	web.Base
	Reach  store.Reach
	Drafts []app.ReminderDraft
	Left   []string
}

// mostChosen is how many customers are written to at once.
const mostChosen = 200

func (re Reminders) Show(c echo.Context) error { return re.show(c, web.OK, "") }

func (re Reminders) show(c echo.Context, status int, refused string) error {
	ctx, v := c.Request().Context(), c.QueryParams()
	settings, err := re.Store.Settings.Reminders(ctx)
	if err != nil {
		return err
	}
	data := chasePage{Base: re.WideBase(c, "Reminders"), Reach: store.ByEmail, Automatic: settings.Automatic,
		Error: refused}
	var steps []string
	for _, st := range settings.Steps {
		steps = append(steps, st.String())
	}
	data.Ladder = strings.Join(steps, ", ")
	if store.Reach(c.FormValue("reach")) == store.ByLetter {
		data.Reach = store.ByLetter
	}
	data.Sent = &web.Input{Name: "reach", Label: "Sent"}
	for _, r := range []store.Reach{store.ByEmail, store.ByLetter} {
		data.Sent.Offer(string(r), "By "+string(r))
	}
	data.Sent.Set(string(data.Reach))
	rows, next, err := re.Store.Chase.Find(ctx, store.ChaseQuery{Booked: "no", Reach: data.Reach,
		Ladder: settings.Steps,
		Today:  data.Today, After: v.Get("after"), Limit: mostChosen})
	if err != nil {
		return err
	}
	data.Customers = chaseCustomers(re.Kit, rows, data.Today)
	kept := url.Values{"reach": {string(data.Reach)}}
	if v.Get("after") != "" {
		data.First = "/chase?" + kept.Encode()
	}
	if next != "" {
		kept.Set("after", next)
		data.Next = "/chase?" + kept.Encode()
	}
	batches, err := re.Store.Chase.LetterBatches(ctx)
	if err != nil {
		return err
	}
	for _, b := range batches {
		data.Batches = append(data.Batches, letterLine{ID: b.ID, When: re.Clock(b.At), By: b.By, N: len(b.Letters)})
	}
	return re.Page(c, status, "chase", data)
}

// chosen writes the drafts of the customers that a form names.
func (re Reminders) chosen(c echo.Context) ([]app.ReminderDraft, error) {
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
			Want: "at least one: tick the box before the name"}
	}
	if len(form["c"]) > mostChosen || len(ids) > 2*mostChosen {
		return nil, &records.Error{Kind: records.Invalid, Field: "c", Label: "Customers",
			Value: records.Counted(len(form["c"]), "customer"), Want: "at most 200 at a time"}
	}
	rows, err := re.Store.Chase.OfDuties(c.Request().Context(), ids)
	if err != nil {
		return nil, err
	}
	return re.App.DraftReminders(c.Request().Context(), rows)
}

// Preview shows what would go out, in the words that would go out.
func (re Reminders) Preview(c echo.Context) error {
	drafts, err := re.chosen(c)
	if err != nil && records.KindOf(err) == records.Invalid {
		return re.show(c, web.Refused, err.Error())
	}
	if err != nil {
		return err
	}
	data := previewPage{Base: re.WideBase(c, "Preview of reminders"), Reach: store.ByEmail}
	if store.Reach(c.FormValue("reach")) == store.ByLetter {
		data.Reach = store.ByLetter
	}
	var left app.SendResult
	for _, d := range drafts {
		if d.Reach != data.Reach {
			left.LeaveOut(d, "does not get reminders by "+string(data.Reach))
			continue
		}
		data.Drafts = append(data.Drafts, d)
	}
	data.Left = left.LeftOut
	return re.Page(c, web.OK, "chase-preview", data)
}

// previewed returns the drafts that are still what the preview showed.
func (re Reminders) previewed(c echo.Context) (same []app.ReminderDraft, left app.SendResult, err error) {
	drafts, err := re.chosen(c)
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
			left.LeaveOut(d, "has changed since the preview")
		}
	}
	if asked := len(form["c"]); len(drafts) < asked {
		left.LeftOut = append(left.LeftOut, records.Counted(asked-len(drafts), "customer")+
			": reminded, booked or done since the preview")
	}
	return same, left, nil
}

func (re Reminders) Send(c echo.Context) error {
	drafts, left, err := re.previewed(c)
	if err != nil {
		return err
	}
	out, err := re.App.SendReminders(c.Request().Context(), web.ActorOf(c), drafts)
	if err != nil {
		return err
	}
	out.LeftOut = append(left.LeftOut, out.LeftOut...)
	re.Flash(c, resultWords(out, "reminder", "queued to send"))
	return web.Redirect(c, "/chase")
}

func resultWords(o app.SendResult, noun, done string) string {
	text := records.Counted(o.Sent, noun) + " " + done + "."
	if n := len(o.LeftOut); n > 0 {
		shown := o.LeftOut[:min(n, 10)]
		text += " Left out: " + strings.Join(shown, "; ")
		if n > len(shown) {
			text += "; and " + records.FormatNumber(float64(n-len(shown)), 0) + " more"
		}
		text += "."
	}
	return text
}
