package api

import (
	"net/http"
	"time"

	"delaybook/api/pages"
	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// A NewJoinLink makes a link to join a crew.
type NewJoinLink struct {
	Crew  string `json:"crew,omitempty" validate:"optional" example:"red-van"`              // slug; without it the crew of the key
	Label string `json:"label,omitempty" validate:"optional" example:"stage hands tonight"` // what it is for
	Hours int    `json:"hours,omitempty" validate:"optional" example:"12"`                  // how long one can join with it, 1 to 168; default 12
	Once  bool   `json:"once,omitempty" validate:"optional"`                                // it ends when the first person joined
} //	@name	NewJoinLink

// A JoinLink lets whoever opens it become a tech of a crew.
type JoinLink struct {
	ID        string         `json:"id" format:"uuid"`
	URL       string         `json:"url" example:"https://book.example/join?link=dlj_k3tq5ovd_x"` // shown this once
	Crew      string         `json:"crew" example:"red-van"`
	Label     string         `json:"label" example:"stage hands tonight"`
	ExpiresAt time.Time      `json:"expires_at" format:"date-time"`
	Once      bool           `json:"once"`
	Version   domain.Version `json:"version" example:"12"`
} //	@name	JoinLink

// An Access is a link or a session in use.
type Access struct {
	ID        string         `json:"id" format:"uuid"`
	Purpose   string         `json:"purpose" example:"session" enums:"link,session"`
	Crew      *string        `json:"crew" extensions:"x-nullable" example:"red-van"`
	Role      string         `json:"role" example:"tech" enums:"reader,tech,editor,admin"`
	Label     string         `json:"label" example:"Sam Winter"` // of a session: who
	CreatedAt time.Time      `json:"created_at" format:"date-time"`
	ExpiresAt time.Time      `json:"expires_at" format:"date-time"`
	Version   domain.Version `json:"version" example:"12"`
} //	@name	Access

func (s *server) fromAccess(k *domain.Key) (Access, error) {
	out := Access{
		ID: k.ID.String(), Purpose: string(k.Purpose), Role: string(k.Role), Label: k.Label,
		CreatedAt: k.CreatedAt, ExpiresAt: k.ExpiresAt, Version: k.Version,
	}
	if slug, ok := s.use.CrewSlug(k.Crew); ok {
		out.Crew = &slug
	}
	return out, nil
}

// createJoinLink makes a link to join a crew.
//
//	@Summary		Make a link to join a crew
//	@Description	Whoever opens the link and says a name becomes a tech of the crew on that device for two weeks.
//	@Description	The address holds the secret: it is answered this once and kept nowhere.
//	@Tags			company
//	@Accept			json
//	@Produce		json
//	@Security		bearer
//	@Param			Idempotency-Key				header		string		false	"makes the request safe to repeat"
//	@Param			link						body		NewJoinLink	true	"link"
//	@Success		201							{object}	JoinLink
//	@Failure		400,401,403,409,413,415,422	{object}	Problem
//	@Router			/v1/join-links [post]
func (s *server) createJoinLink(c echo.Context) error {
	var in NewJoinLink
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	made, err := s.use.AddJoinLink(c.Request().Context(), r, service.NewJoinLink(in))
	if err != nil {
		return err
	}
	crew, _ := s.use.CrewSlug(made.Crew)
	c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	return created(c, "/v1/access/"+made.ID.String(), made.Version, JoinLink{
		ID: made.ID.String(), URL: pages.JoinAddress(s.public, made.Text), Crew: crew, Label: made.Label,
		ExpiresAt: made.ExpiresAt, Once: made.Once, Version: made.Version,
	})
}

// listAccess lists the links and sessions in use.
//
//	@Summary	List links to join and sessions in use
//	@Tags		company
//	@Produce	json
//	@Security	bearer
//	@Param		page_size		query		int		false	"items per page, 1 to 200"
//	@Param		after			query		string	false	"cursor of the page before"
//	@Param		at				query		int		false	"book version to read"
//	@Success	200				{object}	List[Access]
//	@Failure	401,403,409,422	{object}	Problem
//	@Router		/v1/access [get]
func (s *server) listAccess(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	all, err := s.use.Access(c.Request().Context(), r)
	if err != nil {
		return err
	}
	page, err := paged(c, all, func(k *domain.Key) string { return newestFirst(k.Version, k.ID.UUID) }, s.fromAccess)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}

// deleteAccess ends a link or a session at once.
//
//	@Summary	End a link to join or a session
//	@Tags		company
//	@Security	bearer
//	@Param		id			path	string	true	"identifier"
//	@Success	204			"ended"
//	@Failure	401,403,404	{object}	Problem
//	@Router		/v1/access/{id} [delete]
func (s *server) deleteAccess(c echo.Context) error {
	r, err := writing(c, nil)
	if err != nil {
		return err
	}
	if err := s.use.EndAccess(c.Request().Context(), r, c.Param("id")); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}
