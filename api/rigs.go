package api

import (
	"net/http"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// A NewRig describes a rig. With from it begins as a clone of another rig, and
// only what differs need be given.
type NewRig struct {
	From         string           `json:"from" validate:"optional" example:"harbour-hall"` // a rig to clone
	Slug         string           `json:"slug" example:"harbour-hall"`                     // unique in the crew
	Name         string           `json:"name" validate:"optional" example:"Harbour Hall"` // of a clone, default that of its origin
	Crew         string           `json:"crew" validate:"optional" example:"red-van"`      // default the crew of the key
	Visibility   visibility       `json:"visibility" validate:"optional" swaggertype:"string" example:"crew"`
	JobDate      *string          `json:"job_date" validate:"optional" extensions:"x-nullable" format:"date"`
	Notes        string           `json:"notes" validate:"optional"`
	FrameRate    rateText         `json:"frame_rate" validate:"optional" swaggertype:"string" example:"29.97"` // of a clone without chains, default that of its origin
	Chains       []NewChain       `json:"chains" validate:"optional"`
	Destinations []NewDestination `json:"destinations" validate:"optional"` // default one, programme
	Feeds        []NewFeed        `json:"feeds" validate:"optional"`
	Pairs        []NewPair        `json:"pairs" validate:"optional"` // default all of one subject at every destination, hard

	// What a rig shows besides, so that what was read can be sent back. It is not looked at.
	ID             *string         `json:"id" validate:"optional" extensions:"x-nullable"`
	FrameRateLabel *string         `json:"frame_rate_label" validate:"optional" extensions:"x-nullable"`
	Revision       *int            `json:"revision" validate:"optional" extensions:"x-nullable"`
	RevisedAt      *time.Time      `json:"revised_at" format:"date-time" validate:"optional" extensions:"x-nullable"`
	State          *string         `json:"state" validate:"optional" extensions:"x-nullable"`
	Version        *domain.Version `json:"version" validate:"optional" extensions:"x-nullable"`
} //	@name	NewRig

func (in NewRig) toService() service.NewRig {
	out := service.NewRig{
		From: in.From, Slug: in.Slug, Name: in.Name, Crew: in.Crew, Visibility: in.Visibility.word, VisibleTo: in.Visibility.crews,
		JobDate: text(in.JobDate), Notes: in.Notes, FrameRate: string(in.FrameRate),
		GivenLayout: in.FrameRate != "" || in.Chains != nil || in.Destinations != nil || in.Feeds != nil || in.Pairs != nil,
	}
	for _, x := range in.Chains {
		out.Chains = append(out.Chains, x.toService())
	}
	for _, x := range in.Destinations {
		out.Destinations = append(out.Destinations, x.toService())
	}
	for _, x := range in.Feeds {
		out.Feeds = append(out.Feeds, service.NewFeed(x))
	}
	for _, x := range in.Pairs {
		out.Pairs = append(out.Pairs, service.NewPair(x))
	}
	return out
}

// A Rig is the equipment of one job as it is connected.
type Rig struct {
	ID         string         `json:"id" format:"uuid"`
	Slug       string         `json:"slug" example:"harbour-hall"`
	Name       string         `json:"name" example:"Harbour Hall"`
	Crew       string         `json:"crew" example:"red-van"`
	Visibility visibility     `json:"visibility" swaggertype:"string" example:"crew"`
	JobDate    *string        `json:"job_date" extensions:"x-nullable" format:"date"`
	Notes      string         `json:"notes"`
	Revision   int            `json:"revision" example:"3"`
	RevisedAt  time.Time      `json:"revised_at" format:"date-time"`
	Version    domain.Version `json:"version" example:"27"` // book version that last changed the rig
	Layout
} //	@name	Rig

func fromRig(v service.RigView) Rig {
	out := Rig{
		ID: v.ID.String(), Slug: string(v.Slug), Name: v.Name, Crew: string(v.CrewSlug), Notes: v.Notes,
		Visibility: visibility{word: string(v.Visibility)}, Revision: v.Shown.Number, RevisedAt: v.Shown.At, Version: v.Version,
		Layout: fromLayout(v.Book, &v.Shown.Layout),
	}
	for _, slug := range v.VisibleTo {
		out.Visibility.crews = append(out.Visibility.crews, string(slug))
	}
	if v.JobDate != "" {
		out.JobDate = &v.JobDate
	}
	return out
}

// A RigSummary is a rig in a list.
type RigSummary struct {
	ID       string         `json:"id" format:"uuid"`
	Slug     string         `json:"slug" example:"harbour-hall"`
	Name     string         `json:"name" example:"Harbour Hall"`
	Crew     string         `json:"crew" example:"red-van"`
	JobDate  *string        `json:"job_date" extensions:"x-nullable" format:"date"`
	Revision int            `json:"revision" example:"3"`
	State    string         `json:"state" example:"inside" enums:"inside,outside,undecided,never-checked,stale"`
	Version  domain.Version `json:"version" example:"27"`
} //	@name	RigSummary

// listRigs lists the rigs that the caller may see.
//
//	@Summary	List rigs
//	@Tags		rigs
//	@Produce	json
//	@Security	bearer
//	@Param		state		query		string	false	"only rigs in this state"	Enums(inside,outside,undecided,never-checked,stale)
//	@Param		crew		query		string	false	"only rigs of this crew"
//	@Param		page_size	query		int		false	"items per page, 1 to 200"
//	@Param		after		query		string	false	"next of the page before"
//	@Param		at			query		int		false	"book version to read"
//	@Success	200			{object}	List[RigSummary]
//	@Success	304			"unchanged"
//	@Failure	401,403,422	{object}	Problem
//	@Router		/v1/rigs [get]
func (s *server) listRigs(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, echo.MIMEApplicationJSON); done || err != nil {
		return err
	}
	rigs, err := s.use.Rigs(c.Request().Context(), r, c.QueryParam("crew"), c.QueryParam("state"))
	if err != nil {
		return err
	}
	page, err := paged(c, rigs, func(v service.RigInState) string { return v.ID.String() },
		func(v service.RigInState) (RigSummary, error) {
			state, err := v.State(c.Request().Context())
			full := fromRig(v.RigView)
			return RigSummary{
				ID: full.ID, Slug: full.Slug, Name: full.Name, Crew: full.Crew, JobDate: full.JobDate,
				Revision: full.Revision, State: string(state), Version: full.Version,
			}, err
		})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}

