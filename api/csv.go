package api

import (
	"bytes"
	"encoding/csv"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"
)

const textCSV = "text/csv"

// A table is an answer as comma-separated values (RFC 4180: lines end in CRLF,
// a header comes first).
type table struct {
	body bytes.Buffer
	out  *csv.Writer
}

func newTable(columns ...string) *table {
	t := &table{}
	t.out = csv.NewWriter(&t.body)
	t.out.UseCRLF = true
	t.row(columns...)
	return t
}

func (t *table) row(cells ...string) { _ = t.out.Write(cells) } // a buffer takes everything

func (t *table) send(c echo.Context) error {
	t.out.Flush()
	if err := t.out.Error(); err != nil {
		return err
	}
	return c.Blob(http.StatusOK, textCSV+"; charset=utf-8; header=present", t.body.Bytes())
}

// word is a cell of text. Spreadsheets take a text that begins like a formula
// for one; a leading quote keeps them from it (OWASP ASVS 5.0, 1.2.10). Cells of
// numbers are not words: a late sound begins with a minus sign and stays a number.
func word(text string) string {
	if text != "" && strings.ContainsRune("=+-@\t\r\x00", rune(text[0])) {
		return "'" + text
	}
	return text
}

// num is a cell with a number, empty if there is none.
func num(x *float64) string {
	if x == nil {
		return ""
	}
	return strconv.FormatFloat(*x, 'f', -1, 64)
}

func low(x *[2]float64) string {
	if x == nil {
		return ""
	}
	return num(&x[0])
}

func high(x *[2]float64) string {
	if x == nil {
		return ""
	}
	return num(&x[1])
}
