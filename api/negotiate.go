package api

import (
	"math"
	"mime"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"
)

const textPlain = "text/plain"

// formats are the short names of ?format=, for those who can not set a header.
var formats = map[string]string{"json": echo.MIMEApplicationJSON, "text": textPlain, "csv": textCSV, "html": echo.MIMETextHTML}

// negotiate returns which of the media types that an answer comes in the client
// wants most (RFC 9110, 12.5.1); the first for one that does not say.
func negotiate(c echo.Context, offers ...string) (string, error) {
	if name := c.QueryParam("format"); name != "" {
		if media, ok := formats[name]; ok && contains(offers, media) {
			return media, nil
		}
		return "", badQuery("format", "the answer does not come so", "one of "+strings.Join(formatNames(offers), ", "))
	}
	accept := strings.Join(c.Request().Header.Values(echo.HeaderAccept), ",")
	if strings.TrimSpace(accept) == "" {
		return offers[0], nil
	}
	best, bestQ := "", 0.0
	for _, offer := range offers {
		if q := quality(accept, offer); q > bestQ {
			best, bestQ = offer, q
		}
	}
	if best == "" {
		return "", notAcceptable(strings.Join(offers, ", "))
	}
	return best, nil
}

func formatNames(offers []string) []string {
	var names []string
	for _, name := range []string{"json", "text", "csv", "html"} {
		if contains(offers, formats[name]) {
			names = append(names, name)
		}
	}
	return names
}

// quality is how much a client wants a media type: the q of the most specific
// range that matches it.
func quality(accept, offer string) float64 {
	kind, _, _ := strings.Cut(offer, "/")
	q, specific := 0.0, -1
	for part := range strings.SplitSeq(accept, ",") {
		media, params, err := mime.ParseMediaType(part)
		if err != nil {
			continue
		}
		rank := map[string]int{offer: 2, kind + "/*": 1, "*/*": 0}
		r, matches := rank[media]
		if !matches || r <= specific {
			continue
		}
		specific, q = r, 1
		if text, ok := params["q"]; ok {
			if q, err = strconv.ParseFloat(text, 64); err != nil || math.IsNaN(q) {
				q = 0
			}
		}
	}
	return q
}
