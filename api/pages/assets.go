package pages

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
	"path"
	"strings"

	"github.com/labstack/echo/v4"
)

//go:embed assets
var assetFiles embed.FS

const assetsPath = "/static/"

// assets are the files that pages refer to. Their names in addresses carry a
// hash of what is in them, so that a browser may keep each for ever.
type assets struct {
	byAddress map[string][]byte // by name with hash
	named     map[string]string // name to name with hash
}

func readAssets() (*assets, error) {
	a := &assets{byAddress: map[string][]byte{}, named: map[string]string{}}
	entries, err := fs.ReadDir(assetFiles, "assets")
	if err != nil {
		return nil, err
	}
	for _, entry := range entries {
		data, err := assetFiles.ReadFile("assets/" + entry.Name())
		if err != nil {
			return nil, err
		}
		sum := sha256.Sum256(data)
		ext := path.Ext(entry.Name())
		address := strings.TrimSuffix(entry.Name(), ext) + "." + hex.EncodeToString(sum[:6]) + ext
		a.byAddress[address], a.named[entry.Name()] = data, address
	}
	return a, nil
}

// path returns the address of an asset. A name that there is none of is a
// mistake in a template, which the tests that render every page find.
func (a *assets) path(name string) (string, error) {
	address, ok := a.named[name]
	if !ok {
		return "", &fs.PathError{Op: "asset", Path: name, Err: fs.ErrNotExist}
	}
	return assetsPath + address, nil
}

// assetTypes are the media types of the files in assets.
var assetTypes = map[string]string{
	".css": "text/css; charset=utf-8",
	".js":  "text/javascript; charset=utf-8",
	".svg": "image/svg+xml",
	".png": "image/png",
}

// asset sends a file. What is in it never changes under its address.
func (p *Pages) asset(c echo.Context) error {
	data, ok := p.assets.byAddress[c.Param("name")]
	if !ok {
		return echo.NewHTTPError(http.StatusNotFound)
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "public, max-age=31536000, immutable")
	c.Response().Header().Set("Content-Security-Policy", policy)
	return c.Blob(http.StatusOK, assetTypes[path.Ext(c.Param("name"))], data)
}
