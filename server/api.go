package server

import (
	"encoding/json"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/records/store"
)

// The JSON API. Its types are those of package records, its description is
// openapi.yaml beside this file; a test holds the two together.

// apiRoute is one route of the API; who may use it is said here, once.
type apiRoute struct {
	method, path string
	who          access
	handle       echo.HandlerFunc
}

func (s *Server) apiTable() []apiRoute {
	return []apiRoute{
		{http.MethodGet, "/api/v1/openapi.yaml", open, s.apiDescription},
		{http.MethodGet, "/api/v1/schema", open, s.apiSchema},
		{http.MethodGet, "/api/v1/rules", open, s.apiRules},
		{http.MethodPost, "/api/v1/check", member, s.apiCheck},
		{http.MethodGet, "/api/v1/appliances", member, s.apiAppliances},
		{http.MethodGet, "/api/v1/appliances/:id", member, s.apiAppliance},
		{http.MethodGet, "/api/v1/duties", member, s.apiDuties},
		{http.MethodPost, "/api/v1/records", engineers, s.apiStart},
		{http.MethodGet, "/api/v1/records/:id", member, s.apiRecord},
		{http.MethodPatch, "/api/v1/records/:id", engineers, s.apiSave},
		{http.MethodPost, "/api/v1/records/:id/issue", engineers, s.apiIssue},
		{http.MethodGet, "/api/v1/records/:id/findings", member, s.apiFindings},
		{http.MethodGet, "/api/v1/records/:id/pdf", member, s.apiPDF},
	}
}

// addAPI puts the API on the Echo instance; each caller is known by its key.
func (s *Server) addAPI() {
	for _, r := range s.apiTable() {
		s.echo.Add(r.method, r.path, s.byKey(r.who, r.handle))
	}
}

// byKey finds out who calls. Keys travel in the Authorization header only, so
// a browser cannot be made to send one.
func (s *Server) byKey(who access, next echo.HandlerFunc) echo.HandlerFunc {
	if who == open {
		return next
	}
	return func(c echo.Context) error {
		key, ok := strings.CutPrefix(c.Request().Header.Get("Authorization"), "Bearer ")
		if !ok || key == "" {
			c.Response().Header().Set("WWW-Authenticate", "Bearer")
			return echo.NewHTTPError(http.StatusUnauthorized, "give your key as: Authorization: Bearer KEY; keys are made on the People page")
		}
		p, err := s.store.PersonByKey(c.Request().Context(), key)
		if records.KindOf(err) == records.NotFound && err != nil || err == nil && !p.Active {
			c.Response().Header().Set("WWW-Authenticate", `Bearer error="invalid_token"`)
			return echo.NewHTTPError(http.StatusUnauthorized, "this key is not known, or no longer")
		}
		if err != nil {
			return err
		}
		if !who.allows(p.Role) {
			return records.Fail(records.Forbidden, "the holder of this key may not do that")
		}
		c.Set(contextPerson, p)
		return next(c)
	}
}