// createRig adds a rig.
//
//	@Summary	Add a rig
//	@Tags		rigs
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		Idempotency-Key				header		string	false	"makes the request safe to repeat"
//	@Param		rig							body		NewRig	true	"the rig"
//	@Success	201							{object}	Rig
//	@Failure	400,401,403,409,413,415,422	{object}	Problem
//	@Router		/v1/rigs [post]
func (s *server) createRig(c echo.Context) error {
	var in NewRig
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	v, err := s.use.AddRig(c.Request().Context(), r, in.toService())
	if err != nil {
		return err
	}
	return created(c, "/v1/rigs/"+string(v.CrewSlug)+"."+string(v.Slug), v.Version, fromRig(v))
}

// showRig shows a rig at its latest revision.
//
//	@Summary	Show a rig
//	@Tags		rigs
//	@Produce	json
//	@Security	bearer
//	@Param		rig				path		string	true	"slug, CREW.SLUG or identifier"
//	@Param		at				query		int		false	"book version to read"
//	@Success	200				{object}	Rig
//	@Success	304				"unchanged"
//	@Failure	401,404,409,422	{object}	Problem
//	@Router		/v1/rigs/{rig} [get]
func (s *server) showRig(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	v, err := s.use.Rig(c.Request().Context(), r, c.Param("rig"))
	if err != nil {
		return err
	}
	if done, err := unchangedStored(c, v.Version); done || err != nil {
		return err
	}
	return stored(c, v.Version, fromRig(v))
}

// replaceRig replaces a rig; a changed layout makes a revision.
//
//	@Summary	Replace a rig
//	@Tags		rigs
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		rig										path		string	true	"slug, CREW.SLUG or identifier"
//	@Param		If-Match								header		string	true	"ETag of the copy that is replaced, or *"
//	@Param		Idempotency-Key							header		string	false	"makes the request safe to repeat"
//	@Param		body									body		NewRig	true	"the whole rig"
//	@Success	200										{object}	Rig
//	@Failure	400,401,403,404,409,412,413,415,422,428	{object}	Problem
//	@Router		/v1/rigs/{rig} [put]
func (s *server) replaceRig(c echo.Context) error {
	var in NewRig
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	v, err := s.use.ReplaceRig(c.Request().Context(), r, c.Param("rig"), ifMatch(c), in.toService())
	if err != nil {
		return err
	}
	return stored(c, v.Version, fromRig(v))
}

// deleteRig takes a rig out of every list; what was measured on it stays known.
//
//	@Summary	Delete a rig
//	@Tags		rigs
//	@Security	bearer
//	@Param		rig						path	string	true	"slug, CREW.SLUG or identifier"
//	@Param		If-Match				header	string	true	"ETag of the copy that is deleted, or *"
//	@Success	204						"deleted"
//	@Failure	401,403,404,409,412,428	{object}	Problem
//	@Router		/v1/rigs/{rig} [delete]
func (s *server) deleteRig(c echo.Context) error {
	r, err := writing(c, nil)
	if err != nil {
		return err
	}
	if err := s.use.DeleteRig(c.Request().Context(), r, c.Param("rig"), ifMatch(c)); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

// A Revision is the layout of a rig from one moment on.
type Revision struct {
	Revision int            `json:"revision" example:"2"`
	At       time.Time      `json:"at" format:"date-time"`
	By       string         `json:"by" example:"Red van, lead technician"`
	Version  domain.Version `json:"version" example:"27"`
	Layout
} //	@name	Revision

// listRevisions lists the revisions of a rig, oldest first.
//
//	@Summary	List the revisions of a rig
//	@Tags		rigs
//	@Produce	json
//	@Security	bearer
//	@Param		rig				path		string	true	"slug, CREW.SLUG or identifier"
//	@Param		page_size		query		int		false	"items per page, 1 to 200"
//	@Param		after			query		string	false	"next of the page before"
//	@Param		at				query		int		false	"book version to read"
//	@Success	200				{object}	List[Revision]
//	@Success	304				"unchanged"
//	@Failure	401,404,409,422	{object}	Problem
//	@Router		/v1/rigs/{rig}/revisions [get]
func (s *server) listRevisions(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	v, err := s.use.Rig(c.Request().Context(), r, c.Param("rig"))
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, echo.MIMEApplicationJSON); done || err != nil {
		return err
	}
	page, err := paged(c, v.Revisions, func(x domain.Revision) string { return ascending(domain.Version(x.Number)) },
		func(x domain.Revision) (Revision, error) {
			return Revision{
				Revision: x.Number, At: x.At, By: s.use.KeyLabel(x.By), Version: x.Version, Layout: fromLayout(v.Book, &x.Layout),
			}, nil
		})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}
