package api

import (
	"bytes"
	"cmp"
	"html/template"
	"maps"
	"net/http"
	"slices"

	"delaybook/domain"
	"delaybook/openapi"

	"github.com/labstack/echo/v4"
)

// problemsPath is where the types of problems are explained; each type is a
// fragment of it.
const problemsPath = "/docs/problems"

// unready is the kind of problem of a service that cannot reach its book.
const unready domain.Code = "unready"

// remedies says what to do about each kind of problem.
var remedies = map[domain.Code]string{
	domain.Malformed:  "Send a body that is JSON, as the description of the path shows.",
	domain.Invalid:    "Each entry of fields names a place in the request, what is wrong there, and what to send instead.",
	domain.NotFound:   "Check the name. A key also finds nothing that its crew may not see.",
	domain.Conflict:   "Read what is there, then choose another name or leave the request.",
	domain.Stale:      "Somebody changed it since you read it. Read it again and send If-Match with the new ETag.",
	domain.NeedsMatch: "Send If-Match with the ETag of what you read, or * to overwrite whatever is there.",
	domain.Denied:     "Ask an admin for a key with the role that the detail names.",
	domain.NoKey:      "Send Authorization: Bearer and a key. An admin makes keys.",
	domain.TooLarge:   "Send less at once: the detail says how much is taken.",
	domain.Internal:   "Send it again with the same client_id or Idempotency-Key, so that it counts once, or ask who runs the service for its log.",
	unready:           "Nothing was changed. Wait as long as Retry-After says and send it again, with the same client_id or Idempotency-Key.",
}

type problemKind struct {
	Code          domain.Code
	Status        int
	Title, Remedy string
}

var problemPage = template.Must(template.New("problems").Parse(`<!doctype html>
<html lang="en">
<head>
  <meta charset="utf-8">
  <meta name="viewport" content="width=device-width, initial-scale=1">
  <title>delaybook: problems</title>
</head>
<body>
  <h1>Problems</h1>
  <p>A request that fails is answered with application/problem+json (RFC 9457). Its type leads here; its detail says what happened.</p>
  <dl>{{range .}}
    <dt id="{{.Code}}">{{.Title}} ({{.Code}}, {{.Status}})</dt>
    <dd>{{.Remedy}}</dd>{{end}}
  </dl>
</body>
</html>
`))

// problems shows what each type of problem means.
func (s *server) problems(c echo.Context) error {
	var all []problemKind
	for code, kind := range maps.All(kinds) {
		all = append(all, problemKind{code, kind.status, kind.title, remedies[code]})
	}
	slices.SortFunc(all, func(a, b problemKind) int {
		return cmp.Or(cmp.Compare(a.Status, b.Status), cmp.Compare(a.Code, b.Code))
	})
	var page bytes.Buffer
	if err := problemPage.Execute(&page, all); err != nil {
		return err
	}
	c.Response().Header().Set("Content-Security-Policy", openapi.DocsPolicy)
	return c.HTMLBlob(http.StatusOK, page.Bytes())
}
