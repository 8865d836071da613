package api

import (
	"net/http"
	"strconv"
	"strings"

	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// A Latency is what is known of how long a device in a mode delays a signal.
type Latency struct {
	Device       string      `json:"device" example:"cam-a"`
	Mode         string      `json:"mode" example:"1080p2997"`
	Signal       string      `json:"signal" example:"picture" enums:"picture,sound"`
	LatencyMS    *float64    `json:"latency_ms" extensions:"x-nullable" example:"106.8"` // null unless it is determined
	SEMS         *float64    `json:"se_ms" extensions:"x-nullable" example:"4.2"`
	DF           *float64    `json:"df" extensions:"x-nullable" example:"11.3"`     // null: not limited by estimated variances
	CI95         *[2]float64 `json:"ci95" extensions:"x-nullable"`                  // of the model's mean
	Next95       *[2]float64 `json:"next95" extensions:"x-nullable"`                // of a unit never measured, at its next power-up
	Determined   bool        `json:"determined"`                                    // the facts fix it
	OnlyWith     []Term      `json:"only_with"`                                     // latency_ms plus these is what the facts fix
	SumMS        *float64    `json:"sum_ms" extensions:"x-nullable"`                // the latency plus only_with
	SumSEMS      *float64    `json:"sum_se_ms" extensions:"x-nullable"`             //
	Bounds       *[2]float64 `json:"bounds" extensions:"x-nullable"`                // where it must lie, when it is only known with one other
	Measurements int         `json:"measurements" example:"14"`                     // that contain it
	Rigs         int         `json:"rigs" example:"3"`                              //
	Flags        []string    `json:"flags"`                                         //
	Advice       string      `json:"advice" example:"one clap beside it would fix"` // what would determine it; empty if it is
} //	@name	Latency

// A Term is a latency in a sum.
type Term struct {
	Coef   float64 `json:"coef" example:"-1"`
	Device string  `json:"device" example:"mixer-s"`
	Mode   string  `json:"mode" example:"1080p2997"`
	Signal string  `json:"signal" example:"sound"`
} //	@name	Term

func fromLatency(l service.Latency) (Latency, error) {
	out := Latency{
		Device: string(l.Device.Slug), Mode: string(l.Mode.Slug), Signal: string(l.Signal), Determined: l.Determined || l.Direct,
		OnlyWith: []Term{}, Measurements: l.Measurements, Rigs: l.Rigs, Flags: orEmpty(l.Flags), Advice: l.Advice,
	}
	if l.Direct {
		out.LatencyMS, out.SEMS = msPtr(0), msPtr(0)
		out.CI95, out.Next95 = &[2]float64{}, &[2]float64{}
	}
	if e := l.Estimate; e != nil {
		out.LatencyMS, out.SEMS, out.DF, out.CI95 = msPtr(e.ValueMS), msPtr(e.SEMS), finite(e.DF), msPair(e.Interval)
	}
	if l.Next != nil {
		out.Next95 = msPair(l.Next.Interval)
	}
	for _, t := range l.OnlyWith {
		out.OnlyWith = append(out.OnlyWith, Term{Coef: t.Coef, Device: t.Device, Mode: t.Mode, Signal: string(t.Signal)})
	}
	if l.Combination != nil {
		out.SumMS, out.SumSEMS = msPtr(l.Combination.ValueMS), msPtr(l.Combination.SEMS)
	}
	if l.Bounds != nil {
		out.Bounds = msPair(*l.Bounds)
	}
	return out, nil
}

// listLatencies lists the latencies of the catalogue.
//
//	@Summary	List latencies
//	@Tags		catalogue
//	@Produce	json,text/csv
//	@Security	bearer
//	@Param		page_size	query		int		false	"items per page, 1 to 200; CSV has no pages"
//	@Param		after		query		string	false	"next of the page before"
//	@Param		at			query		int		false	"book version to read"
//	@Success	200			{object}	List[Latency]
//	@Success	304			"unchanged"
//	@Failure	401,406,422	{object}	Problem
//	@Router		/v1/latencies [get]
func (s *server) listLatencies(c echo.Context) error {
	return s.latencies(c, func(r service.Request) ([]service.Latency, error) {
		return s.use.Latencies(c.Request().Context(), r)
	})
}

// showLatency shows the latencies of one device, in every mode and signal.
//
//	@Summary	Show the latencies of a device
//	@Tags		catalogue
//	@Produce	json,text/csv
//	@Security	bearer
//	@Param		device			path		string	true	"slug or identifier"
//	@Param		page_size		query		int		false	"items per page, 1 to 200; CSV has no pages"
//	@Param		after			query		string	false	"next of the page before"
//	@Param		at				query		int		false	"book version to read"
//	@Success	200				{object}	List[Latency]
//	@Success	304				"unchanged"
//	@Failure	401,404,406,422	{object}	Problem
//	@Router		/v1/devices/{device}/latency [get]
func (s *server) showLatency(c echo.Context) error {
	return s.latencies(c, func(r service.Request) ([]service.Latency, error) {
		return s.use.LatenciesOf(c.Request().Context(), r, c.Param("device"))
	})
}

func (s *server) latencies(c echo.Context, all func(service.Request) ([]service.Latency, error)) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	media, err := negotiate(c, echo.MIMEApplicationJSON, textCSV)
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, media); done || err != nil {
		return err
	}
	list, err := all(r)
	if err != nil {
		return err
	}
	if media == textCSV {
		return latenciesCSV(c, list)
	}
	page, err := paged(c, list, latencyKey, fromLatency)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}

// latencyKey sorts as the list does: no slug has a character below the slash.
func latencyKey(l service.Latency) string {
	return strings.Join([]string{string(l.Device.Slug), string(l.Mode.Slug), string(l.Signal)}, "\x00")
}

func latenciesCSV(c echo.Context, list []service.Latency) error {
	t := newTable("device", "mode", "signal", "latency_ms", "se_ms", "df", "ci95_low", "ci95_high", "next95_low", "next95_high",
		"determined", "measurements", "rigs", "flags")
	for _, l := range list {
		out, _ := fromLatency(l)
		t.row(word(out.Device), word(out.Mode), word(out.Signal), num(out.LatencyMS), num(out.SEMS), num(out.DF),
			low(out.CI95), high(out.CI95), low(out.Next95), high(out.Next95), strconv.FormatBool(out.Determined),
			strconv.Itoa(out.Measurements), strconv.Itoa(out.Rigs), word(strings.Join(out.Flags, " ")))
	}
	return t.send(c)
}
