package api

import (
	"bytes"
	"cmp"
	"html/template"
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
	type entry struct {
		Code domain.Code
		problemKind
	}
	var all []entry
	for code, kind := range kinds {
		all = append(all, entry{code, kind})
	}
	slices.SortFunc(all, func(a, b entry) int {
		return cmp.Or(cmp.Compare(a.Status, b.Status), cmp.Compare(a.Code, b.Code))
	})
	var page bytes.Buffer
	if err := problemPage.Execute(&page, all); err != nil {
		return err
	}
	c.Response().Header().Set("Content-Security-Policy", openapi.DocsPolicy)
	return c.HTMLBlob(http.StatusOK, page.Bytes())
}
