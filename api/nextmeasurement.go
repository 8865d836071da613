package api

import (
	"net/http"

	"delaybook/domain"

	"github.com/labstack/echo/v4"
)

// NextMeasurements says what to measure next.
type NextMeasurements struct {
	Rig         string         `json:"rig" example:"harbour-hall"`
	BookVersion domain.Version `json:"book_version" example:"1841"`
	For         *PairName      `json:"for" extensions:"x-nullable"` // the pair that is least sure; null if all is known
	Candidates  []Candidate    `json:"candidates"`                  // best first; empty when nothing would help
} //	@name	NextMeasurements

// A PairName names a pair at a destination.
type PairName struct {
	Picture     string `json:"picture" example:"cam-1"`
	Sound       string `json:"sound" example:"lectern"`
	Destination string `json:"destination" example:"programme"`
} //	@name	PairName

// A Candidate is a measurement that would narrow the offset.
type Candidate struct {
	Kind        string  `json:"kind" example:"clap"`
	Rig         string  `json:"rig" example:"red-van.harbour-hall"`
	First       string  `json:"first" example:"cam-1"`
	Second      string  `json:"second" example:"lectern"`
	Destination string  `json:"destination" example:"programme"`
	Method      string  `json:"method" example:"clap" enums:"eye,clip,tracks,clap"`
	NewPowerUp  bool    `json:"new_power_up"`
	SEMS        float64 `json:"se_ms" example:"3.9"`         // standard error of the offset afterwards
	Next95Half  float64 `json:"next95_half_ms" example:"18"` // half-width of next95 afterwards
	GainPercent float64 `json:"gain_percent" example:"22"`   // by how much next95 shrinks
	Why         string  `json:"why" example:"a clap shows no card: its own offset drops out"`
} //	@name	Candidate

// showNextMeasurement says which measurement would help most.
//
//	@Summary	Show the most useful next measurement
//	@Tags		answers
//	@Produce	json
//	@Security	bearer
//	@Param		rig				path		string	true	"slug, CREW.SLUG or identifier"
//	@Param		at				query		int		false	"book version to read"
//	@Success	200				{object}	NextMeasurements
//	@Success	304				"unchanged"
//	@Failure	401,404,409,422	{object}	Problem
//	@Router		/v1/rigs/{rig}/next-measurement [get]
func (s *server) showNextMeasurement(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, echo.MIMEApplicationJSON); done || err != nil {
		return err
	}
	rig, next, err := s.use.NextMeasurements(c.Request().Context(), r, c.Param("rig"))
	if err != nil {
		return err
	}
	out := NextMeasurements{Rig: string(rig.Slug), BookVersion: rig.Book.Version(), Candidates: []Candidate{}}
	for _, n := range next {
		out.For = &PairName{Picture: string(n.For.Picture), Sound: string(n.For.Sound), Destination: string(n.For.Destination)}
		out.Candidates = append(out.Candidates, Candidate{
			Kind: string(n.Kind), Rig: n.Rig, First: n.First, Second: n.Second, Destination: n.Destination, Method: string(n.Method),
			NewPowerUp: n.NewPowerUp, SEMS: ms(n.SEMS), Next95Half: ms(n.NextHalfWidthMS), GainPercent: ms(n.GainPercent), Why: n.Why,
		})
	}
	return answer(c, http.StatusOK, out)
}
