package api

import (
	"net/http"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// A NewCrew adds a crew.
type NewCrew struct {
	Slug string `json:"slug" example:"red-van"` // unique in the company
	Name string `json:"name" example:"Red van"`
} //	@name	NewCrew

// A Crew is a group of people who share rigs.
type Crew struct {
	ID      string         `json:"id" format:"uuid"`
	Slug    string         `json:"slug" example:"red-van"`
	Name    string         `json:"name" example:"Red van"`
	Version domain.Version `json:"version" example:"1"` // book version that made it
} //	@name	Crew

func fromCrew(c *domain.Crew) (Crew, error) {
	return Crew{ID: c.ID.String(), Slug: string(c.Slug), Name: c.Name, Version: c.Version}, nil
}

// listCrews lists the crews that the caller may know of.
//
//	@Summary	List crews
//	@Tags		company
//	@Produce	json
//	@Security	bearer
//	@Param		page_size	query		int		false	"items per page, 1 to 200"
//	@Param		after		query		string	false	"next of the page before"
//	@Param		at			query		int		false	"book version to read"
//	@Success	200			{object}	List[Crew]
//	@Success	304			"unchanged"
//	@Failure	401,403,422	{object}	Problem
//	@Router		/v1/crews [get]
func (s *server) listCrews(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, echo.MIMEApplicationJSON); done || err != nil {
		return err
	}
	crews, err := s.use.Crews(c.Request().Context(), r)
	if err != nil {
		return err
	}
	page, err := paged(c, crews, func(x *domain.Crew) string { return string(x.Slug) }, fromCrew)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}

// createCrew adds a crew.
//
//	@Summary	Add a crew
//	@Tags		company
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		Idempotency-Key				header		string	false	"makes the request safe to repeat"
//	@Param		crew						body		NewCrew	true	"the crew"
//	@Success	201							{object}	Crew
//	@Failure	400,401,403,409,413,415,422	{object}	Problem
//	@Router		/v1/crews [post]
func (s *server) createCrew(c echo.Context) error {
	var in NewCrew
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	crew, err := s.use.AddCrew(c.Request().Context(), r, service.NewCrew(in))
	if err != nil {
		return err
	}
	out, _ := fromCrew(crew)
	return created(c, "/v1/crews", crew.Version, out)
}

// A NewKey makes an access key.
type NewKey struct {
	Role  string `json:"role" example:"tech" enums:"reader,tech,editor,admin"`
	Crew  string `json:"crew" validate:"optional" example:"red-van"` // none: a key of the company, in no crew
	Label string `json:"label" validate:"optional" example:"tablet in the red van"`
} //	@name	NewKey

// A Key is an access key without its text.
type Key struct {
	ID        string         `json:"id" format:"uuid"`
	Prefix    string         `json:"prefix" example:"abcd2345"` // the part of its text by which it is known
	Role      string         `json:"role" example:"tech" enums:"reader,tech,editor,admin"`
	Crew      *string        `json:"crew" extensions:"x-nullable" example:"red-van"`
	Label     string         `json:"label" example:"tablet in the red van"`
	CreatedAt time.Time      `json:"created_at" format:"date-time"`
	Revoked   bool           `json:"revoked"`
	Version   domain.Version `json:"version" example:"2"`
} //	@name	Key

// A MadeKey is a new key with its text.
type MadeKey struct {
	Key
	Text string `json:"key" example:"dlb_abcd2345_..."` // shown once, kept nowhere
} //	@name	MadeKey

func (s *server) fromKey(k *domain.Key) Key {
	out := Key{
		ID: k.ID.String(), Prefix: k.Prefix, Role: string(k.Role), Label: k.Label, CreatedAt: k.CreatedAt,
		Revoked: k.Revoked != 0, Version: k.Version,
	}
	if slug, ok := s.use.CrewSlug(k.Crew); ok {
		out.Crew = &slug
	}
	return out
}

// listKeys lists the access keys.
//
//	@Summary	List access keys
//	@Tags		company
//	@Produce	json
//	@Security	bearer
//	@Param		page_size	query		int		false	"items per page, 1 to 200"
//	@Param		after		query		string	false	"next of the page before"
//	@Param		at			query		int		false	"book version to read"
//	@Success	200			{object}	List[Key]
//	@Success	304			"unchanged"
//	@Failure	401,403,422	{object}	Problem
//	@Router		/v1/keys [get]
func (s *server) listKeys(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, echo.MIMEApplicationJSON); done || err != nil {
		return err
	}
	keys, err := s.use.Keys(c.Request().Context(), r)
	if err != nil {
		return err
	}
	page, err := paged(c, keys, func(k *domain.Key) string { return k.Prefix },
		func(k *domain.Key) (Key, error) { return s.fromKey(k), nil })
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}

// createKey makes an access key. Its text is shown this once.
//
//	@Summary	Make an access key
//	@Tags		company
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		Idempotency-Key				header		string	false	"a repeat is answered 409: the text is not kept"
//	@Param		key							body		NewKey	true	"the key"
//	@Success	201							{object}	MadeKey
//	@Failure	400,401,403,409,413,415,422	{object}	Problem
//	@Router		/v1/keys [post]
func (s *server) createKey(c echo.Context) error {
	var in NewKey
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	key, err := s.use.AddKey(c.Request().Context(), r, service.NewKey(in))
	if err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	return created(c, "/v1/keys/"+key.Prefix, key.Version, MadeKey{Key: s.fromKey(&key.Key), Text: key.Text})
}

// deleteKey ends a key at once.
//
//	@Summary	Revoke an access key
//	@Tags		company
//	@Security	bearer
//	@Param		key			path	string	true	"prefix or identifier of the key"
//	@Success	204			"revoked"
//	@Failure	401,403,404	{object}	Problem
//	@Router		/v1/keys/{key} [delete]
func (s *server) deleteKey(c echo.Context) error {
	r, err := writing(c, nil)
	if err != nil {
		return err
	}
	if err := s.use.RevokeKey(c.Request().Context(), r, c.Param("key")); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}
