package server

import (
	"cmp"
	"context"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/pdf"
	"gaugebook/records"
	"gaugebook/records/store"
)

// lettersOf turns the drafts of those who have no e-mail address into
// letters. What a letter says around the dates is package pdf's.
func lettersOf(drafts []ReminderDraft, today records.Date) (letters []store.Letter, mine []ReminderDraft, out Outgone) {
	for _, d := range drafts {
		if d.Reach != store.ByLetter {
			out.leave(d, "gets reminders by e-mail, or none")
			continue
		}
		l := store.Letter{Date: today, Name: cmp.Or(d.Contact.Name, "The occupier"), Address: addressLines(d),
			Steps: d.Steps}
		for _, r := range d.Rows {
			l.Due = append(l.Due, store.LetterDuty{Kind: r.Kind, Due: r.Due, Appliance: r.Appliance,
				Property: r.Property})
		}
		letters, mine = append(letters, l), append(mine, d)
	}
	return letters, mine, out
}

// addressLines is where the letter goes: the contact's own address if they
// have another one, else the property.
func addressLines(d ReminderDraft) []string {
	p := d.Rows[0].Property
	lines := []string{p.Line1, p.Line2, p.Town, p.Postcode}
	if d.Contact.Address != "" {
		lines = strings.SplitN(d.Contact.Address, ",", 6)
	}
	var out []string
	for _, l := range lines {
		if l = strings.TrimSpace(l); l != "" {
			out = append(out, l)
		}
	}
	return out
}

// renderLetters prints letters as one file.
func renderLetters(firm records.Firm, letters []store.Letter) ([]byte, error) {
	batch := make([]pdf.ReminderLetter, len(letters))
	for i, l := range letters {
		batch[i] = pdf.ReminderLetter{Firm: firm, Date: l.Date, Name: l.Name, Address: l.Address}
		for _, d := range l.Due {
			batch[i].Due = append(batch[i].Due, pdf.ReminderDuty{Kind: d.Kind, Due: d.Due, Appliance: d.Appliance,
				Property: d.Property})
		}
	}
	return pdf.Reminders(batch)
}

// printLetters keeps the letters and notes them as sent. It prints them once
// before, so that nothing is noted that cannot be printed.
func (b *Book) printLetters(ctx context.Context, actor records.Actor, drafts []ReminderDraft) (store.LetterBatch,
	Outgone, error) {
	letters, mine, out := lettersOf(drafts, b.Today())
	firm, err := b.Store.Settings.Firm(ctx)
	if err != nil {
		return store.LetterBatch{}, out, err
	}
	if len(letters) > 0 {
		if _, err := renderLetters(firm, letters); err != nil {
			return store.LetterBatch{}, out, err
		}
	}
	batch, why, err := b.Store.Chase.AddLetters(ctx, actor, firm, letters)
	for i, w := range why {
		if w != "" {
			out.leave(mine[i], w)
		}
	}
	out.Sent = len(batch.Letters)
	return batch, out, err
}

func (s *Server) printLetters(c echo.Context) error {
	drafts, left, err := s.previewed(c)
	if err != nil {
		return err
	}
	if c.FormValue("look") == "yes" {
		return s.lookAtLetters(c, drafts)
	}
	batch, out, err := s.book.printLetters(c.Request().Context(), actorOf(c), drafts)
	if err != nil {
		return err
	}
	out.Left = append(left.Left, out.Left...)
	s.say(c, outgoneWords(out, "letter", "logged as sent. Print them now"))
	return see(c, "/letters/"+batch.ID)
}

// lookAtLetters prints without noting anything.
func (s *Server) lookAtLetters(c echo.Context, drafts []ReminderDraft) error {
	firm, err := s.store.Settings.Firm(c.Request().Context())
	if err != nil {
		return err
	}
	letters, _, _ := lettersOf(drafts, s.book.Today())
	file, err := renderLetters(firm, letters)
	if err != nil {
		return err
	}
	return sendLetters(c, "letters-draft.pdf", file)
}

type lettersPage struct {
	base
	Batch store.LetterBatch
	When  string
}

func (s *Server) letters(c echo.Context) error {
	b, err := s.store.Chase.LetterBatch(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return s.page(c, http.StatusOK, "letters", lettersPage{s.deskBase(c, "Letters"), b, s.clock(b.At)})
}

// lettersPDF prints a batch; however often, it is the same.
func (s *Server) lettersPDF(c echo.Context) error {
	b, err := s.store.Chase.LetterBatch(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	file, err := renderLetters(b.Firm, b.Letters)
	if err != nil {
		return err
	}
	return sendLetters(c, "letters-"+records.DateOf(b.At).String()+".pdf", file)
}

func sendLetters(c echo.Context, name string, file []byte) error {
	h := c.Response().Header()
	h.Set("Content-Disposition", `attachment; filename="`+name+`"`)
	h.Set("Cache-Control", "no-store")
	return c.Blob(http.StatusOK, "application/pdf", file)
}
