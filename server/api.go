package server

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

// The JSON API. Its types are those of package records, its description is
// openapi.yaml beside this file; a test holds the two together.

const patch = http.MethodPatch

// apiTable is every route of the API. It is apart from the pages' because its
// callers show a key, not a session.
func (s *Server) apiTable() []route {
	return []route{
		{method: get, path: "/api/v1/openapi.yaml", who: open, handle: s.apiDescription},
		{method: get, path: "/api/v1/schema", who: open, handle: s.apiSchema},
		{method: get, path: "/api/v1/rules", who: open, handle: s.apiRules},
		{method: get, path: "/api/v1/verify/:number/:code", who: open, handle: s.apiVerify},
		{method: post, path: "/api/v1/check", who: member, handle: s.apiCheck},

		{method: get, path: "/api/v1/properties", who: member, handle: s.apiProperties},
		{method: post, path: "/api/v1/properties", who: member, handle: s.apiAddProperty},
		{method: get, path: "/api/v1/appliances", who: member, handle: s.apiAppliances},
		{method: post, path: "/api/v1/appliances", who: member, handle: s.apiAddAppliance},
		{method: get, path: "/api/v1/appliances/:id", who: member, handle: s.apiAppliance},
		{method: get, path: "/api/v1/duties", who: member, handle: s.apiDuties},

		{method: post, path: "/api/v1/records", who: engineers, handle: s.apiStart},
		{method: get, path: "/api/v1/records/:id", who: member, handle: s.apiRecord},
		{method: patch, path: "/api/v1/records/:id", who: engineers, handle: s.apiSave},
		{method: post, path: "/api/v1/records/:id/issue", who: engineers, handle: s.apiIssue},
		{method: get, path: "/api/v1/records/:id/findings", who: member, handle: s.apiFindings},
		{method: get, path: "/api/v1/records/:id/pdf", who: member, handle: s.apiPDF},
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
		scheme, key, _ := strings.Cut(c.Request().Header.Get("Authorization"), " ")
		if key = strings.TrimSpace(key); !strings.EqualFold(scheme, "Bearer") || key == "" {
			c.Response().Header().Set("WWW-Authenticate", "Bearer")
			return echo.NewHTTPError(http.StatusUnauthorized,
				"give your key as: Authorization: Bearer KEY; the owner makes keys on the People page")
		}
		p, err := s.store.People.ByKey(c.Request().Context(), key)
		if err != nil && records.KindOf(err) != records.NotFound {
			return err
		}
		if err != nil || !p.Active {
			c.Response().Header().Set("WWW-Authenticate", `Bearer error="invalid_token"`)
			return echo.NewHTTPError(http.StatusUnauthorized, "this key is not known, or no longer")
		}
		if !who.allows(p.Role) {
			return records.Fail(records.Forbidden, "the holder of this key is "+string(p.Role)+" and may not do that")
		}
		c.Set(contextPerson, p)
		return next(c)
	}
}

// encoded writes JSON without the escaping meant for HTML, so that a finding
// is the same bytes here as on the command line.
func encoded(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(v)
	return b.Bytes(), err
}

func reply(c echo.Context, status int, v any) error {
	data, err := encoded(v)
	if err != nil {
		return err
	}
	return replyBytes(c, status, data)
}

func replyBytes(c echo.Context, status int, data []byte) error {
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.Blob(status, "application/json; charset=utf-8", data)
}

const contextBody = "body"

// body reads the request's JSON strictly.
func body(c echo.Context, v any) error {
	data, err := io.ReadAll(c.Request().Body)
	if err != nil {
		return err
	}
	c.Set(contextBody, data)
	if len(bytes.TrimSpace(data)) == 0 {
		return &records.Error{Kind: records.Invalid, Field: "body", Msg: "it is empty", Want: "a JSON object"}
	}
	return records.DecodeStrict(data, v)
}

// once answers a repeated request with the first answer when the caller named
// it with an Idempotency-Key: a phone that never saw the answer asks again.
func (s *Server) once(c echo.Context, do func(context.Context) (status int, v any, err error)) error {
	ctx, r := c.Request().Context(), c.Request()
	run := func() (store.Answer, error) {
		status, v, err := do(ctx)
		if err != nil {
			return store.Answer{}, err
		}
		data, err := encoded(v)
		return store.Answer{Status: status, Body: data}, err
	}
	key := r.Header.Get("Idempotency-Key")
	if key == "" {
		answer, err := run()
		if err != nil {
			return err
		}
		return replyBytes(c, answer.Status, answer.Body)
	}
	sent, _ := c.Get(contextBody).([]byte)
	sum := sha256.Sum256(sent)
	answer, err := s.store.Once(ctx, person(c).ID, key, r.Method+" "+r.URL.Path+" "+hex.EncodeToString(sum[:]), run)
	if err != nil {
		return err
	}
	return replyBytes(c, answer.Status, answer.Body)
}

// recordConflict is a conflict over a record, with how the record stands now,
// so that a program can fetch it, merge and try again.
type recordConflict struct {
	error
	revision int
	stage    records.Stage
	kept     string // id under which a refused version was put aside
}

func (e *recordConflict) Unwrap() error { return e.error }

// standing adds to a conflict how the record stands now; other errors stay as
// they are.
func (s *Server) standing(ctx context.Context, id string, err error) error {
	if kind := records.KindOf(err); kind != records.Conflict && kind != records.NotReady {
		return err
	}
	var stale *store.StaleError
	if errors.As(err, &stale) {
		return &recordConflict{error: err, revision: stale.Current.Revision, stage: stale.Current.Stage,
			kept: stale.KeptID}
	}
	now, readErr := s.store.Records.Record(ctx, id)
	if readErr != nil {
		return err
	}
	return &recordConflict{error: err, revision: now.Revision, stage: now.Stage, kept: ""}
}
