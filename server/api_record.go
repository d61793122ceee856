package server

import (
	"context"
	"encoding/json"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

// apiRecord is a record as the API gives it: the document that a person or a
// program writes, and what the server knows of it.
type apiRecord struct {
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

func (s *Server) apiRecordOf(ctx context.Context, r *records.Record) (apiRecord, error) {
	doc, err := records.EncodeRecord(r)
	if err != nil {
		return apiRecord{}, err
	}
	out := apiRecord{ID: r.ID, ApplianceID: r.ApplianceID, Stage: r.Stage, Revision: r.Revision,
		Standing: records.StandingOf(r.Findings), Record: doc, Rejected: r.Rejected, Findings: listed(r.Findings)}
	if r.Stage == records.Draft {
		return out, nil
	}
	row, err := s.store.Records.Issued(ctx, r.ID)
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

func (s *Server) recordReply(c echo.Context, r *records.Record) error {
	out, err := s.apiRecordOf(c.Request().Context(), r)
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) apiRecord(c echo.Context) error {
	r, err := s.store.Records.Record(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return s.recordReply(c, r)
}

func (s *Server) apiFindings(c echo.Context) error {
	r, err := s.store.Records.Record(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, records.EvaluationOf(r.Findings))
}

// apiPDF serves the bytes that were printed when the record was issued.
func (s *Server) apiPDF(c echo.Context) error {
	number, file, err := s.printed(c)
	if err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderContentDisposition, `attachment; filename="`+FileName(number)+`"`)
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.Blob(http.StatusOK, "application/pdf", file)
}

func (s *Server) apiStart(c echo.Context) error {
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
	return s.once(c, func(ctx context.Context) (int, any, error) {
		r, err := s.book.Start(ctx, person(c), in.ApplianceID, in.Purpose, in.WorkDate)
		if err != nil {
			return 0, nil, err
		}
		out, err := s.apiRecordOf(ctx, r)
		return http.StatusCreated, out, err
	})
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

// apiSave changes a draft. Unlike a form, a program is told of every error and
// nothing is saved until all of it is right.
func (s *Server) apiSave(c echo.Context) error {
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
	r, err := s.book.SaveChange(ctx, person(c), id, in.Revision, Change{
		WorkDate: in.WorkDate, Values: in.Sections, Clear: in.Clear, Condition: in.Condition,
	})
	if err != nil {
		return s.standing(ctx, id, err)
	}
	return s.recordReply(c, r)
}

// apiIssued is what proves an issue.
type apiIssued struct {
	ID       string           `json:"id"`
	Number   string           `json:"number"`
	Code     string           `json:"code"`
	SHA256   string           `json:"sha256"`
	IssuedAt time.Time        `json:"issued_at"`
	Standing records.Standing `json:"standing"`
	Verify   string           `json:"verify_url"`
}

func (s *Server) apiIssue(c echo.Context) error {
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
	return s.once(c, func(ctx context.Context) (int, any, error) {
		row, err := s.book.Issue(ctx, person(c), id, in.Revision)
		if err != nil {
			return 0, nil, s.standing(ctx, id, err)
		}
		s.wake()
		return http.StatusOK, apiIssued{ID: row.ID, Number: row.Number, Code: row.Code, SHA256: row.SHA256,
			IssuedAt: row.IssuedAt.UTC(), Standing: row.Standing,
			Verify: s.book.verifyURL(row.Number, row.Code)}, nil
	})
}
