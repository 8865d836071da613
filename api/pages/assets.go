package pages

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
	"path"
	"slices"

	"github.com/labstack/echo/v4"
)

//go:embed assets
var assetFiles embed.FS

const assetsPath = "/static/"

// assets are the files that pages refer to. Their addresses carry a version, a
// hash of all files and templates, so that a browser may keep each for ever and
// a script finds the others beside itself.
type assets struct {
	version string
	files   map[string][]byte // by name
}

func readAssets() (*assets, error) {
	a := &assets{files: map[string][]byte{}}
	sum := sha256.New()
	for _, from := range []struct {
		files  embed.FS
		folder string
	}{{assetFiles, "assets"}, {templateFiles, "templates"}} {
		entries, err := fs.ReadDir(from.files, from.folder)
		if err != nil {
			return nil, err
		}
		for _, entry := range entries {
			data, err := from.files.ReadFile(from.folder + "/" + entry.Name())
			if err != nil {
				return nil, err
			}
			one := sha256.Sum256(data)
			sum.Write(append(one[:], entry.Name()...))
			if from.folder == "assets" {
				a.files[entry.Name()] = data
			}
		}
	}
	a.version = hex.EncodeToString(sum.Sum(nil)[:6])
	return a, nil
}

// path returns the address of an asset. A name that there is none of is a
// mistake in a template, which the tests that render every page find.
func (a *assets) path(name string) (string, error) {
	if _, ok := a.files[name]; !ok {
		return "", &fs.PathError{Op: "asset", Path: name, Err: fs.ErrNotExist}
	}
	return assetsPath + a.version + "/" + name, nil
}

// names returns the names of all files, in order.
func (a *assets) names() []string {
	var names []string
	for name := range a.files {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// assetTypes are the media types of the files in assets.
var assetTypes = map[string]string{
	".css": "text/css; charset=utf-8",
	".js":  "text/javascript; charset=utf-8",
	".svg": "image/svg+xml",
	".png": "image/png",
}

// asset sends a file. What is in it never changes under its address. A page that
// was opened before the service was renewed asks for the version of then, and
// gets the one of now.
func (p *Pages) asset(c echo.Context) error {
	name := c.Param("name")
	data, ok := p.assets.files[name]
	if !ok {
		return echo.NewHTTPError(http.StatusNotFound)
	}
	keep := "public, max-age=31536000, immutable"
	if c.Param("version") != p.assets.version {
		keep = "no-store"
	}
	c.Response().Header().Set(echo.HeaderCacheControl, keep)
	c.Response().Header().Set("Content-Security-Policy", policy)
	return c.Blob(http.StatusOK, assetTypes[path.Ext(name)], data)
}
