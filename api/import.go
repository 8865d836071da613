package api

import (
	"crypto/sha256"
	"errors"
	"hash"
	"io"
	"net/http"
	"strconv"

	"delaybook/domain"
	"delaybook/domain/exchange"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// maxImport is the most bytes of an export that is taken if nothing is said: that of a book of
// about a million measurements, which is as much as a book in memory may hold.
const maxImport = 1 << 30

// Import says what an import made.
type Import struct {
	BookVersion     domain.Version `json:"book_version" example:"1842"`     // of the book after it
	ImportedVersion domain.Version `json:"imported_version" example:"1841"` // the newest version of the export; ?at= reads answers as they were before
	KeptKeys        int            `json:"kept_keys" example:"1"`           // keys, sessions and links that were here and go on, as facts of book_version
} //	@name	Import

// importBook makes an export the book.
//
//	@Summary		Import a book
//	@Description	The body is what GET /v1/export gave, unchanged, up to 1 GiB. The book must hold nothing but keys: no crew, no device, nothing measured.
//	@Description	Identifiers, versions and authors are those of the export. The keys that were here, with sessions and links, go on as before and become facts of one further version.
//	@Description	The keys of the export stay as a record of who wrote what; none of them gives access, because an export holds no secrets.
//	@Description	Exported again, with at=imported_version, every line is the same but for the time in the first.
//	@Tags			company
//	@Accept			application/x-ndjson
//	@Produce		json
//	@Security		bearer
//	@Param			Idempotency-Key				header		string	false	"makes a repeat safe"
//	@Param			export						body		string	true	"a header line, then a fact a line"
//	@Success		200							{object}	Import
//	@Failure		400,401,403,409,413,415,422	{object}	Problem
//	@Router			/v1/import [post]
func (s *server) importBook(c echo.Context) error {
	if err := checkMedia(c, ndjson); err != nil {
		return err
	}
	r, sum, err := writingStream(c)
	if err != nil {
		return err
	}
	if err := s.use.MayImport(r); err != nil {
		return err
	}
	body := http.MaxBytesReader(c.Response(), io.NopCloser(patient(c)), s.mostIn)
	_, facts, err := exchange.Read(io.TeeReader(body, sum))
	if err != nil {
		return s.unreadImport(err)
	}
	sum.Sum(r.Fingerprint[:0])
	made, err := s.use.Import(c.Request().Context(), r, facts)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, Import{made.Version, made.Last, made.KeptKeys})
}

// unreadImport says why the body of an import was not read to its end.
func (s *server) unreadImport(err error) error {
	if _, ok := errors.AsType[*domain.Error](err); ok {
		return err
	}
	if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return domain.Errorf(domain.TooLarge, "The export is larger than %d bytes: import it with the command delaybook import, on the machine of the service.", s.mostIn)
	}
	return unreadBody(err)
}

// writingStream is writing for a body that is too large to be held: its bytes
// are to be written to the sum, which is then the fingerprint.
func writingStream(c echo.Context) (service.Request, hash.Hash, error) {
	r, err := onceOf(c)
	sum := sha256.New()
	for _, part := range []string{c.Request().Method, c.Request().URL.Path, c.Request().URL.RawQuery} {
		sum.Write([]byte(strconv.Itoa(len(part)) + ":" + part))
	}
	return r, sum, err
}
