package api

import (
	"context"
	"encoding/json"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/app"
	"gaugebook/server/web"
)

// recordBody is a record as the API gives it: the document that a person or a
// program writes, and what the server knows of it.
type recordBody struct {
	ID           string                       `json:"id"`
	ApplianceID  string                       `json:"appliance_id"`
	Stage        records.Stage                `json:"stage"`
	Revision     int                          `json:"revision"`
	Number       string                       `json:"number,omitempty"`
	Code         string                       `json:"code,omitempty"`
	SHA256       string                       `json:"sha256,omitempty"`
	IssuedAt     time.Time                    `json:"issued_at,omitzero"`
	ReplacedBy   string                       `json:"replaced_by,omitempty"`
	WithdrawnWhy string                       `json:"withdrawn_why,omitempty"`
	Standing     records.Standing             `json:"standing"`
	Record       json.RawMessage              `json:"record"`
	Rejected     map[string]records.Rejection `json:"rejected,omitempty"`
	Findings     []records.Finding            `json:"findings"`
}

func (a API) recordOf(ctx context.Context, r *records.Record) (recordBody, error) {
	doc, err := records.EncodeRecord(r)
	if err != nil {
		return recordBody{}, err
	}
	out := recordBody{ID: r.ID, ApplianceID: r.ApplianceID, Stage: r.Stage, Revision: r.Revision,
		Standing: records.StandingOf(r.Findings), Record: doc, Rejected: r.Rejected, Findings: listed(r.Findings)}
	if r.Stage == records.Draft {
		return out, nil
	}
	row, err := a.Store.Records.Issued(ctx, r.ID)
	out.Number, out.Code, out.SHA256, out.IssuedAt = row.Number, row.Code, row.SHA256, row.IssuedAt.UTC()
	out.ReplacedBy, out.WithdrawnWhy = row.ReplacedBy, row.WithdrawnWhy
	return out, err
}

// listed makes no list the empty list: a program need not expect null.
func listed[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

func (a API) replyRecord(c echo.Context, r *records.Record) error {
	out, err := a.recordOf(c.Request().Context(), r)
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, out)
}

func (a API) record(c echo.Context) error {
	r, err := a.Store.Records.Record(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return a.replyRecord(c, r)
}

func (a API) findings(c echo.Context) error {
	r, err := a.Store.Records.Record(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, records.EvaluationOf(r.Findings))
}

// pdf serves the bytes that were printed when the record was issued.
func (a API) pdf(c echo.Context) error {
	number, file, err := a.App.Printed(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderContentDisposition, `attachment; filename="`+app.FileName(number)+`"`)
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.Blob(http.StatusOK, "application/pdf", file)
}

func (a API) start(c echo.Context) error {
	var in struct {
		ApplianceID string          `json:"appliance_id"`
		Purpose     records.Purpose `json:"purpose"`
		WorkDate    records.Date    `json:"work_date"`
	}
	if err := body(c, &in); err != nil {
		return err
	}
	if err := mustSay("appliance_id", in.ApplianceID, "the id of an appliance"); err != nil {
		return err
	}
	return a.once(c, deed{"draft started", func(ctx context.Context) (string, error) {
		r, err := a.App.Start(ctx, web.Person(c), in.ApplianceID, in.Purpose, in.WorkDate)
		if err != nil {
			return "", err
		}
		return r.ID, nil
	}, func(ctx context.Context, id string) (int, any, error) {
		r, err := a.Store.Records.Record(ctx, id)
		if err != nil {
			return 0, nil, err
		}
		out, err := a.recordOf(ctx, r)
		return http.StatusCreated, out, err
	}})
}

// mustSay refuses a blank text that must be given.
func mustSay(field, v, want string) error {
	if v == "" {
		return &records.Error{Kind: records.Invalid, Field: field, Want: want}
	}
	return nil
}

// knownRevision refuses a change that does not say what it was based on.
func knownRevision(n int) error {
	if n < 1 {
		return &records.Error{Kind: records.Invalid, Field: "revision",
			Want: "the revision of the draft that you read, a whole number from 1"}
	}
	return nil
}

// save changes a draft. Unlike a form, a program is told of every error and
// nothing is saved until all of it is right.
func (a API) save(c echo.Context) error {
	var in struct {
		Revision  int                      `json:"revision"`
		WorkDate  records.Date             `json:"work_date"`
		Sections  records.Values           `json:"sections"`
		Clear     []string                 `json:"clear"`
		Condition *records.ConditionReport `json:"condition"`
	}
	if err := body(c, &in); err != nil {
		return err
	}
	if err := knownRevision(in.Revision); err != nil {
		return err
	}
	ctx, id := c.Request().Context(), c.Param("id")
	r, err := a.App.SaveChange(ctx, web.Person(c), id, in.Revision, app.Change{
		WorkDate: in.WorkDate, Values: in.Sections, Clear: in.Clear, Condition: in.Condition,
	})
	if err != nil {
		return a.standing(ctx, id, err)
	}
	return a.replyRecord(c, r)
}

// issued is what proves an issue.
type issued struct {
	ID       string           `json:"id"`
	Number   string           `json:"number"`
	Code     string           `json:"code"`
	SHA256   string           `json:"sha256"`
	IssuedAt time.Time        `json:"issued_at"`
	Standing records.Standing `json:"standing"`
	Verify   string           `json:"verify_url"`
}

func (a API) issue(c echo.Context) error {
	var in struct {
		Revision int `json:"revision"`
	}
	if err := body(c, &in); err != nil {
		return err
	}
	if err := knownRevision(in.Revision); err != nil {
		return err
	}
	id := c.Param("id")
	return a.once(c, deed{"record issued", func(ctx context.Context) (string, error) {
		row, err := a.App.Issue(ctx, web.Person(c), id, in.Revision)
		if err != nil {
			return "", a.standing(ctx, id, err)
		}
		return row.ID, nil
	}, func(ctx context.Context, id string) (int, any, error) {
		row, err := a.Store.Records.Issued(ctx, id)
		if err != nil {
			return 0, nil, err
		}
		return http.StatusOK, issued{ID: row.ID, Number: row.Number, Code: row.Code, SHA256: row.SHA256,
			IssuedAt: row.IssuedAt.UTC(), Standing: row.Standing,
			Verify: a.App.VerifyURL(row.Number, row.Code)}, nil
	}})
}
