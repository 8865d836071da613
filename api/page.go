package api

import (
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"hash/crc32"
	"net/url"
	"sort"
	"strconv"

	"delaybook/domain"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"
)

const (
	defaultPage = 50
	maxPage     = 200
)

// A List is a page of a list.
type List[T any] struct {
	Items []T     `json:"items"`
	Next  *string `json:"next" extensions:"x-nullable"` // what to send as after for the next page; null on the last one
}

// paged returns the page of all that the request asks for. all is in ascending
// order of key. A cursor names the last item shown, and the next page begins
// behind it, whatever was added or taken away in between.
func paged[S, T any](c echo.Context, all []S, key func(S) string, show func(S) (T, error)) (List[T], error) {
	size, after, err := pageQuery(c)
	if err != nil {
		return List[T]{}, err
	}
	page := List[T]{Items: []T{}}
	start := 0
	if after != "" {
		start = sort.Search(len(all), func(i int) bool { return key(all[i]) > after })
	}
	end := min(start+size, len(all))
	for _, item := range all[start:end] {
		shown, err := show(item)
		if err != nil {
			return page, err
		}
		page.Items = append(page.Items, shown)
	}
	if end < len(all) {
		next := cursor(c, key(all[end-1]))
		page.Next = &next
		query := c.Request().URL.Query()
		query.Set("after", next)
		link := url.URL{Path: c.Request().URL.Path, RawQuery: query.Encode()}
		c.Response().Header().Set("Link", "<"+link.String()+`>; rel="next"`)
	}
	return page, nil
}

// newestFirst is a key that sorts by version and then by identifier, both descending.
func newestFirst(v domain.Version, id uuid.UUID) string {
	for i := range id {
		id[i] = ^id[i]
	}
	return descending(v) + hex.EncodeToString(id[:])
}

func pageQuery(c echo.Context) (size int, after string, err error) {
	size = defaultPage
	if text := c.QueryParam("page_size"); text != "" {
		if size, err = strconv.Atoi(text); err != nil || size < 1 || size > maxPage {
			return 0, "", badQuery("page_size", "it is not a size of a page", "1 to "+strconv.Itoa(maxPage))
		}
	}
	if text := c.QueryParam("after"); text != "" || c.QueryParams().Has("after") {
		raw, err := base64.RawURLEncoding.DecodeString(text)
		if len(raw) <= cursorMark || err != nil || cursor(c, string(raw[cursorMark:])) != text {
			return 0, "", badQuery("after", "it is not from this list", "the next of the page before, unchanged")
		}
		after = string(raw[cursorMark:])
	}
	return size, after, nil
}

// cursorMark is the length of what ties a cursor to its list.
const cursorMark = 4

// cursor writes a key so that it is taken for no other list's.
func cursor(c echo.Context, key string) string {
	sum := crc32.ChecksumIEEE([]byte(c.Request().URL.Path + "\x00" + key))
	return base64.RawURLEncoding.EncodeToString(append(binary.BigEndian.AppendUint32(nil, sum), key...))
}
