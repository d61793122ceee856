// Package apitest reads the description of the API for tests.
package apitest

import (
	"fmt"
	"net/url"
	"regexp"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"

	"gaugebook/records"
)

// Described loads openapi.yaml with the record's schema that it points to, as
// a client would find both under /api/v1. An independent reader of the
// standard checks it: "OpenAPI Specification 3.1.0", OpenAPI Initiative.
func Described(tb testing.TB, data []byte) *openapi3.T {
	tb.Helper()
	loader := openapi3.NewLoader()
	loader.ReadFromURIFunc = func(_ *openapi3.Loader, at *url.URL) ([]byte, error) {
		if at.Path != "/api/v1/schema" {
			return nil, fmt.Errorf("openapi.yaml points to %s", at)
		}
		// JSON Schema writes a character as \u0000, this validator's patterns
		// as \x{0000}.
		return regexp.MustCompile(`\\\\u([0-9a-f]{4})`).ReplaceAll(records.Schema(), []byte(`\\x{$1}`)), nil
	}
	doc, err := loader.LoadFromDataWithPath(data, &url.URL{Path: "/api/v1/openapi.yaml"})
	if err != nil {
		tb.Fatal(err)
	}
	if err := doc.Validate(loader.Context, openapi3.IsOpenAPI31OrLater()); err != nil {
		tb.Fatal(err)
	}
	return doc
}
