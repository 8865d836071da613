package api

import (
	"hash/fnv"
	"net/http"
	"strconv"
	"strings"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// storedTag is the tag of a stored resource: its own version.
func storedTag(v domain.Version) string { return `"` + strconv.FormatInt(int64(v), 10) + `"` }

// ifMatch reads which copy a write changes. Tags are opaque: only one that
// storedTag could have written names a version, and a weak tag matches nothing
// (RFC 9110, 13.1.1). A star must stand alone.
func ifMatch(c echo.Context) service.Match {
	header := strings.Join(c.Request().Header.Values("If-Match"), ",")
	m := service.Match{Given: header != "", Any: strings.TrimSpace(header) == "*"}
	for _, tag := range splitTags(header) {
		v, err := strconv.ParseInt(strings.Trim(tag, `"`), 10, 64)
		if err == nil && storedTag(domain.Version(v)) == tag {
			m.Versions = append(m.Versions, domain.Version(v))
		}
	}
	return m
}

func splitTags(header string) []string {
	var tags []string
	for tag := range strings.SplitSeq(header, ",") {
		if tag = strings.TrimSpace(tag); tag != "" {
			tags = append(tags, tag)
		}
	}
	return tags
}

// fresh compares a tag with If-None-Match, weakly (RFC 9110, 13.1.2).
func fresh(c echo.Context, tag string) bool {
	for _, other := range splitTags(strings.Join(c.Request().Header.Values("If-None-Match"), ",")) {
		if other == "*" || strings.TrimPrefix(other, "W/") == tag {
			return true
		}
	}
	return false
}

// unchanged reports whether the client has the answer already; then the answer
// is sent. It marks the answer with the tag otherwise. It needs no more than the
// version of the book, which is in memory. If-None-Match: * is not looked at:
// whether there is anything at all is known only once the answer is made.
//
// The tag of a computed answer covers all that it depends on: the version of
// the book, the epoch that it counts in, what the caller may see, the path with its query, and the media type.
func (s *server) unchanged(c echo.Context, r service.Request, media string) (bool, error) {
	point := s.use.Point()
	version := r.At
	if version == 0 {
		version = point.Version
	}
	sum := fnv.New64a()
	for _, part := range []string{strconv.FormatInt(int64(point.Epoch), 10), r.Caller.View(), c.Request().URL.Path, c.Request().URL.RawQuery, media} {
		sum.Write([]byte(part))
		sum.Write([]byte{0})
	}
	tag := `"` + strconv.FormatInt(int64(version), 10) + "-" + strconv.FormatUint(sum.Sum64(), 36) + `"`
	h := c.Response().Header()
	h.Set("ETag", tag)
	h.Set(echo.HeaderVary, "Accept, Authorization, Cookie")
	h.Set(echo.HeaderCacheControl, "private, no-cache")
	if c.Request().Header.Get("If-None-Match") == "*" || !fresh(c, tag) {
		return false, nil
	}
	return true, c.NoContent(http.StatusNotModified)
}

// unchangedStored is unchanged for a stored resource.
func unchangedStored(c echo.Context, v domain.Version) (bool, error) {
	tag := storedTag(v)
	h := c.Response().Header()
	h.Set("ETag", tag)
	h.Set(echo.HeaderVary, "Accept, Authorization, Cookie")
	h.Set(echo.HeaderCacheControl, "private, no-cache")
	if !fresh(c, tag) {
		return false, nil
	}
	return true, c.NoContent(http.StatusNotModified)
}
