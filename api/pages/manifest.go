package pages

import (
	"net/http"

	"github.com/go-json-experiment/json"
	"github.com/labstack/echo/v4"
)

// The colours of the browser's own frame, as --ground in book.css.
const (
	lightGround = "#f6f3ec"
	darkGround  = "#17191f"
)

type icon struct {
	Src     string `json:"src"`
	Sizes   string `json:"sizes"`
	Type    string `json:"type"`
	Purpose string `json:"purpose"`
}

// manifest lets a phone keep the pages on its home screen.
func (p *Pages) manifest(c echo.Context) error {
	out := struct {
		Name            string `json:"name"`
		ShortName       string `json:"short_name"`
		Description     string `json:"description"`
		ID              string `json:"id"`
		StartURL        string `json:"start_url"`
		Scope           string `json:"scope"`
		Display         string `json:"display"`
		BackgroundColor string `json:"background_color"`
		ThemeColor      string `json:"theme_color"`
		Icons           []icon `json:"icons"`
	}{
		"delaybook", "delaybook", "What your crew measured about sound and picture, and what to set.",
		"/", "/rigs", "/", "standalone", lightGround, lightGround, nil,
	}
	for _, i := range []icon{
		{"icon.svg", "any", "image/svg+xml", "any"},
		{"icon-192.png", "192x192", "image/png", "any"},
		{"icon-512.png", "512x512", "image/png", "maskable"},
	} {
		var err error
		if i.Src, err = p.assets.path(i.Src); err != nil {
			return err
		}
		out.Icons = append(out.Icons, i)
	}
	body, err := json.Marshal(out)
	if err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "public, max-age=3600")
	return c.Blob(http.StatusOK, "application/manifest+json", body)
}
