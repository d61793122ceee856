package office

import (
	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
	"gaugebook/server/web"
)

// Letters is the letters of reminders that were printed.
type Letters struct{ *web.Kit }

func (re Reminders) Print(c echo.Context) error {
	drafts, left, err := re.previewed(c)
	if err != nil {
		return err
	}
	if c.FormValue("look") == "yes" {
		return re.lookAtLetters(c, drafts)
	}
	batch, out, err := re.App.PrintLetters(c.Request().Context(), web.ActorOf(c), drafts)
	if err != nil {
		return err
	}
	out.LeftOut = append(left.LeftOut, out.LeftOut...)
	re.Flash(c, resultWords(out, "letter", "logged as sent. Print them now"))
	return web.Redirect(c, "/letters/"+batch.ID)
}

// lookAtLetters prints without noting anything.
func (re Reminders) lookAtLetters(c echo.Context, drafts []app.ReminderDraft) error {
	file, err := re.App.LettersDraft(c.Request().Context(), drafts)
	if err != nil {
		return err
	}
	return sendLetters(c, "letters-draft.pdf", file)
}

type lettersPage struct {
	web.Base
	Batch store.LetterBatch
	When  string
}

func (l Letters) Show(c echo.Context) error {
	b, err := l.Store.Chase.LetterBatch(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return l.Page(c, web.OK, "letters", lettersPage{l.WideBase(c, "Letters"), b, l.Clock(b.At)})
}

// PDF prints a batch; however often, it is the same.
func (l Letters) PDF(c echo.Context) error {
	b, err := l.Store.Chase.LetterBatch(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	file, err := app.RenderLetters(b)
	if err != nil {
		return err
	}
	return sendLetters(c, "letters-"+records.DateOf(b.At).String()+".pdf", file)
}

func sendLetters(c echo.Context, name string, file []byte) error {
	h := c.Response().Header()
	h.Set("Content-Disposition", `attachment; filename="`+name+`"`)
	h.Set("Cache-Control", "no-store")
	return c.Blob(web.OK, "application/pdf", file)
}