// reply writes JSON without the escaping meant for HTML, so that a finding is
// the same bytes here as on the command line.
func reply(c echo.Context, status int, v any) error {
	c.Response().Header().Set("Cache-Control", "no-store")
	c.Response().Header().Set(echo.HeaderContentType, "application/json; charset=utf-8")
	c.Response().WriteHeader(status)
	enc := json.NewEncoder(c.Response())
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// body reads the request's JSON strictly.
func body(c echo.Context, v any) error {
	data, err := io.ReadAll(c.Request().Body)
	if err != nil {
		return err
	}
	if len(data) == 0 {
		return &records.Error{Kind: records.Invalid, Field: "body", Msg: "empty", Want: "a JSON object"}
	}
	return records.DecodeStrict(data, v)
}

type apiVerdict struct {
	Standing records.Standing  `json:"standing"`
	Findings []records.Finding `json:"findings"`
}

func (s *Server) apiCheck(c echo.Context) error {
	r, err := records.DecodeRecord(c.Request().Body)
	if err != nil {
		return err
	}
	bands, err := s.store.DropBands(c.Request().Context())
	if err != nil {
		return err
	}
	findings := rules.Evaluate(r, records.Facts{DropBands: bands})
	return reply(c, http.StatusOK, apiVerdict{records.StandingOf(findings), findings})
}

func (s *Server) apiSchema(c echo.Context) error {
	return c.Blob(http.StatusOK, "application/schema+json", records.Schema())
}

// RuleLine is a rule as the API and the command line list it.
type RuleLine struct {
	ID       string            `json:"id"`
	Section  records.SectionID `json:"section"`
	Title    string            `json:"title"`
	Purposes []records.Purpose `json:"purposes,omitempty"` // none: every purpose
	Reads    []string          `json:"reads"`
	Limits   []records.Limit   `json:"limits,omitempty"`
	Explains string            `json:"explains"`
}

// RuleLineOf describes a rule.
func RuleLineOf(r rules.Rule) RuleLine {
	l := RuleLine{r.ID, r.Section, r.Title, r.Purposes, []string{}, r.Limits, r.Explains}
	for _, f := range r.Reads {
		l.Reads = append(l.Reads, f.Key)
	}
	return l
}

func (s *Server) apiRules(c echo.Context) error {
	all := rules.All()
	out := struct {
		Rules []RuleLine `json:"rules"`
	}{make([]RuleLine, len(all))}
	for i, r := range all {
		out.Rules[i] = RuleLineOf(r)
	}
	return reply(c, http.StatusOK, out)
}

// apiRecord is a record as the API gives it: the document that a person or a
// program writes, and what the server knows of it.
type apiRecord struct {
	ID          string                       `json:"id"`
	ApplianceID string                       `json:"appliance_id"`
	Stage       records.Stage                `json:"stage"`
	Revision    int                          `json:"revision"`
	Number      string                       `json:"number,omitempty"`
	Code        string                       `json:"code,omitempty"`
	IssuedAt    *time.Time                   `json:"issued_at,omitempty"`
	ReplacedBy  string                       `json:"replaced_by,omitempty"`
	Standing    records.Standing             `json:"standing"`
	Record      json.RawMessage              `json:"record"`
	Rejected    map[string]records.Rejection `json:"rejected,omitempty"`
	Findings    []records.Finding            `json:"findings"`
}

func (s *Server) recordReply(c echo.Context, status int, r *records.Record) error {
	doc, err := records.EncodeRecord(r)
	if err != nil {
		return err
	}
	out := apiRecord{ID: r.ID, ApplianceID: r.ApplianceID, Stage: r.Stage, Revision: r.Revision,
		Standing: records.StandingOf(r.Findings), Record: doc, Rejected: r.Rejected, Findings: r.Findings}
	if r.Stage != records.Draft {
		row, err := s.store.Issued(c.Request().Context(), r.ID)
		if err != nil {
			return err
		}
		at := row.IssuedAt.UTC()
		out.Number, out.Code, out.IssuedAt, out.ReplacedBy = row.Number, row.Code, &at, row.ReplacedBy
	}
	c.Response().Header().Set("ETag", `"`+strconv.Itoa(r.Revision)+`"`)
	return reply(c, status, out)
}

func (s *Server) apiRecord(c echo.Context) error {
	r, err := s.store.Record(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return s.recordReply(c, http.StatusOK, r)
}

func (s *Server) apiFindings(c echo.Context) error {
	r, err := s.store.Record(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, apiVerdict{records.StandingOf(r.Findings), r.Findings})
}

func (s *Server) apiPDF(c echo.Context) error {
	ctx := c.Request().Context()
	file, err := s.store.PDF(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	row, err := s.store.Issued(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderContentDisposition, `attachment; filename="`+FileName(row.Number)+`"`)
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
	return s.once(c, func() (int, any, error) {
		r, err := s.book.Start(c.Request().Context(), person(c), in.ApplianceID, in.Purpose, in.WorkDate)
		if err != nil {
			return 0, nil, err
		}
		return http.StatusCreated, struct {
			ID       string `json:"id"`
			Revision int    `json:"revision"`
		}{r.ID, r.Revision}, nil
	})
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
	r, err := s.book.SaveChange(c.Request().Context(), person(c), c.Param("id"), in.Revision, Change{
		WorkDate: in.WorkDate, Values: in.Sections, Clear: in.Clear, Condition: in.Condition,
	})
	if err != nil {
		return err
	}
	return s.recordReply(c, http.StatusOK, r)
}

func (s *Server) apiIssue(c echo.Context) error {
	var in struct {
		Revision int `json:"revision"`
	}
	if err := body(c, &in); err != nil {
		return err
	}
	return s.once(c, func() (int, any, error) {
		row, err := s.book.Issue(c.Request().Context(), person(c), c.Param("id"), in.Revision)
		if err != nil {
			return 0, nil, err
		}
		s.wake()
		return http.StatusOK, struct {
			ID     string `json:"id"`
			Number string `json:"number"`
			Code   string `json:"code"`
			SHA256 string `json:"sha256"`
		}{row.ID, row.Number, row.Code, row.SHA256}, nil
	})
}

// once answers a repeated request with the first answer when the caller named
// it with an Idempotency-Key: a phone that never saw the answer asks again.
func (s *Server) once(c echo.Context, do func() (int, any, error)) error {
	key := c.Request().Header.Get("Idempotency-Key")
	if key == "" {
		status, v, err := do()
		if err != nil {
			return err
		}
		return reply(c, status, v)
	}
	answer, err := s.store.Once(c.Request().Context(), person(c).ID, key, c.Request().Method+" "+c.Request().URL.Path, func() (store.Answer, error) {
		status, v, err := do()
		if err != nil {
			return store.Answer{}, err
		}
		data, err := json.Marshal(v)
		return store.Answer{Status: status, Body: data}, err
	})
	if err != nil {
		return err
	}
	return c.JSONBlob(answer.Status, answer.Body)
}
