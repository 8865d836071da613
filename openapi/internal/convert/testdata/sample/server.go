// Package sample is a handler set in small: its comments use each thing that the conversion has to repair.
// sample.swagger.json beside this folder is what swag 1.16.6 makes of it; the first lines of the test say how.
package sample

import (
	"net/http"
	"time"
)

// Server answers for the sample.
//
//	@title						delaybook sample
//	@version					1
//	@securityDefinitions.apikey	Bearer
//	@in							header
//	@name						Authorization
//	@securityDefinitions.apikey	Session
//	@in							cookie
//	@name						__Host-session
type Server struct{}

// Rig is what the book knows of a rig.
type Rig struct {
	Slug     string     `json:"slug" example:"harbour-hall"`
	JobDate  *time.Time `json:"job_date" example:"2026-11-20T18:04:00+01:00" extensions:"x-nullable"`
	OffsetMS *float64   `json:"offset_ms" example:"200.20" extensions:"x-nullable"`
	State    State      `json:"state" example:"ok"`
	Check    *Check     `json:"check" extensions:"x-nullable"`
	Name     string     `json:"name,omitempty" validate:"optional" example:""`
} // @name Rig

// State is what the plan can promise.
type State string

// States.
const (
	OK     State = "ok"
	Unsure State = "unsure"
)

// Check is the answer to a measurement made with the plan dialled in.
type Check struct {
	Inside bool      `json:"inside"`
	At     time.Time `json:"at" format:"date-time"`
} // @name Check

// Problem is an error as RFC 9457 describes it.
type Problem struct {
	Title  string `json:"title" example:"Not found"`
	Status int    `json:"status" example:"404"`
} // @name Problem

// Delays answers the plan of a rig.
//
//	@Summary	The plan of a rig
//	@Tags		plan
//	@Produce	json
//	@Produce	plain
//	@Produce	text/csv
//	@Param		rig		path		string	true	"rig"
//	@Param		since	query		string	false	"instant"	example(2026-11-20T18:04:00+01:00)
//	@Success	200		{object}	Rig
//	@Success	304
//	@Failure	404		{object}	Problem
//	@Failure	429
//	@Security	Bearer
//	@Router		/v1/rigs/{rig}/delays [get]
func (Server) Delays(http.ResponseWriter, *http.Request) {}

// Create makes a rig.
//
//	@Summary	Make a rig
//	@Tags		rigs
//	@Accept		json
//	@Produce	json
//	@Produce	application/problem+json
//	@Param		rig	body		Rig	true	"rig"
//	@Success	201	{object}	Rig
//	@Failure	409	{object}	Problem
//	@Security	Bearer
//	@Router		/v1/rigs [post]
func (Server) Create(http.ResponseWriter, *http.Request) {}

// Health tells that the process answers.
//
//	@Summary	Is the process up?
//	@Produce	plain
//	@Success	200	{string}	string
//	@Router		/healthz [get]
func (Server) Health(http.ResponseWriter, *http.Request) {}
