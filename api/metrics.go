package api

import (
	"errors"
	"net/http"
	"strconv"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// metrics are what the service says of itself in numbers.
type metrics struct {
	handler  http.Handler
	requests *prometheus.HistogramVec
}

func newMetrics(use *service.Service) *metrics {
	m := &metrics{requests: prometheus.NewHistogramVec(prometheus.HistogramOpts{
		Name: "delaybook_request_seconds", Help: "How long requests took, by method, path and status.",
		Buckets: prometheus.ExponentialBuckets(0.0005, 4, 8),
	}, []string{"method", "path", "status"})}
	registry := prometheus.NewRegistry()
	registry.MustRegister(m.requests, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}),
		prometheus.NewGaugeFunc(prometheus.GaugeOpts{
			Name: "delaybook_book_version", Help: "The version of the book.",
		}, func() float64 { return float64(use.Version()) }))
	m.handler = promhttp.HandlerFor(registry, promhttp.HandlerOpts{})
	return m
}

// showMetrics shows the metrics in the text form of the trade's collectors.
//
//	@Summary	Metrics of the service
//	@Tags		operation
//	@Produce	text/plain
//	@Security	bearer
//	@Success	200		{string}	string
//	@Failure	401,403	{object}	Problem
//	@Router		/metrics [get]
func (s *server) showMetrics(c echo.Context) error {
	if !caller(c).Role.Valid() {
		return domain.Errorf(domain.Denied, "This needs a key.")
	}
	s.metrics.handler.ServeHTTP(c.Response(), c.Request())
	return nil
}

// observe counts and logs every request. Keys, bodies and query strings stay
// out of the log.
func (s *server) observe(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		begin := s.now()
		err := next(c)
		if err != nil {
			c.Error(err) // so that the status is known here
		}
		took := s.now().Sub(begin)
		path := c.Path()
		if e, ok := errors.AsType[*echo.HTTPError](err); ok && e.Code == http.StatusNotFound {
			path = "" // a made-up path must not make a new series
		}
		status := c.Response().Status
		s.metrics.requests.WithLabelValues(methodLabel(c.Request().Method), path, strconv.Itoa(status)).Observe(took.Seconds())
		s.log.InfoContext(c.Request().Context(), "request", "method", c.Request().Method, "path", path, "status", status, "took", took)
		return nil
	}
}

// methodLabel is the method of a series: a made-up one must not make a new series.
func methodLabel(method string) string {
	switch method {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions:
		return method
	}
	return "other"
}
